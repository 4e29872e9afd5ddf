"""A small scenario that the tests of this folder run again and again."""

from pathlib import Path

from hangroom.cli.rehearsal import Rehearsal, rehearse
from hangroom.cli.rehearse import read_rehearsal

# A leaky closet with a strong humidifier; two hours and a half are enough here.
CLOSET = """
[scenario]
name = "test"
days = 0.1
warmup_h = 0.5
seed = 1

[settings.room.closet]
title = "Closet"
[settings.room.closet.humidity]
setpoint_pct = 80.0
band_pct = 2.0
[settings.room.closet.sensor.rail]
kind = "dht22"
pin = 4
[settings.room.closet.relay.humidifier]
kind = "humidifier"
pin = 17
[settings.room.closet.relay.fan]
kind = "fan"
role = "exhaust"
pin = 27

[room.closet]
humidifier_g_per_h = 300.0
cooling_w = 100.0
[room.closet.load]
mass_kg = 5.0

[ambient]
temperature_c = 18.0
humidity_pct = 50.0
"""

# The same with a compressor that has work to do.
COLD = CLOSET.replace(
    "[settings.room.closet.sensor.rail]",
    """[settings.room.closet.temperature]
setpoint_c = 14.0
[settings.room.closet.relay.compressor]
kind = "cooling"
pin = 22
[settings.room.closet.sensor.rail]""",
)


def fault(kind: str, **numbers: float) -> str:
    """One [[fault]] of the closet."""
    lines = [f"{key} = {value}" for key, value in numbers.items()]
    return "\n".join(["", "[[fault]]", 'room = "closet"', f'kind = "{kind}"', *lines, ""])


def run(folder: Path, text: str) -> Rehearsal:
    path = folder / "scenario.toml"
    path.write_text(text, encoding="utf-8")
    scenario, settings = read_rehearsal(path)
    return rehearse(scenario, settings, progress=lambda _done: None)
