"""`hangroom check`: what the settings mean, or everything that is wrong with them."""

import argparse

from hangroom.settings import Settings, read_settings


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
        lines += [
            f"  sensor {sensor_name}: {sensor.kind} on GPIO {sensor.pin}, "
            f"read every {sensor.read_every_s:g} s"
            for sensor_name, sensor in room.sensor.items()
        ]
        for relay_name, relay in room.relay.items():
            rules = relay.rules()
            level = "high" if relay.active_high else "low"
            longest = f", at most {rules.max_run_s:g} s on" if rules.max_run_s else ""
            lines.append(
                f"  relay {relay_name}: {relay.switches()} on GPIO {relay.pin}, closed by {level}, "
                f"at least {rules.min_on_s:g} s on and {rules.min_off_s:g} s off{longest}"
            )
    return lines
