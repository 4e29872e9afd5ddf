"""How the last backup went, in words. Pure."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from hangroom.store.backup.outcome import Good, Outcome
from hangroom_web.dates import say_ago, say_moment
from hangroom_web.words import _

# One a night: two that are missing are no chance.
OLD_AFTER = timedelta(hours=48)


@dataclass(frozen=True, slots=True, kw_only=True)
class BackupView:
    """The last backup; what is wrong with it, or that there is none, '' for nothing; what comes.

    `waits`: that one is laid ready to be put back, '' where none is.
    """

    last: str
    trouble: str
    nightly: str
    waits: str = ""


def backup_view(
    outcome: Outcome,
    folder: Path | None,
    *,
    now: datetime,
    zone: ZoneInfo,
    waits: bool = False,
) -> BackupView:
    """Return what to say of backups; `folder`: of the nightly one, None where none is set."""
    good = outcome.good
    if good is None:
        last = _("No backup was made yet: all that is kept here lies on this one card.")
    else:
        last = _say_good(good, now=now, zone=zone)
    return BackupView(
        waits=_("One is laid ready: at the next start it takes the place of what is here.")
        if waits
        else "",
        last=last,
        trouble=_trouble(outcome, folder, now=now, zone=zone),
        nightly=_(
            "Each night, where its timer is on, one goes to {folder}; of 7 days and of 4 weeks "
            "before, one each is kept."
        ).format(folder=folder)
        if folder
        else _("None is made by itself: no folder is set under [backup]."),
    )


def _say_good(good: Good, *, now: datetime, zone: ZoneInfo) -> str:
    said = _(
        "{when}, {size:.1f} MB, read back and found whole: {batches} batches, {photos} photos. "
        "It is {folder}/{file}."
    ).format(
        when=say_moment(good.made_at, zone, now=now),
        size=good.size / 1e6,
        batches=good.batches,
        photos=good.photos,
        folder=good.folder,
        file=good.file,
    )
    said = said[:1].upper() + said[1:]
    if good.lacking:
        lost = _("{lacking} photos that the records name were not there, or damaged.")
        said = f"{said} {lost.format(lacking=good.lacking)}"
    return said


def _trouble(outcome: Outcome, folder: Path | None, *, now: datetime, zone: ZoneInfo) -> str:
    if outcome.fault and outcome.failed_at is not None:
        return _("The last try failed, {when}. {why}").format(
            when=say_moment(outcome.failed_at, zone, now=now), why=outcome.fault
        )
    if folder is None or outcome.good is None:
        return ""
    if now - outcome.good.made_at <= OLD_AFTER:
        return ""
    return _(
        "The last backup is old: {ago}. Is the timer on, and the controller not off at night? "
        "What came since is on this one card."
    ).format(ago=say_ago((now - outcome.good.made_at).total_seconds()))
