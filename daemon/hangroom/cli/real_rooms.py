"""From the settings to real sensors and relays."""

import logging
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager

from hangroom.errors import HardwareError
from hangroom.hardware.air_sensors import open_air_sensor
from hangroom.hardware.bell import GpioBell, NoBell
from hangroom.hardware.factory import lgpio_factory
from hangroom.hardware.relays import GpioRelay, LoanKeeper
from hangroom.ports import AirSensor, Bell, Clock
from hangroom.settings import SensorTable, Settings
from hangroom.terms import RelayKind
from hangroom.wired import WiredRoom

_log = logging.getLogger(__name__)


@contextmanager
def real_rooms(settings: Settings, clock: Clock) -> Iterator[Mapping[str, WiredRoom]]:
    """Open every pin of the settings, and let go of all of them in the end, relays open.

    Raises HardwareError where a pin or its library cannot be used; what was opened is let go.
    """
    with ExitStack() as stack:
        relays = _relays(settings, clock, stack)
        every_relay = [relay for room in relays.values() for relay in room.values()]
        stack.enter_context(LoanKeeper(every_relay))
        yield {name: _wired(name, settings, relays[name], clock, stack) for name in settings.room}


@contextmanager
def real_outside(settings: Settings, clock: Clock) -> Iterator[Mapping[str, AirSensor]]:
    """Open the sensors in the air outside, and let go of them in the end.

    Raises HardwareError where a pin or its library cannot be used.
    """
    with ExitStack() as stack:
        tables = settings.outside.sensor if settings.outside else {}
        yield _sensors(tables, clock, stack)


@contextmanager
def real_bell(settings: Settings, clock: Clock) -> Iterator[Bell | None]:
    """Open the bell, silent, and let go of it in the end; None where the settings name none.

    One that cannot be had raises nothing: the rooms are run without it, and the page says why.
    """
    table = settings.bell
    if table is None:
        yield None
        return
    try:
        bell = GpioBell(
            buzzer=table.buzzer.wiring() if table.buzzer else None,
            lamp=table.lamp.wiring() if table.lamp else None,
            button=table.button.pin if table.button else None,
            factory=lgpio_factory(),
            clock=clock,
        )
    except HardwareError as fault:
        why = str(fault)
    else:
        with bell:
            yield bell
        return
    _log.error("%s", why)
    yield NoBell(why)


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
    settings: Settings,
    relays: Mapping[RelayKind, GpioRelay],
    clock: Clock,
    stack: ExitStack,
) -> WiredRoom:
    room = settings.room[name]
    return WiredRoom(
        plan=room.plan(name, settings.outside),
        sensors=_sensors(room.sensor, clock, stack),
        read_every_s={key: sensor.read_every_s for key, sensor in room.sensor.items()},
        relays=relays,
    )


def _sensors(
    tables: Mapping[str, SensorTable], clock: Clock, stack: ExitStack
) -> dict[str, AirSensor]:
    sensors: dict[str, AirSensor] = {}
    for name, table in tables.items():
        sensors[name] = open_air_sensor(
            name=name,
            kind=table.kind,
            driver=table.read_by(),
            place=table.place_numbers(),
            read_every_s=table.read_every_s,
            clock=clock,
        )
        stack.callback(sensors[name].close)
    return sensors
