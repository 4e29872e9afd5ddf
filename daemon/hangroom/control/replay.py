"""Deciding again what was decided before, and where the two part ways."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from hangroom.control.memory import RoomState
from hangroom.control.outside import air_outside, judged_outside
from hangroom.control.room import decide
from hangroom.control.sensors.judged import UNJUDGED
from hangroom.terms import AirReading, RelayKind, RoomPlan


@dataclass(frozen=True, slots=True, kw_only=True)
class Tick:
    """What one decision went by; `uptime_s` is monotonic.

    `outside`: the readings of the sensors outside.
    """

    uptime_s: float
    plan: RoomPlan
    readings: Mapping[str, AirReading | None]
    outside: Mapping[str, AirReading | None] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Told:
    """A relay's position and the code of its reason, from a moment on (monotonic seconds)."""

    from_uptime_s: float
    relay: RelayKind
    closed: bool
    code: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """A stretch in which a relay was told one thing and would be told another today."""

    relay: RelayKind
    from_uptime_s: float
    until_uptime_s: float
    noted: Told | None
    today: Told | None

    @property
    def switched(self) -> bool:
        """Whether the position differs, and not only the reason."""
        return self.noted is None or self.today is None or self.noted.closed != self.today.closed


def told_again(state: RoomState, ticks: Iterable[Tick]) -> Iterator[Told]:
    """Yield what today's decisions tell the relays, whenever position or reason changes."""
    before: dict[RelayKind, tuple[bool, str]] = {}
    sensors_outside = UNJUDGED
    for tick in ticks:
        sensors_outside = judged_outside(sensors_outside, tick.outside, uptime_s=tick.uptime_s)
        decision = decide(
            state,
            tick.plan,
            tick.readings,
            uptime_s=tick.uptime_s,
            outside=air_outside(sensors_outside),
        )
        state = decision.state
        for command in decision.commands:
            now = (command.closed, command.because.code)
            if before.get(command.relay) != now:
                before[command.relay] = now
                yield Told(tick.uptime_s, command.relay, *now)


def differences(
    noted: Sequence[Told], today: Sequence[Told], *, until_uptime_s: float
) -> list[Difference]:
    """Return every stretch in which the two differ, by relay and time; both are in order."""
    found: list[Difference] = []
    relays = dict.fromkeys(told.relay for told in (*noted, *today))
    for relay in relays:
        one = [told for told in noted if told.relay is relay]
        other = [told for told in today if told.relay is relay]
        found += _differences_of(relay, one, other, until_uptime_s)
    return sorted(found, key=lambda difference: difference.from_uptime_s)


def _differences_of(
    relay: RelayKind, noted: Sequence[Told], today: Sequence[Told], until_uptime_s: float
) -> Iterator[Difference]:
    moments = sorted({told.from_uptime_s for told in (*noted, *today)})
    one: Told | None = None
    other: Told | None = None
    to_come = [list(reversed(noted)), list(reversed(today))]
    for number, from_s in enumerate(moments):
        one = _newest(one, to_come[0], from_s)
        other = _newest(other, to_come[1], from_s)
        if _same(one, other):
            continue
        until_s = moments[number + 1] if number + 1 < len(moments) else until_uptime_s
        yield Difference(
            relay=relay, from_uptime_s=from_s, until_uptime_s=until_s, noted=one, today=other
        )


def _newest(before: Told | None, to_come: list[Told], uptime_s: float) -> Told | None:
    while to_come and to_come[-1].from_uptime_s <= uptime_s:
        before = to_come.pop()
    return before


def _same(one: Told | None, other: Told | None) -> bool:
    if one is None or other is None:
        return one is other
    return (one.closed, one.code) == (other.closed, other.code)
