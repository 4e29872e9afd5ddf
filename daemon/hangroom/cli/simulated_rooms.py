"""From a room's settings to simulated parts, for the demo and for rehearsals alike."""

from hangroom.ports import Clock
from hangroom.settings import OutsideTable, RoomTable
from hangroom.simulation.ambient import Ambient
from hangroom.simulation.house import SimulatedRoom
from hangroom.simulation.outside import SimulatedOutside
from hangroom.simulation.sensor import SensorSpec
from hangroom.wired import WiredRoom


def sensors_of(table: RoomTable | OutsideTable) -> dict[str, SensorSpec]:
    """Return the table's sensors, each healthy and read as often as the settings say."""
    return {
        name: SensorSpec(interval_s=sensor.read_every_s) for name, sensor in table.sensor.items()
    }


def outside(
    table: OutsideTable | None, *, clock: Clock, ambient: Ambient, seed: int
) -> SimulatedOutside:
    """Return the sensors in the air that the rooms breathe; none where none are asked for."""
    sensors = sensors_of(table) if table else {}
    return SimulatedOutside(sensors, clock=clock, ambient=ambient, seed=seed)


def wired(room: SimulatedRoom, table: RoomTable, outside: OutsideTable | None = None) -> WiredRoom:
    """Return a simulated room as the loop takes it."""
    return WiredRoom(
        plan=table.plan(room.name, outside),
        sensors={sensor.name: sensor for sensor in room.sensors},
        read_every_s={name: sensor.read_every_s for name, sensor in table.sensor.items()},
        relays=room.relays,
    )
