"""Reading what daemon and page wrote, and keeping the notices that follow from it.

Each look is one transaction: the notices and the mark of how far was looked. So a crash between
two looks loses nothing, and a look made twice adds nothing.
"""

from collections.abc import Sequence
from datetime import datetime, time
from pathlib import Path
from typing import Any

from sqlite_utils import Database

from hangroom.notices import facts, watching
from hangroom.notices.facts import Site
from hangroom.product.notice import Channel, Kind, Notice, Stamp, about
from hangroom.store import notices as kept
from hangroom.store.alarms import lines_after, newest_line
from hangroom.store.backup.outcome import read_outcome
from hangroom.store.batches import hanging_batches
from hangroom.store.deliveries import carried_on
from hangroom.store.forecasts import known_of
from hangroom.store.live import LiveBoard
from hangroom.store.moments import from_ms, to_ms
from hangroom.store.reminders import open_reminders
from hangroom.store.summaries import newest_summary

# How many lines of the alarm log are looked at in one go, so that no transaction grows without end.
MOST_LINES = 500

SAME_TARGET_RATIO = 1e-4  # as typed, to the hundredth of a percent

# What the marks are called.
ALARM_LINE, STARTED, OUTAGE = "alarm-line", "started", "outage"


class Gathering:
    """Looks for what is to be told. `channels` are those that notices are kept for.

    `folder`: of the database, where the news of backups lies too.
    """

    def __init__(self, db: Database, site: Site, *, look_at: Sequence[time], folder: Path) -> None:
        self._db, self.site, self._look_at = db, site, look_at
        self._folder = folder
        self.channels: Sequence[Channel] = kept.channels(db)

    def begin(self, now: Stamp) -> None:
        """Mark where the first start ever begins: what was before is nobody's news."""
        if kept.mark(self._db, ALARM_LINE) is None:
            self._keep((), now, {ALARM_LINE: newest_line(self._db), STARTED: to_ms(now.at)})

    def alarms(self, now: Stamp) -> int:
        """Tell what the log says to annunciate, and of what was told that it is over."""
        before = int(kept.mark(self._db, ALARM_LINE) or 0)
        lines, last = lines_after(self._db, before, most=MOST_LINES)
        if last == before:
            return 0
        told: list[Notice] = []
        for line in lines:
            name = about(line.scope, line.event.alarm)
            newest = next((one.kind for one in reversed(told) if one.about == name), None)
            on = (newest or kept.told_of(self._db, name)) is Kind.ALARM
            notice = facts.of_alarm(line, site=self.site, told_before=on)
            if notice:
                told.append(notice)
        return self._keep(told, now, {ALARM_LINE: last})

    def forecasts(self, now: Stamp) -> int:
        """Tell what the newest forecast of each hanging group warns of."""
        groups = {
            group.number: (batch.number, group)
            for batch in hanging_batches(self._db)
            for group in batch.groups
            if group.room is not None
        }
        told = [
            notice
            for number, known in known_of(self._db, groups).items()
            if known.kept is not None
            and abs(
                known.kept.forecast.target_yield_ratio - groups[number][1].target_yield_pct / 100.0
            )
            <= SAME_TARGET_RATIO
            for notice in facts.of_forecast(
                known.kept,
                batch=groups[number][0],
                letter=groups[number][1].letter,
                look_at=self._look_at,
                site=self.site,
                now=now.at,
            )
        ]
        return self._keep(told, now)

    def day(self, now: Stamp) -> int:
        """Tell the open reminders, the newest morning's summary, and a backup that failed."""
        if self._since() > now.at:
            # It first started on a clock that was wrong, and all since would count as before it.
            self._keep((), now, {STARTED: to_ms(now.at)})
        told = [facts.of_reminder(one, now=now.at) for one in open_reminders(self._db)]
        summary = newest_summary(self._db)
        # One of the days before the first start is nobody's news.
        if summary is not None and summary.made_at >= self._since():
            told.append(facts.of_summary(summary))
        failed = watching.backup_failed(read_outcome(self._folder), zone=self.site.zone)
        if failed is not None and failed.made_at >= self._since():
            told.append(failed)
        return self._keep([one for one in told if one], now)

    def controller(self, board: LiveBoard | None, now: Stamp, *, watched_s: float) -> int:
        """Tell once that the controller does not report, and once that it does again."""
        told_as = kept.mark(self._db, OUTAGE)
        if watching.is_silent(board, now, watched_s=watched_s):
            name = watching.outage(board, now)
            if told_as and told_as["name"] == name:
                return 0
            mark = {"name": name, "ms": to_ms(now.at)}
            return self._keep(
                [watching.silent(board, now, zone=self.site.zone)], now, {OUTAGE: mark}
            )
        if told_as and watching.is_fresh(board, now):
            since_s = (now.at - from_ms(told_as["ms"])).total_seconds()
            notice = watching.back(
                told_as["name"], now, silent_s=since_s if since_s > 0.0 else None
            )
            return self._keep([notice], now, {OUTAGE: None})
        return 0

    def alive(self, board: LiveBoard | None, now: Stamp, *, weekday: int, at: time) -> int:
        """Tell once a week that notices arrive."""
        due_at = watching.latest_weekly(now.at, weekday=weekday, at=at, zone=self.site.zone)
        if due_at < self._since():
            return 0
        rooms = board.rooms if board else {}
        carried = [carried_on(self._db, one.name) for one in self.channels]
        told = watching.Alive(
            due_at=due_at,
            since_at=self._since(),
            rooms={
                title: rooms[name].air if name in rooms else None
                for name, title in self.site.room_titles.items()
            },
            reports=watching.is_fresh(board, now),
            # One that waits for its turn alone is no fault: the channel was not even tried.
            undelivered=sum(one.waiting for one in carried if one.why),
            backup=read_outcome(self._folder),
        )
        notice = watching.alive(told, units=self.site.units, zone=self.site.zone, now=now.at)
        return self._keep([notice], now)

    def _since(self) -> datetime:
        return from_ms(int(kept.mark(self._db, STARTED) or 0))

    def _keep(self, told: Sequence[Notice], now: Stamp, marks: dict[str, Any] | None = None) -> int:
        if not told and not marks:
            return 0
        if not marks and not kept.any_new(self._db, told):
            return 0  # a transaction for nothing would be a write to the card for nothing
        return kept.keep_notices(self._db, told, self.channels, stamp=now, marks=marks)
