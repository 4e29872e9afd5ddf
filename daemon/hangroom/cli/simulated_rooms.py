"""From a room's settings to simulated parts, for the demo and for rehearsals alike."""

from hangroom.loop import WiredRoom
from hangroom.settings import RoomTable
from hangroom.simulation.house import SimulatedRoom
from hangroom.simulation.sensor import SensorSpec


def sensors_of(table: RoomTable) -> dict[str, SensorSpec]:
    """Return the room's sensors, each healthy and read as often as the settings say."""
    return {
        name: SensorSpec(interval_s=sensor.read_every_s) for name, sensor in table.sensor.items()
    }


def wired(room: SimulatedRoom, table: RoomTable) -> WiredRoom:
    """Return a simulated room as the loop takes it."""
    return WiredRoom(
        plan=table.plan(room.name),
        sensors={sensor.name: sensor for sensor in room.sensors},
        read_every_s={name: sensor.read_every_s for name, sensor in table.sensor.items()},
        relays=room.relays,
    )
