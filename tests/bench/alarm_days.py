"""How much the alarms ask of a person over a month in which nothing is wrong.

    python tests/bench/alarm_days.py [--days 30] [--seeds 1]

Each room lives with what is normal in it: samples lost now and then, bursts of silence, and a door
that is opened eight times a day for a minute. Printed is what was annunciated, which alarms, and
whether any chattered, flooded or stood for more than a day. Goal: at most one a day, nothing else.
"""

import argparse
import tempfile
from collections import Counter
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from time import perf_counter

from hangroom.alarm_table.log import AlarmEvent
from hangroom.cli.rehearsal import START, Rehearsal, rehearse
from hangroom.cli.rehearse import read_rehearsal
from hangroom.control.alarms.rates import (
    annunciations,
    annunciations_per_day,
    chattering,
    floods,
    stale,
)

REHEARSALS = Path(__file__).parents[1] / "rehearsals"
DOORS = """
[[fault]]
room = "{room}"
kind = "door-open"
at_h = 1.5
for_h = 0.0167
every_h = 3.0
"""
ROOMS = {
    "leaky-closet": "closet",
    "busy-door": "closet",
    "wet-fresh-load": "closet",
    "fridge": "fridge",
}


def healthy(name: str, *, days: float, seed: int) -> Rehearsal:
    """Run one of the kept rehearsals for so long, with doors and without its other faults."""
    text = (REHEARSALS / f"{name}.toml").read_text(encoding="utf-8")
    text = text[: text.index("[[fault]]")] if "[[fault]]" in text else text
    lines = [
        # A keeper fills the tank; here it is large enough for all the days.
        {"days": f"days = {days}", "tank_g": "tank_g = 1e6"}.get(line.partition(" =")[0], line)
        for line in text.splitlines()
        if not line.startswith("seed =")
    ]
    text = "\n".join(lines).replace("[scenario]", f"[scenario]\nseed = {seed}", 1)
    path = Path(tempfile.mkdtemp()) / f"{name}.toml"
    path.write_text(text + DOORS.format(room=ROOMS[name]), encoding="utf-8")
    scenario, settings = read_rehearsal(path)
    return rehearse(scenario, settings, progress=lambda _done: None)


def row(name: str, rehearsal: Rehearsal, took_s: float) -> Iterator[str]:
    log = [event for _, event in rehearsal.alarm_log]
    until = START + timedelta(seconds=rehearsal.scenario.lasts_s)
    yield f"{name:16}"
    yield f"{annunciations_per_day(log, since=START, until=until):8.2f}"
    yield f"{len(chattering(log)):6} {len(floods(log, until=until)):6} {len(stale(log, at=until)):6}"
    yield f"{took_s:7.0f} s  {told(log)}"


def told(log: list[AlarmEvent]) -> str:
    """Return which alarms were annunciated, and how often."""
    counts = Counter(str(event.alarm) for event in annunciations(log))
    return ", ".join(f"{alarm} {count}" for alarm, count in counts.most_common()) or "nothing"


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--days", type=float, default=30.0)
    parser.add_argument("--seeds", type=int, default=1)
    parser.add_argument("--rooms", nargs="*", default=list(ROOMS), choices=list(ROOMS))
    given = parser.parse_args()
    print(f"{given.days:g} days, doors opened eight times a day")
    print("room             a day    chatter floods  stale    took   annunciated")
    for name in given.rooms:
        for seed in range(1, given.seeds + 1):
            began_s = perf_counter()
            rehearsal = healthy(name, days=given.days, seed=seed)
            print(" ".join(row(name, rehearsal, perf_counter() - began_s)), flush=True)


if __name__ == "__main__":
    main()
