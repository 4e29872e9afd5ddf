"""`hangroom rehearse`: the real loop on simulated rooms, through faults, at full speed."""

import argparse
import json
import sys
from collections.abc import Callable, Mapping
from dataclasses import asdict
from pathlib import Path
from time import perf_counter
from typing import Any

from hangroom.cli.rehearsal import Rehearsal, rehearse
from hangroom.cli.rehearsal_picture import picture
from hangroom.cli.rehearsal_words import told
from hangroom.errors import HangroomError, InputError, SettingsError
from hangroom.settings import Settings, check_settings, read_settings
from hangroom.simulation.scenario import Scenario, check_scenario, read_tables

QUIET_S = 2.0


def run(given: argparse.Namespace) -> int:
    """Rehearse, then say what came of it in words with a picture, or as JSON."""
    scenario, settings = read_rehearsal(given.scenario)
    rehearsal = rehearse(scenario, settings, progress=_progress())
    if given.json:
        print(json.dumps(as_json(rehearsal), indent=2))
    else:
        print(told(rehearsal, settings))
    file = given.picture
    if file is None and not given.json:
        file = given.scenario.with_suffix(".svg")
    if file is not None:
        _write(file, picture(rehearsal, settings))
        if not given.json:
            print(f"Picture: {file}")
    return 0


def read_rehearsal(path: Path) -> tuple[Scenario, Settings]:
    """Return a scenario file's rooms and settings; SettingsError lists all that is wrong."""
    tables = read_tables(path)
    wrong: list[str] = []
    scenario, settings = None, None
    try:
        scenario = check_scenario(tables, folder=path.parent)
    except InputError as refused:
        wrong += [f"{path}: {line.rstrip('.')}." for line in str(refused).splitlines()]
    given = tables.get("settings", {})
    try:
        settings = _settings(given, path)
    except SettingsError as refused:
        wrong += refused.faults
    asked = settings.room if settings else given.get("room") if isinstance(given, dict) else None
    wrong += [f"{path}: {line}" for line in _unmatched(asked, tables.get("room"))]
    if wrong or scenario is None or settings is None:
        raise SettingsError(wrong)
    return scenario, settings


def as_json(rehearsal: Rehearsal) -> dict[str, Any]:
    """Return the rehearsal as the JSON object that other programs read; keys only ever come."""
    scenario = rehearsal.scenario
    return {
        "scenario": scenario.name,
        "seed": scenario.seed,
        "simulated_s": scenario.lasts_s,
        "cpu_s": rehearsal.cpu_s,
        "rooms": {name: asdict(figures) for name, figures in rehearsal.figures.items()},
        "alarms": [asdict(alarm) for alarm in rehearsal.alarms],
        "balance_residual": rehearsal.balance_residual,
        "events": [
            {"kind": event.kind, "at_s": event.uptime_s, "figures": event.figures}
            for event in rehearsal.events
        ],
        "written_rows": rehearsal.written_rows,
        "most_unwritten_rows": rehearsal.most_unwritten_rows,
    }


def _settings(given: object, path: Path) -> Settings:
    if not isinstance(given, Mapping) or not given:
        raise SettingsError(
            [f'{path}: [settings] is missing; put your settings there, or file = "your.toml".']
        )
    if "file" not in given:
        return check_settings(given, source=f"{path} [settings]")
    if len(given) > 1 or not isinstance(given["file"], str):
        raise SettingsError(
            [f"{path}: settings.file must be a file's name and stand alone; remove the rest."]
        )
    return read_settings(path.parent / given["file"])


def _unmatched(asked: object, there: object) -> list[str]:
    """Say which rooms stand in the settings only, or in the scenario only."""
    if not isinstance(asked, Mapping) or not isinstance(there, Mapping):
        return []
    return [
        f"the settings have a room {name!r} that is not described; add [room.{name}]."
        for name in asked
        if name not in there
    ] + [
        f"room.{name} is not in the settings, which have {', '.join(asked)}; use the same names."
        for name in there
        if name not in asked
    ]


def _progress() -> Callable[[float], None]:
    """Return what shows the share done on stderr, once it has taken two seconds."""
    started_s = perf_counter()
    shown_pct = 0

    def show(done_ratio: float) -> None:
        nonlocal shown_pct
        done_pct = int(20.0 * done_ratio) * 5
        if done_pct > shown_pct and perf_counter() - started_s > QUIET_S:
            shown_pct = done_pct
            print(f"Rehearsing: {done_pct:3d} %", file=sys.stderr, flush=True)

    return show


def _write(file: Path, text: str) -> None:
    try:
        file.write_text(text, encoding="utf-8")
    except OSError as fault:
        raise HangroomError(
            f"{file}: the picture cannot be written ({fault.strerror}); the figures above stand. "
            "Name another file with --picture."
        ) from fault
