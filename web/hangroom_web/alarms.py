"""Alarms as the page tells them: what, where, since when, what was done, what to do by when. Pure.

Only what the board says right now is an alarm of now; the caller asks whether the daemon reports.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from enum import StrEnum
from hashlib import sha256

from hangroom.alarm_table.log import kind_of
from hangroom.alarm_table.row import AlarmId, Row, Scope
from hangroom.alarm_table.table import TABLE
from hangroom.alarm_table.titles import TITLES
from hangroom.alarm_table.words import Condition, Suppression
from hangroom.alarm_words import say_where as say_where_in
from hangroom.store.live import LiveAlarm, LiveBoard
from hangroom.units import say_duration
from hangroom_web.alarm_words import CIRCUMSTANCES, RANK, URGENCY, say_figures, say_why
from hangroom_web.dates import say_moment
from hangroom_web.site import Site
from hangroom_web.words import _, in_a_sentence, sentence

# The code of the circumstance that keeps an alarm quiet, by scope and alarm.
Circumstances = Mapping[tuple[str, AlarmId], str]


class Standing(StrEnum):
    """Whose turn it is: somebody's, nobody's until it is over, a person's who keeps it quiet."""

    NEEDS_SOMEBODY = "needs-somebody"
    SEEN = "seen"
    HELD = "held"
    QUIET = "quiet"


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmNow:
    """One alarm that is not simply normal, in words, and what a person may do with it.

    `room` is what a wish names, '' for those of the service, batches and groups.
    """

    alarm: AlarmId
    scope: str
    room: str
    where: str
    title: str
    row: Row
    standing: Standing
    state: str
    over: bool
    since: str
    lasted: str
    figures: str
    why: str
    respond: str
    unacknowledged: bool
    may_reset: bool
    shelved: bool
    out_of_service: bool

    @property
    def urgency(self) -> str:
        """How soon somebody must act, in words."""
        return _("It is over") if self.over else URGENCY[self.row.priority]

    @property
    def needs_somebody(self) -> bool:
        """Whether it waits for a person."""
        return self.standing is Standing.NEEDS_SOMEBODY

    @property
    def said(self) -> str:
        """The alarm on one line, with what to do; the same as long as nothing new happens."""
        if self.over:
            return _("{where}: {title}, {since}. {todo}.").format(
                where=self.where,
                title=in_a_sentence(self.title),
                since=self.since,
                todo=_("Acknowledge it") if self.unacknowledged else _("Reset it"),
            )
        return _("{where}: {title}, {since}. {urgency}: {action}.").format(
            where=self.where,
            title=in_a_sentence(self.title),
            since=self.since,
            urgency=self.urgency,
            action=self.row.action,
        )


def alarms_now(
    board: LiveBoard, *, site: Site, circumstances: Circumstances | None = None
) -> list[AlarmNow]:
    """Return every alarm of the board, the most urgent of those that need somebody first."""
    order = list(Standing)
    return sorted(
        (_told(alarm, room, site, circumstances or {}) for room, alarm in _all(board)),
        key=lambda one: (
            order.index(one.standing),
            one.over,
            RANK[one.row.priority],
            one.where,
            one.title,
        ),
    )


def mark_of(alarms: Sequence[AlarmNow]) -> str:
    """Return a short mark that is another one as soon as any alarm's state is."""
    states = "|".join(f"{alarm.scope} {alarm.alarm} {alarm.state}" for alarm in alarms)
    return sha256(states.encode()).hexdigest()[:12]


def waiting(board: LiveBoard) -> int:
    """Return how many alarms of the board need somebody."""
    return sum(_standing(alarm) is Standing.NEEDS_SOMEBODY for _room, alarm in _all(board))


def say_where(scope: str, site: Site) -> str:
    """Return what the log's word for a room, batch or group means, for example 'Closet'."""
    return say_where_in(scope, {name: room.title for name, room in site.settings.room.items()})


def _all(board: LiveBoard) -> Iterator[tuple[str, LiveAlarm]]:
    for room, live in board.rooms.items():
        for alarm in live.alarms:
            yield room, alarm
    for alarm in board.alarms:
        yield "", alarm


def _told(alarm: LiveAlarm, room: str, site: Site, circumstances: Circumstances) -> AlarmNow:
    now, row = site.now(), TABLE[alarm.alarm]
    by_design = circumstances.get((alarm.scope, alarm.alarm), "")
    over = alarm.condition is Condition.NORMAL
    return AlarmNow(
        alarm=alarm.alarm,
        scope=alarm.scope,
        room=room,
        where=say_where(alarm.scope, site),
        title=TITLES[alarm.alarm],
        row=row,
        standing=_standing(alarm),
        state=_state(alarm, by_design, site),
        over=over,
        since=(_("over since {moment}") if over else _("since {moment}")).format(
            moment=say_moment(alarm.since_at, site.zone, now=now)
        ),
        lasted=say_duration((now - alarm.since_at).total_seconds()),
        figures=say_figures(alarm.figures, site.units),
        why=say_why(alarm.why, alarm.figures, site.units),
        respond=""
        if over
        else _("by {moment}").format(
            moment=say_moment(
                alarm.since_at + timedelta(seconds=row.respond_within_s), site.zone, now=now
            )
        ),
        unacknowledged=not alarm.acknowledged,
        may_reset=alarm.latched and over and alarm.acknowledged,
        shelved=alarm.suppression is Suppression.SHELVED,
        out_of_service=alarm.suppression is Suppression.OUT_OF_SERVICE,
    )


def _standing(alarm: LiveAlarm) -> Standing:
    match alarm.suppression:
        case Suppression.BY_DESIGN:
            return Standing.QUIET
        case Suppression.SHELVED | Suppression.OUT_OF_SERVICE:
            return Standing.HELD
    over_and_latched = alarm.latched and alarm.condition is Condition.NORMAL
    waits = not alarm.acknowledged or over_and_latched
    return Standing.NEEDS_SOMEBODY if waits else Standing.SEEN


def _state(alarm: LiveAlarm, by_design: str, site: Site) -> str:
    """Return the state in the standard's words, and who keeps it quiet, until when and why."""
    active = alarm.condition is Condition.ACTIVE
    condition = _("active") if active else _("returned to normal")
    match alarm.suppression:
        case Suppression.OUT_OF_SERVICE:
            return _("Out of service, by {by}: {why}. Condition: {condition}.").format(
                by=alarm.held_by, why=alarm.held_why, condition=condition
            )
        case Suppression.SHELVED:
            until = (
                _("until {moment}").format(
                    moment=say_moment(alarm.held_until, site.zone, now=site.now())
                )
                if alarm.held_until
                else ""
            )
            return _("Shelved {until} by {by}: {why}. Condition: {condition}.").format(
                until=until, by=alarm.held_by, why=alarm.held_why, condition=condition
            )
        case Suppression.BY_DESIGN:
            why = CIRCUMSTANCES.get(by_design, by_design)
            return _("Kept quiet by design{why}. Condition: {condition}.").format(
                why=f": {why}" if why else "", condition=condition
            )
    seen = _("acknowledged") if alarm.acknowledged else _("not acknowledged")
    if alarm.latched and not active:
        return _("Latched: over, {seen}, waits for a reset.").format(seen=seen)
    return _("{condition}, {seen}.").format(condition=sentence(condition), seen=seen)


def kinds_here(site: Site) -> list[tuple[str, str, AlarmId]]:
    """Return (scope, where, alarm) for every alarm that a room or the service can give."""
    return [
        (scope, say_where(scope, site), row.id)
        for scope in [*(f"{Scope.ROOM} {name}" for name in site.settings.room), str(Scope.SERVICE)]
        for row in TABLE.values()
        if row.scope is kind_of(scope)
    ]
