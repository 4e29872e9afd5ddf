"""`hangroom backup`: one file with everything, while all runs; each night by a timer of its own.

A folder that is named on the command line is vouched for by whoever named it, and gets a mark. The
nightly run, which nobody watches, goes only to a folder with the mark of this household: where the
stick is not plugged in or the share is away, the bare mount point has none, and the card is not
filled in its stead. Only in the settings' folder are old backups removed.
"""

import argparse
import json
from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from hangroom import __version__
from hangroom.errors import HangroomError, InputError, StoreError
from hangroom.hardware.clock import SystemClock
from hangroom.settings import Settings, read_settings
from hangroom.store.backup.copying import Made, make_backup
from hangroom.store.backup.outcome import Good, Outcome, read_outcome, write_outcome
from hangroom.store.backup.retention import to_drop
from hangroom.store.in_use import alone

MARK = "hangroom-backups.json"
# Between two steps of copying: a writer on the same card gets its turn.
REST_S = 0.02


def run(given: argparse.Namespace) -> int:
    """Make one, keep how it went, and say so."""
    settings = read_settings(given.settings)
    store, nightly_to = settings.store.folder, settings.backup.folder
    to = given.dir or nightly_to
    if to is None:
        raise InputError(
            "Name a folder on a stick or a share: hangroom backup DIR. For the nightly backup, set "
            "folder in [backup]. Nothing was made."
        )
    clock = SystemClock()
    now = clock.now().astimezone(settings.zone())
    try:
        made, notes = _made(given, settings, to, now=now, clock=clock)
    except HangroomError as fault:
        if to == nightly_to:
            _keep(store, replace(read_outcome(store), failed_at=now, fault=str(fault)))
        raise
    _keep(store, Outcome(good=_good(made)))
    print(
        f"{made.file}: {made.size / 1e6:.1f} MB, read back and found whole; "
        f"{made.manifest.rows.get('batch', 0)} batches, {made.manifest.photos} photos.",
        *notes,
        sep="\n",
    )
    return 0


def _made(
    given: argparse.Namespace, settings: Settings, to: Path, *, now: datetime, clock: SystemClock
) -> tuple[Made, list[str]]:
    store = settings.store.folder
    if not store.is_dir():
        raise StoreError(f"There is no folder {store}. Check [store] folder in the settings.")
    if to.resolve() == store.resolve() or store.resolve() in to.resolve().parents:
        raise InputError(f"{to} lies in the folder that is kept. Take another disk's.")
    same_disk = to.is_dir() and to.stat().st_dev == store.stat().st_dev
    mark = _mark_in(to)
    if given.dir is None:
        _check_mark(to, mark, same_disk=same_disk)
    with alone(store, doing="another cannot begin", users=("backup",)):
        made = make_backup(
            store,
            to,
            made_at=now,
            site=settings.site.name,
            program=__version__,
            settings=given.settings.read_bytes(),
            rest=lambda: clock.wait_until(clock.uptime_s() + REST_S),
            household=None if mark is None else str(mark.get("household", "")),
        )
        notes = []
        if mark is None:
            _set_mark(to, made, other_disk=not same_disk)
        if same_disk:
            notes.append(
                "It lies on the same disk as the database: when that dies, both are gone. Take a "
                "stick or a share."
            )
        if made.manifest.lacking:
            notes.append(
                f"{len(made.manifest.lacking)} photos that the records name are not there, or are "
                f"damaged: {', '.join(made.manifest.lacking[:3])}."
            )
        if to == settings.backup.folder:
            notes += _tidied(to, made.file.name)
    return made, notes


def _check_mark(to: Path, mark: dict[str, object] | None, *, same_disk: bool) -> None:
    if mark is None:
        raise StoreError(
            f"{to} bears no mark of this household ({MARK}), as if the stick or share were not "
            "mounted. Nothing was made, so that this disk does not fill. Mount it; the first time, "
            f"make one by hand: hangroom backup {to}"
        )
    if mark.get("other_disk") and same_disk:
        raise StoreError(
            f"{to} was on a disk of its own and is now on the database's. Mount the stick or "
            "share; nothing was made."
        )


def _mark_in(to: Path) -> dict[str, object] | None:
    try:
        said = json.loads((to / MARK).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    return said if isinstance(said, dict) else None


def _set_mark(to: Path, made: Made, *, other_disk: bool) -> None:
    said = {
        "hangroom": "backups of one household; its nightly backup comes only where this file is",
        "household": made.manifest.household,
        "site": made.manifest.site,
        "other_disk": other_disk,
    }
    with suppress(OSError):
        (to / MARK).write_text(json.dumps(said, indent=1) + "\n", encoding="utf-8")


def _tidied(to: Path, just_made: str) -> list[str]:
    """Remove what is kept no longer, and say what."""
    said = []
    for name in to_drop([file.name for file in to.iterdir()], just_made=just_made):
        try:
            (to / name).unlink()
        except OSError as fault:
            said.append(
                f"{name} is not needed any more and could not be removed: {fault.strerror}."
            )
        else:
            said.append(f"{name} is older than what is kept (7 days, 4 weeks) and was removed.")
    return said


def _good(made: Made) -> Good:
    told = made.manifest
    return Good(
        made_at=told.made_at,
        folder=str(made.file.parent),
        file=made.file.name,
        size=made.size,
        batches=told.rows.get("batch", 0),
        photos=told.photos,
        lacking=len(told.lacking),
    )


def _keep(store: Path, outcome: Outcome) -> None:
    # What became of it is said on the screen and in the log all the same.
    with suppress(OSError):
        write_outcome(store, outcome)
