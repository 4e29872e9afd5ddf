"""`hangroom check`: what the settings mean, or everything that is wrong with them."""

import argparse
from collections.abc import Iterator, Mapping

from hangroom.errors import SettingsError
from hangroom.notices.channels import read_channels
from hangroom.notices.sending import Carrier
from hangroom.sensor_kinds import Driver
from hangroom.settings import SensorTable, Settings, read_settings
from hangroom.settings.bell import BellTable
from hangroom.terms import RelayRules


def run(given: argparse.Namespace) -> int:
    """Read the settings, say in words what they ask for, touch nothing."""
    settings = read_settings(given.settings)
    _check_channels(settings)
    print(f"{given.settings} is in order. It asks for:")
    for line in described(settings):
        print(f"  {line}")
    return 0


def _check_channels(settings: Settings) -> None:
    """Name every channel that nothing could be sent on, all at once; SettingsError."""
    file = settings.notices.channels_file
    if file is None:
        return
    addresses, carrier = read_channels(file), Carrier()
    faults = {
        channel.name: carrier.check(addresses.secrets[channel.name]).why
        for channel in addresses.channels
    }
    if any(faults.values()):
        raise SettingsError(
            [f"{file}: channel {name!r}: {why}" for name, why in faults.items() if why]
        )


def described(settings: Settings) -> list[str]:
    """Return one line per room, sensor and relay, for the keeper to compare with the wiring."""
    lines = []
    for name, room in settings.room.items():
        lines.append(f"{room.title} ({name}), stage {room.stage}")
        if room.humidity:
            h = room.humidity
            lines.append(
                f"  humidity {h.setpoint_pct:g} +-{h.band_pct:g} %, "
                f"never below {h.low_limit_pct:g} or above {h.high_limit_pct:g} % by our doing"
            )
        if room.temperature:
            t = room.temperature
            lines.append(
                f"  temperature {t.setpoint_c:g} +-{t.band_c:g} degC, "
                f"limits {t.low_limit_c:g} and {t.high_limit_c:g} degC"
            )
        lines += _sensors(room.sensor)
        for relay_name, relay in room.relay.items():
            rules = relay.rules()
            level = "high" if relay.active_high else "low"
            lines.append(
                f"  relay {relay_name}: {relay.switches()} on GPIO {relay.pin}, closed by {level}, "
                f"at least {rules.min_on_s:g} s on and {rules.min_off_s:g} s off"
                + "".join(f", at most {limit}" for limit in _most(rules))
            )
    lines += _notices(settings)
    if settings.outside:
        lines.append("the air outside")
        lines += _sensors(settings.outside.sensor)
        estimate = settings.outside.estimate()
        if estimate:
            lines.append(
                f"  taken for {estimate.temperature_c:g} degC and {estimate.humidity_pct:g} % "
                "while no sensor there tells"
            )
    if settings.bell:
        lines += _bell(settings.bell)
    return lines


def _bell(table: BellTable) -> Iterator[str]:
    yield f"a bell at the rooms, for alarms of priority {table.least} and above"
    for name, part in (("buzzer", table.buzzer), ("lamp", table.lamp)):
        if part is not None:
            yield f"  {name} on GPIO {part.pin}, on by {'high' if part.active_high else 'low'}"
    if table.button is not None:
        yield f"  button from GPIO {table.button.pin} to ground: acknowledges what it tells of"


def _notices(settings: Settings) -> Iterator[str]:
    file = settings.notices.channels_file
    if file is None:
        yield "notices: none, as no channels_file is set; alarms show on the page only"
        return
    yield "notices, each only as far as its channel wants them"
    for channel in read_channels(file).channels:
        yield f"  {channel.name}: by {channel.scheme}, {channel.least} and above"
    quiet = settings.notices.quiet_hours()
    if quiet:
        yield f"  quiet from {quiet[0]:%H:%M} to {quiet[1]:%H:%M} but for what is high"


def _sensors(tables: Mapping[str, SensorTable]) -> list[str]:
    return [
        f"  sensor {name}: {table.kind} on {table.place()}, read every {table.read_every_s:g} s"
        + (" through the kernel's files" if table.read_by() is Driver.KERNEL else "")
        for name, table in tables.items()
    ]


def _most(rules: RelayRules) -> Iterator[str]:
    if rules.max_run_s is not None:
        yield f"{rules.max_run_s:g} s on"
    if rules.max_on_s_per_h is not None:
        yield f"{rules.max_on_s_per_h:g} s on in an hour"
    if rules.max_starts_per_h is not None:
        yield f"{rules.max_starts_per_h} starts in an hour"
