"""What is sent next, on which channel, and what waits. Pure: what is open and the time in, one out.

Per channel: urgent notices go at once, whatever the hour. The rest waits a little for company, for
the end of the quiet hours and for its turn in the hour, and then goes as one message. While a
channel does not deliver, what comes new waits with it, so that it arrives as one and not as many.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import time

from hangroom.product.notice import RANK, Stamp, Urgency
from hangroom.store.deliveries import Message, State, Waiting

MINUTE_S, HOUR_S = 60.0, 3600.0

# After which try how long until the next; beyond the last of them, the last. The task's own ladder.
RETRY_AFTER_S = (1 * MINUTE_S, 5 * MINUTE_S, 15 * MINUTE_S, 60 * MINUTE_S)
# Tries at 0, 1, 6, 21 and 81 min, then hourly: the 75th comes 71 h after the first. Counted, not
# timed, so that neither a power cut nor a jump of the clock takes tries away.
MOST_TRIES = 75

# How long a notice waits for company, so that one cause rings once. Our own judgement.
SETTLE_S = {Urgency.HIGH: 0.0, Urgency.MEDIUM: 20.0, Urgency.LOW: 5 * MINUTE_S}

# A message that failed so often holds up the next no longer: it may be itself what is refused.
HOLDS_UP_TRIES = 5
# But a dead channel gathers no more messages than these; all else waits to be one.
MOST_OPEN = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Rules:
    """The keeper's: quiet hours in local time, None for none, and the most messages in an hour."""

    quiet_from: time | None = None
    quiet_until: time | None = None
    most_per_hour: int = 6

    def is_quiet(self, local: time) -> bool:
        """Whether a local time lies in the quiet hours, which may reach over midnight."""
        if self.quiet_from is None or self.quiet_until is None:
            return False
        if self.quiet_from <= self.quiet_until:
            return self.quiet_from <= local < self.quiet_until
        return local >= self.quiet_from or local < self.quiet_until


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A channel and what it has to carry; `recent`: its last messages that were not urgent."""

    channel: str
    waiting: Sequence[Waiting]
    open: Sequence[Message]
    recent: Sequence[Message]


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """What is tried now: a message once more, or some notices that become one."""

    channel: str
    again: Message | None = None
    new: Sequence[Waiting] = ()
    high: bool


def next_turn(lines: Iterable[Line], rules: Rules, *, now: Stamp, local: time) -> Turn | None:
    """Return what is tried now, the urgent first, then what failed least; None for nothing yet."""
    quiet = rules.is_quiet(local)
    due = [turn for line in lines for turn in _due(line, rules, now, quiet=quiet)]
    return min(due, key=_order, default=None)


def retry_after_s(tries: int) -> float:
    """Return how long after a failed try the next one comes."""
    return RETRY_AFTER_S[min(tries, len(RETRY_AFTER_S)) - 1]


def _order(turn: Turn) -> tuple[bool, int]:
    return not turn.high, turn.again.tries if turn.again else 0


def _due(line: Line, rules: Rules, now: Stamp, *, quiet: bool) -> Iterator[Turn]:
    for message in line.open:
        if now.since_s(message.tried) < retry_after_s(message.tries):
            continue
        if message.high or not (quiet or _is_full(line, rules, now, but=message.number)):
            yield Turn(channel=line.channel, again=message, high=message.high)
    urgent = [one for one in line.waiting if one.notice.urgency is Urgency.HIGH]
    if urgent:
        yield Turn(channel=line.channel, new=urgent, high=True)
    rest = [one for one in line.waiting if one.notice.urgency is not Urgency.HIGH]
    settled = any(now.since_s(one.made) >= SETTLE_S[one.notice.urgency] for one in rest)
    if settled and not quiet and not _holds_up(line) and not _is_full(line, rules, now):
        yield Turn(channel=line.channel, new=rest, high=False)


def _holds_up(line: Line) -> bool:
    plain = [message for message in line.open if not message.high]
    return len(plain) >= MOST_OPEN or any(one.tries < HOLDS_UP_TRIES for one in plain)


def _is_full(line: Line, rules: Rules, now: Stamp, *, but: int | None = None) -> bool:
    """Whether the channel has had its messages of this hour; one that comes again counts once."""
    plain = {message.number: message for message in (*line.recent, *line.open) if not message.high}
    had = [
        message
        for message in plain.values()
        if message.number != but
        and message.state is not State.GIVEN_UP
        and now.since_s(message.tried) < HOUR_S
    ]
    return len(had) >= rules.most_per_hour


def by_urgency(waiting: Iterable[Waiting]) -> list[Waiting]:
    """Return notices with the most urgent first, each kind in the order it was made."""
    return sorted(waiting, key=lambda one: (RANK[one.notice.urgency], one.number))
