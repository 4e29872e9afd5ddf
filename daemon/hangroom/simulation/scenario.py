"""A rehearsal's scenario file: the physical rooms, the air around them and what goes wrong.

Its `[settings]` table is the keeper's own and is checked where settings are known; all the rest is
read here. Whatever cannot be used is named at once, one line each.
"""

import tomllib
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, fields, replace
from functools import partial
from pathlib import Path
from typing import Any

from hangroom.errors import InputError
from hangroom.simulation.ambient import Ambient, ConstantAir, load_series
from hangroom.simulation.faults import Fault, FaultKind
from hangroom.simulation.house import LONGEST_STEP_S, SHORTEST_STEP_S
from hangroom.simulation.spec import LoadSpec, RoomSpec
from hangroom.simulation.table_reader import TableReader, near

# Judgement: longer than any stick hangs; a year of seconds takes minutes to simulate.
LONGEST_DAYS = 366.0
# Judgement: a door that opens more often than every six minutes stands open.
SHORTEST_EVERY_H = 0.1

# Judgement: figures drawn from less say nothing.
SHORTEST_LOOK_H = 0.1
# Judgement: a clock that is wrong by more than three years is refused at the start.
LONGEST_CLOCK_STEP_S = 1e8
# A step of the clock happens at once, however long it is said to last.
MOMENT_H = 1.0 / 3600.0
# The Pi has one supply, one clock and one disk: these strike every room, whichever they name.
WHOLE_HOUSE = frozenset({FaultKind.POWER_CUT, FaultKind.CLOCK_STEP, FaultKind.DISK_FULL})

ROOM_NUMBERS = tuple(field.name for field in fields(RoomSpec) if field.name != "load")
LOAD_NUMBERS = tuple(field.name for field in fields(LoadSpec))


@dataclass(frozen=True, slots=True, kw_only=True)
class Scenario:
    """What is rehearsed, apart from the settings.

    `days`: the whole run, of which the first `warmup_h` hours are left out of the figures.
    `step_s`: the step of the simulated rooms.
    """

    name: str
    days: float
    warmup_h: float
    seed: int
    step_s: float
    rooms: Mapping[str, RoomSpec]
    ambient: Ambient
    faults: tuple[Fault, ...]

    @property
    def lasts_s(self) -> float:
        """How long the whole run is."""
        return self.days * 86_400.0


def read_tables(path: Path) -> dict[str, Any]:
    """Return the tables of a TOML file; raises InputError where it is none."""
    try:
        return tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except FileNotFoundError:
        raise InputError(f"{path}: there is no such file; check the name") from None
    except (OSError, UnicodeDecodeError) as wrong:
        raise InputError(f"{path}: cannot be read ({wrong}); check the file") from None
    except ValueError as wrong:  # mostly TOMLDecodeError; a number of 5000 digits is a plain one
        raise InputError(f"{path}: is not TOML ({wrong}); mend that line first") from None


def check_scenario(tables: Mapping[str, Any], *, folder: Path) -> Scenario:
    """Return the scenario in parsed tables; raises InputError with a line for all that is wrong.

    `folder` is where a series of ambient air is looked for.
    """
    wrong: list[str] = []
    whole = TableReader(tables, "", wrong)
    whole.only("scenario", "settings", "room", "ambient", "fault")
    head = whole.table("scenario")
    days = head.number("days", above=0.0, most=LONGEST_DAYS)
    # Where the end is not known, no fault can be said to begin after it.
    end_h = 24.0 * (LONGEST_DAYS if wrong else days)
    head.only("name", "days", "warmup_h", "seed", "step_s")
    warmup_h = head.number("warmup_h", 0.0, least=0.0)
    if warmup_h > end_h - SHORTEST_LOOK_H:
        wrong.append(
            f"scenario.warmup_h is {warmup_h:g} and the whole run lasts {end_h:g} h; leave at "
            f"least {SHORTEST_LOOK_H:g} h after it to look at"
        )
    rooms = {name: _room(table) for name, table in whole.table("room").tables()}
    if not rooms:
        wrong.append("no room is described; add the physical room as [room.NAME]")
    scenario = Scenario(
        name=head.text("name", "rehearsal"),
        days=days,
        warmup_h=warmup_h,
        seed=head.whole("seed", 1, least=0),
        step_s=head.number("step_s", 1.0, least=SHORTEST_STEP_S, most=LONGEST_STEP_S),
        rooms=rooms,
        ambient=_ambient(whole.table("ambient"), folder),
        faults=tuple(
            fault for table in whole.array("fault") for fault in _faults(table, rooms, end_h)
        ),
    )
    if wrong:
        raise InputError("\n".join(wrong))
    return scenario


def _room(table: TableReader) -> RoomSpec:
    table.only(*ROOM_NUMBERS, "load")
    load = None
    if table.has("load"):
        hung = table.table("load")
        hung.only(*LOAD_NUMBERS)
        load = hung.built(LoadSpec, hung.numbers(LOAD_NUMBERS))
    room = table.built(RoomSpec, table.numbers(ROOM_NUMBERS))
    return replace(room or RoomSpec(), load=load)


def _ambient(table: TableReader, folder: Path) -> Ambient:
    table.only("temperature_c", "humidity_pct", "csv")
    constant = [key for key in ("temperature_c", "humidity_pct") if table.has(key)]
    if not table.has("csv"):
        numbers = {key: table.number(key) for key in ("temperature_c", "humidity_pct")}
        air: Ambient | None = table.built(ConstantAir, numbers)
    else:
        if constant:
            table.fault(f"csv stands beside {' and '.join(constant)}; keep one or the other")
        path = folder / table.text("csv")
        air = table.built(lambda: load_series(path), {})
    return air or ConstantAir(temperature_c=18.0, humidity_pct=50.0)


def _faults(table: TableReader, rooms: Collection[str], end_h: float) -> Iterator[Fault]:
    """Return what one [[fault]] asks for: once, or with `every_h` again and again to the end."""
    table.only("room", "kind", "at_h", "for_h", "every_h", "size")
    kind = table.text("kind")
    if kind and kind not in list(FaultKind):
        table.fault(f"there is no kind {kind!r}; {near(kind, list(FaultKind))}")
    room = table.text("room", "" if kind in WHOLE_HOUSE else None)
    if room and rooms and room not in rooms:
        table.fault(f"there is no room {room!r}; {near(room, rooms)}")
    at_h = table.number("at_h")
    if at_h >= end_h:
        table.fault(
            f"begins at hour {at_h:g}, and the run ends at hour {end_h:g}; begin it earlier"
        )
    for_h = table.number("for_h", end_h)
    every_h = table.number("every_h", end_h, least=SHORTEST_EVERY_H)
    most = LONGEST_CLOCK_STEP_S if kind == FaultKind.CLOCK_STEP else 100.0
    size = table.number("size", 0.0, least=-most, most=most)
    if kind not in list(FaultKind):
        return
    if kind == FaultKind.CLOCK_STEP:
        for_h = MOMENT_H
    while True:
        numbers = {"at_h": at_h, "for_h": for_h, "size": size}
        fault = table.built(partial(Fault, room=room, kind=FaultKind(kind)), numbers)
        if fault is None:
            return
        yield fault
        at_h += every_h
        if at_h >= end_h:
            return
