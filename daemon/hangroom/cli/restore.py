"""`hangroom restore`: a backup is looked at, shown beside what is there, and then put in its place.

Nothing is changed before the whole file is found in order and somebody has said yes. No pin is
touched: the services are stopped, and a backup's settings never replace those that are here.
"""

import argparse
import os
import sys
import tomllib
from datetime import datetime
from pathlib import Path

from hangroom import __version__
from hangroom.errors import InputError, StoreError
from hangroom.hardware.clock import SystemClock
from hangroom.settings import Settings, check_settings, read_settings
from hangroom.store.backup.checking import read_settings_of
from hangroom.store.backup.pending import taken_up
from hangroom.store.backup.placing import (
    SETTINGS_BESIDE,
    Present,
    Ready,
    look_at,
    made_ready,
    present,
    put_in_place,
    settings_in,
)
from hangroom.store.in_use import alone

YES = "yes"


def run(given: argparse.Namespace) -> int:
    """Show what a backup holds, and put it in place once somebody says so."""
    if given.pending:
        with taken_up(read_settings(given.settings).store.folder) as laid_ready:
            if laid_ready is None:
                print("Nothing was laid ready on the page.")
                return 0
            return _restore(laid_ready, given, agreed=True)
    if given.file is None:
        raise InputError("Name the backup's file: hangroom restore FILE. Nothing was changed.")
    return _restore(given.file, given, agreed=given.yes)


def _restore(file: Path, given: argparse.Namespace, *, agreed: bool) -> int:
    try:
        look_at(file)
        settings = _settings(given.settings, file)
    except InputError as fault:
        raise InputError(f"{file}: {fault}\nNothing was changed.") from None
    folder, now = settings.store.folder, SystemClock().now()
    if not folder.is_dir():
        raise StoreError(
            f"There is no folder {folder}, where the database belongs. Install hangroom first, "
            "which makes it for the right user; nothing was changed."
        )
    local = now.astimezone(settings.zone())
    with alone(folder, doing="nothing can be put back there"):
        try:
            with made_ready(file, folder, now=local) as ready:
                return _put_back(given.settings, settings, ready, now=local, agreed=agreed)
        except InputError as fault:
            raise InputError(f"{file}: {fault}\nNothing was changed.") from None


def _settings(here: Path, file: Path) -> Settings:
    """Return the settings that are here; where there are none, those that the backup brings."""
    if here.exists():
        return read_settings(here)
    text = read_settings_of(file)
    if text is None:
        raise InputError(
            f"There are no settings at {here}, and none in the backup. Write them first."
        )
    try:
        return check_settings(tomllib.loads(text.decode()), source="the backup's settings")
    except ValueError as fault:
        raise InputError(f"The settings in it cannot be read ({fault}).") from None


def _put_back(
    settings_file: Path, settings: Settings, ready: Ready, *, now: datetime, agreed: bool
) -> int:
    folder = settings.store.folder
    here = present(folder)
    print(*_preview(settings, ready, here), sep="\n")
    if not agreed and not _agreed():
        print("Nothing was changed.")
        return 0
    brought = settings_in(ready)
    aside = put_in_place(ready, folder, now=now)
    print("The backup is in its place.")
    if aside is not None:
        print(f"What was there lies in {aside}. Remove that once all is well.")
    print(*_about_settings(settings_file, folder, brought), sep="\n")
    print(
        "Start the services: sudo systemctl start hangroom-daemon hangroom-web hangroom-notices\n"
        "Then look at Controls, for setpoints and stages are those of the backup, and at Setup, "
        "whether every relay is proved."
    )
    if not (folder / "access.json").exists():
        print("There is no passphrase here: set one with `hangroom passphrase`, or on the page.")
    return 0


def _agreed() -> bool:
    if not sys.stdin.isatty():
        raise InputError(
            "Nothing was changed. If that is what you want, say so: the same once more with --yes."
        )
    return input(f"Put it in place of what is there? Type {YES}: ").strip().lower() == YES


def _preview(settings: Settings, ready: Ready, here: Present | None) -> list[str]:
    told, zone = ready.manifest, settings.zone()
    made = f"{told.made_at.astimezone(zone):%a %d %b %Y, %H:%M}"
    lines = [
        f"The backup: {told.site}, made {made} by hangroom {told.program} (this is {__version__}).",
        f"  {_say(ready.holds, settings)} {told.photos} photos.",
    ]
    if told.lacking:
        lines.append(f"  {len(told.lacking)} photos were lost or damaged when it was made.")
    if here is None:
        lines.append(f"There: nothing yet in {settings.store.folder}.")
    else:
        lines += [f"There now, in {settings.store.folder}:", f"  {_say(here, settings)}"]
        if here.household and told.household != here.household:
            lines.append("  It is another household's than the backup: look twice.")
        if here.seen_at and ready.holds.seen_at and here.seen_at > ready.holds.seen_at:
            lines.append("  What came after the backup's last word is not in it and is set aside.")
    return lines


def _say(held: Present, settings: Settings) -> str:
    if held.damaged:
        return "a database that cannot be read; it is set aside as it is."
    seen = "no controller ran on it"
    if held.seen_at is not None:
        at = held.seen_at.astimezone(settings.zone())
        seen = f"the controller's last word {at:%a %d %b %Y, %H:%M}"
    return f"{held.batches} batches, {held.weigh_ins} weigh-ins, {held.readings} readings; {seen}."


def _about_settings(here: Path, folder: Path, brought: bytes | None) -> list[str]:
    """Put the backup's settings where there are none, else beside; never over those in use."""
    if brought is None:
        return ["It brought no settings file."]
    if not here.exists():
        try:
            here.parent.mkdir(parents=True, exist_ok=True)
            _write(here, brought)
        except OSError as fault:
            raise StoreError(
                f"The records are in place; the settings could not be written to {here} "
                f"({fault.strerror}). Take settings.toml out of the zip file by hand."
            ) from fault
        return [f"Its settings are now {here}. Check the wiring against them first."]
    if here.read_bytes() == brought:
        return ["Its settings are the same as here."]
    beside = folder / SETTINGS_BESIDE
    try:
        beside.unlink(missing_ok=True)
        _write(beside, brought)
    except OSError:
        return ["Its settings differ from those here, which stay. Look into the zip file for them."]
    return [f"Its settings differ from those here, which stay; they lie in {beside}."]


def _write(file: Path, text: bytes) -> None:
    descriptor = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o640)
    with os.fdopen(descriptor, "wb") as out:
        out.write(text)
        os.fsync(out.fileno())
    if os.geteuid() == 0:
        owner = file.parent.stat()
        os.chown(file, owner.st_uid, owner.st_gid)
