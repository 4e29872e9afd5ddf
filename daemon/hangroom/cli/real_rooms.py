"""From the settings to real sensors and relays."""

from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager

from hangroom.hardware.dht22 import Dht22, Pace
from hangroom.hardware.factory import lgpio_factory
from hangroom.hardware.relays import GpioRelay, LoanKeeper
from hangroom.loop import WiredRoom
from hangroom.ports import Clock
from hangroom.settings import RoomTable, Settings
from hangroom.terms import RelayKind


@contextmanager
def real_rooms(settings: Settings, clock: Clock) -> Iterator[Mapping[str, WiredRoom]]:
    """Open every pin of the settings, and let go of all of them in the end, relays open.

    Raises HardwareError where a pin or its library cannot be used; what was opened is let go.
    """
    with ExitStack() as stack:
        relays = _relays(settings, clock, stack)
        every_relay = [relay for room in relays.values() for relay in room.values()]
        stack.enter_context(LoanKeeper(every_relay))
        yield {
            name: _wired(name, room, relays[name], clock, stack)
            for name, room in settings.room.items()
        }


def _relays(
    settings: Settings, clock: Clock, stack: ExitStack
) -> dict[str, dict[RelayKind, GpioRelay]]:
    factory = lgpio_factory()
    relays: dict[str, dict[RelayKind, GpioRelay]] = {}
    for room_name, room in settings.room.items():
        relays[room_name] = {}
        for relay_name, table in room.relay.items():
            relay = GpioRelay(
                name=f"{room_name}.{relay_name}",
                pin=table.pin,
                active_high=table.active_high,
                factory=factory,
                clock=clock,
            )
            stack.callback(relay.close_down)
            relays[room_name][table.switches()] = relay
    return relays


def _wired(
    name: str,
    room: RoomTable,
    relays: Mapping[RelayKind, GpioRelay],
    clock: Clock,
    stack: ExitStack,
) -> WiredRoom:
    sensors = {}
    for sensor_name, sensor in room.sensor.items():
        sensors[sensor_name] = Dht22(
            name=sensor_name,
            pin=sensor.pin,
            clock=clock,
            pace=Pace(read_every_s=sensor.read_every_s),
        )
        stack.callback(sensors[sensor_name].close)
    return WiredRoom(
        plan=room.plan(name),
        sensors=sensors,
        read_every_s={key: sensor.read_every_s for key, sensor in room.sensor.items()},
        relays=relays,
    )
