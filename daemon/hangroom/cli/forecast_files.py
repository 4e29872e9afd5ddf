"""The three files of `hangroom forecast`: what hangs, the air it had, what it weighed.

All that is wrong in any of them is noted at once, one line each.
"""

import csv
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from math import isfinite
from pathlib import Path
from typing import Any

from hangroom.errors import InputError
from hangroom.product.forecast import AirPlanned, AirSeen, Question, TaggedStick, Weighing
from hangroom.simulation.scenario import read_tables
from hangroom.simulation.table_reader import TableReader, near

AIR_COLUMNS = ("hours", "temperature_c", "humidity_pct")
WEIGHT_COLUMNS = ("hours", "stick", "weight_g")
DIAMETER = "diameter_mm"
BATCH_KEYS = (
    *("diameter_mm", "water_fraction_at_hang", "target_yield_on_green", "scale_sd_g", "sticks"),
    *("water_phase_salt_pct", "plan"),
)
# A weight so soon after hanging is the weight as hung.
HUNG_WITHIN_H = 0.5
COLDEST_C, WARMEST_C = -40.0, 50.0
LONGEST_H = 366.0 * 24.0
HEAVIEST_G = 10_000.0


@dataclass(slots=True)
class _Stick:
    green: tuple[float, float] | None = None
    hang_weight_g: float | None = None
    later: list[Weighing] = field(default_factory=list)


def read_question(batch: Path, air: Path, weights: Path, *, now_h: float) -> Question:
    """Return what the files ask; raises InputError with a line for all that is wrong in them."""
    wrong: list[str] = []
    seen = tuple(
        AirSeen(at_h=hours_h, temperature_c=temperature_c, humidity_pct=humidity_pct)
        for hours_h, temperature_c, humidity_pct in _air(air, wrong)
    )
    sticks = _sticks(weights, wrong)
    question = _batch(batch, wrong, air=seen, sticks=sticks, now_h=now_h)
    if not (isfinite(now_h) and 0.0 <= now_h <= LONGEST_H):
        wrong.append(f"--now-h is {now_h:g}; give the hours since hanging, 0 to {LONGEST_H:g}.")
    if wrong:
        raise InputError("\n".join(wrong))
    return question


def _batch(
    path: Path,
    wrong: list[str],
    *,
    air: tuple[AirSeen, ...],
    sticks: Mapping[str, _Stick],
    now_h: float,
) -> Question:
    found: list[str] = []
    try:
        tables: Mapping[str, Any] = read_tables(path)
    except InputError as fault:
        # Nothing of an unread file is missing; the one line says it all.
        wrong.append(str(fault))
        tables, found_there = {}, False
    else:
        found_there = True
    whole = TableReader(tables, "", found)
    whole.only(*BATCH_KEYS)
    plan = whole.table("plan")
    plan.only("temperature_c", "humidity_pct", "change")
    planned = [_planned(plan, 0.0)] if whole.has("plan") else []
    planned += [
        _planned(change, change.number("at_h", least=0.0, most=2.0 * LONGEST_H))
        for change in plan.array("change")
    ]
    salt_pct = (
        whole.number("water_phase_salt_pct", least=0.0, most=26.4)
        if whole.has("water_phase_salt_pct")
        else None
    )
    question = Question(
        tagged=tuple(
            TaggedStick(tag=tag, green_weight_g=stick.green[1], hang_weight_g=stick.hang_weight_g)
            for tag, stick in sticks.items()
            if stick.green is not None
        ),
        sticks_in_group=whole.whole("sticks", 1, least=1),
        target_yield_ratio=whole.number("target_yield_on_green", least=0.05, most=1.5),
        water_fraction=whole.number("water_fraction_at_hang", least=0.2, most=0.9),
        diameter_mm=whole.number("diameter_mm", least=3.0, most=150.0),
        diameter_measured=True,
        scale_sd_g=whole.number("scale_sd_g", least=0.0, most=1000.0),
        now_h=now_h,
        air=air,
        plan=tuple(planned),
        weighings=tuple(weighing for stick in sticks.values() for weighing in stick.later),
        water_phase_salt_pct=salt_pct,
    )
    if found_there:
        if not whole.has("sticks"):
            found.append("sticks is missing; add how many hang in the group")
        wrong.extend(f"{path}: {line}." for line in found)
    return question


def _planned(table: TableReader, from_h: float) -> AirPlanned:
    if from_h > 0.0:
        table.only("at_h", "temperature_c", "humidity_pct")
    return AirPlanned(
        from_h=from_h,
        temperature_c=table.number("temperature_c", least=COLDEST_C, most=WARMEST_C),
        humidity_pct=table.number("humidity_pct", least=0.0, most=100.0),
    )


def _air(path: Path, wrong: list[str]) -> list[tuple[float, float, float]]:
    rows: list[tuple[float, float, float]] = []
    for where, cells in _rows(path, AIR_COLUMNS, (), wrong):
        if not all(cells[column] for column in AIR_COLUMNS):
            continue  # an empty cell is a gap
        number = _reader(where, cells, wrong)
        hours_h = number("hours", -LONGEST_H, LONGEST_H)
        temperature_c = number("temperature_c", COLDEST_C, WARMEST_C)
        humidity_pct = number("humidity_pct", 0.0, 100.0)
        if hours_h is None or temperature_c is None or humidity_pct is None:
            continue
        if rows and hours_h <= rows[-1][0]:
            wrong.append(
                f"{where}: hour {hours_h:g} does not follow {rows[-1][0]:g}; sort the rows by time."
            )
        rows.append((hours_h, temperature_c, humidity_pct))
    return rows


def _sticks(path: Path, wrong: list[str]) -> dict[str, _Stick]:
    sticks: dict[str, _Stick] = {}
    refused: set[str] = set()
    for where, cells in _rows(path, WEIGHT_COLUMNS, (DIAMETER,), wrong):
        number = _reader(where, cells, wrong)
        tag = cells["stick"]
        if not tag:
            wrong.append(f"{where}: stick is empty; give the stick's tag.")
            continue
        refused_before = len(wrong)
        stick = sticks.setdefault(tag, _Stick())
        hours_h = number("hours", -LONGEST_H, LONGEST_H)
        diameter_mm = number(DIAMETER, 1.0, 200.0) if cells.get(DIAMETER) else None
        weight_g = None
        if cells["weight_g"] or diameter_mm is None:
            weight_g = number("weight_g", 0.1, HEAVIEST_G)
        if len(wrong) > refused_before or hours_h is None:
            refused.add(tag)
            continue
        if hours_h < 0.0:
            if weight_g is not None and (stick.green is None or hours_h < stick.green[0]):
                stick.green = (hours_h, weight_g)
        elif hours_h <= HUNG_WITHIN_H and weight_g is not None and stick.hang_weight_g is None:
            stick.hang_weight_g = weight_g
        else:
            stick.later.append(
                Weighing(at_h=hours_h, tag=tag, weight_g=weight_g, diameter_mm=diameter_mm)
            )
    wrong.extend(
        f"{path}: stick {tag} has no green weight, which its yield counts on; add a row with its"
        " weight, raw and stuffed, at a negative hour."
        for tag, stick in sticks.items()
        if stick.green is None and tag not in refused
    )
    return sticks


def _rows(
    path: Path, needed: Sequence[str], more: Sequence[str], wrong: list[str]
) -> Iterator[tuple[str, Mapping[str, str]]]:
    """Yield each row's place and cells; what keeps it from being read goes to `wrong`."""
    try:
        text = path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        wrong.append(f"{path}: there is no such file; check the name.")
        return
    except OSError as fault:
        wrong.append(f"{path}: cannot be read ({fault.strerror}); check the file.")
        return
    except UnicodeDecodeError:
        wrong.append(f"{path}: is not plain text; save it as CSV in UTF-8.")
        return
    reader = csv.reader(text.splitlines(), strict=True)
    try:
        names = [name.strip() for name in next(reader, [])]
        known = (*needed, *more)
        faults = [f"has no column {name}" for name in needed if name not in names]
        faults += [
            f"has a column {name!r}; {near(name, known)}" for name in names if name not in known
        ]
        faults += [f"has {name} twice" for name in sorted(set(names)) if names.count(name) > 1]
        if faults:
            wrong.extend(
                f"{path}: {fault}. The first line must name {', '.join(needed)}."
                for fault in faults
            )
            return
        for cells in reader:
            if not any(cell.strip() for cell in cells):
                continue
            where = f"{path} line {reader.line_num}"
            if len(cells) != len(names):
                wrong.append(
                    f"{where}: has {len(cells)} cells, the first line {len(names)}; mend the row."
                )
                continue
            yield where, dict(zip(names, (cell.strip() for cell in cells), strict=True))
    except csv.Error as fault:
        wrong.append(f"{path} line {reader.line_num}: is no CSV ({fault}); save it anew as CSV.")


def _reader(
    where: str, cells: Mapping[str, str], wrong: list[str]
) -> Callable[[str, float, float], float | None]:
    """Return what reads one cell as a number within bounds, or notes what is wrong with it."""

    def number(column: str, least: float, most: float) -> float | None:
        try:
            value = float(cells[column])
        except ValueError:
            wrong.append(f"{where}: {column} is {cells[column]!r}; give a number.")
            return None
        if not least <= value <= most:  # written so that nan is refused too
            wrong.append(f"{where}: {column} is {value:g}; give {least:g} to {most:g}.")
            return None
        return value

    return number
