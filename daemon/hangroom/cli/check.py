"""`hangroom check`: what the settings mean, or everything that is wrong with them."""

import argparse
from collections.abc import Iterator, Mapping

from hangroom.settings import SensorTable, Settings, read_settings
from hangroom.terms import RelayRules


def run(given: argparse.Namespace) -> int:
    """Read the settings, say in words what they ask for, touch nothing."""
    settings = read_settings(given.settings)
    print(f"{given.settings} is in order. It asks for:")
    for line in described(settings):
        print(f"  {line}")
    return 0


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
    if settings.outside:
        lines.append("the air outside")
        lines += _sensors(settings.outside.sensor)
        estimate = settings.outside.estimate()
        if estimate:
            lines.append(
                f"  taken for {estimate.temperature_c:g} degC and {estimate.humidity_pct:g} % "
                "while no sensor there tells"
            )
    return lines


def _sensors(tables: Mapping[str, SensorTable]) -> list[str]:
    return [
        f"  sensor {name}: {table.kind} on GPIO {table.pin}, read every {table.read_every_s:g} s"
        for name, table in tables.items()
    ]


def _most(rules: RelayRules) -> Iterator[str]:
    if rules.max_run_s is not None:
        yield f"{rules.max_run_s:g} s on"
    if rules.max_on_s_per_h is not None:
        yield f"{rules.max_on_s_per_h:g} s on in an hour"
    if rules.max_starts_per_h is not None:
        yield f"{rules.max_starts_per_h} starts in an hour"
