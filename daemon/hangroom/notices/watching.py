"""Whether the controller reports, and what is told when it falls silent. Pure.

Judged on the machine's monotonic clock, as the page does, but with more patience: a restart by the
service manager takes seconds and is no news.
"""

from dataclasses import dataclass
from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

from hangroom.dates import say_clock, say_day
from hangroom.product.notice import Kind, Notice, Stamp, Urgency
from hangroom.store.backup.outcome import Outcome
from hangroom.store.live import LiveAir, LiveBoard
from hangroom.units import Units, say_duration, say_temperature

# Without a board for so long the controller counts as silent. Our own judgement: a crash and its
# restart take some ten seconds, and a room changes little in two minutes with all relays off.
SILENT_AFTER_S = 120.0
# A board this young proves that the controller runs; the page goes by the same time.
FRESH_S = 10.0


def age_s(board: LiveBoard | None, now: Stamp) -> float | None:
    """Return how old the board is in s, None where there is none of this run of the machine."""
    if board is None or board.boot_id != now.boot_id or board.uptime_s > now.uptime_s:
        return None
    return now.uptime_s - board.uptime_s


def is_fresh(board: LiveBoard | None, now: Stamp) -> bool:
    """Whether the controller reports at this moment."""
    age = age_s(board, now)
    return age is not None and age <= FRESH_S


def is_silent(board: LiveBoard | None, now: Stamp, *, watched_s: float) -> bool:
    """Whether it has been silent long enough to be told; `watched_s`: how long this one looks."""
    age = age_s(board, now)
    return watched_s >= SILENT_AFTER_S and (age is None or age >= SILENT_AFTER_S)


def outage(board: LiveBoard | None, now: Stamp) -> str:
    """Return what an outage is called: by the last that was heard, so that it is told once."""
    if board is None:
        return f"of {now.boot_id}"
    return f"after {board.boot_id} {board.uptime_s:.3f}"


def silent(board: LiveBoard | None, now: Stamp, *, zone: ZoneInfo) -> Notice:
    """Return the notice that the controller does not report."""
    last = (
        "It has left no report at all."
        if board is None
        else f"Its last report is of {_moment(board.written_at, zone)}."
    )
    return Notice(
        key=f"silent {outage(board, now)}",
        kind=Kind.SILENT,
        urgency=Urgency.HIGH,
        reaches=Urgency.HIGH,
        title="The controller does not report",
        text=(
            f"{last}\n"
            "Nothing controls the rooms now. Its relays should have opened by themselves:"
            " humidifier, cooling, heater and fans are off.\n"
            "Act now: see whether the Pi has power and its disk is not full, then restart the"
            " service: sudo systemctl restart hangroom-daemon. Keep an eye on the rooms until then."
        ),
        made_at=now.at,
    )


def back(since: str, now: Stamp, *, silent_s: float | None) -> Notice:
    """Return the notice that it reports again, after the outage called `since`."""
    lasted = "" if silent_s is None else f" It was told as silent {say_duration(silent_s)} ago."
    return Notice(
        key=f"back {since}",
        kind=Kind.BACK,
        urgency=Urgency.MEDIUM,
        reaches=Urgency.HIGH,
        title="The controller reports again",
        text=f"The rooms are controlled again.{lasted} The page shows how they are.",
        made_at=now.at,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Alive:
    """What the weekly 'still running' says besides that it came.

    `undelivered`: how many notices wait on channels that took none when last tried.
    """

    due_at: datetime
    since_at: datetime
    rooms: dict[str, LiveAir | None]
    reports: bool
    undelivered: int
    backup: Outcome


def latest_weekly(now: datetime, *, weekday: int, at: time, zone: ZoneInfo) -> datetime:
    """Return the newest moment that is a weekday's local time of day; Monday is 0."""
    local = now.astimezone(zone)
    days = (local.weekday() - weekday) % 7
    for back_days in (days, days + 7):
        day = local.date() - timedelta(days=back_days)
        moment = datetime.combine(day, at, tzinfo=zone)
        if moment <= now:
            return moment
    raise ValueError("no such moment in two weeks")


def alive(told: Alive, *, units: Units, zone: ZoneInfo, now: datetime) -> Notice:
    """Return the notice that shows that notices arrive."""
    if told.reports:
        rooms = [
            f"{title}: {_air(air, units) if air else 'no trusted reading'}"
            for title, air in told.rooms.items()
        ]
    else:
        rooms = ["The controller does not report at the moment."]
    lines = [
        f"Running since {_moment(told.since_at, zone)}.",
        *rooms,
        *(
            [f"{_notices(told.undelivered)} not arrived on some channel; see Setup."]
            if told.undelivered
            else []
        ),
        _say_backup(told.backup, zone),
        "This comes once a week. If it stops coming, see why.",
    ]
    return Notice(
        key=f"alive {told.due_at.astimezone(zone).date().isoformat()}",
        kind=Kind.ALIVE,
        urgency=Urgency.LOW,
        # To every channel: one that is never used is the one that is broken unseen.
        reaches=Urgency.HIGH,
        title="Still running, and telling you so",
        text="\n".join(lines),
        made_at=now,
    )


def backup_failed(outcome: Outcome, *, zone: ZoneInfo) -> Notice | None:
    """Return the notice that the newest backup failed, None where it did not; one per local day."""
    failed_at, good = outcome.failed_at, outcome.good
    if failed_at is None or (good is not None and good.made_at >= failed_at):
        return None
    return Notice(
        key=f"{Kind.BACKUP} {failed_at.astimezone(zone).date().isoformat()}",
        kind=Kind.BACKUP,
        urgency=Urgency.MEDIUM,
        reaches=Urgency.MEDIUM,
        title="The backup failed",
        text=f"{outcome.fault}\n{_say_backup(Outcome(good=good), zone)}",
        made_at=failed_at,
    )


def _say_backup(outcome: Outcome, zone: ZoneInfo) -> str:
    if outcome.good is None:
        return "Last good backup: none."
    failed = outcome.failed_at is not None and outcome.failed_at > outcome.good.made_at
    later = " A later one failed." if failed else ""
    return f"Last good backup: {_moment(outcome.good.made_at, zone)}.{later}"


def _air(air: LiveAir, units: Units) -> str:
    return f"{say_temperature(air.temperature_c, units)}, {air.humidity_pct:.0f} %"


def _notices(count: int) -> str:
    return "1 notice has" if count == 1 else f"{count} notices have"


def _moment(at: datetime, zone: ZoneInfo) -> str:
    return f"{say_day(at, zone)} {say_clock(at, zone)}"
