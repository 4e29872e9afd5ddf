"""What a room's sensors are worth at one tick: each one's verdict, and the air they add up to.

Read this file first. A bad reading is absent: never zero, never an old one with
a new stamp. What was measured before it is gone by until it expires.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import inf

from hangroom.control.sensors.correction import corrected
from hangroom.control.sensors.doubt import UNSEEN, SensorMemory, looked_at
from hangroom.control.sensors.surroundings import surroundings_of
from hangroom.control.sensors.voting import Air, voted
from hangroom.control.use import RelayMemory
from hangroom.terms import AirReading, Because, Calibration, RelayKind, RoomPlan

# Decisions are dated to the tick that was due; a reading may have come while it was late.
SEEN_LATE_S = 2.0

# The verdicts that doubt no value, because there is no fresh one.
SILENT = frozenset({"no-reading", "stale-reading", "future-reading"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """The sensors as judged at one tick, which is also all that the next one need know of them.

    `memories`: by sensor, of those that ever measured. `verdicts`: each sensor's reading after its
    calibration, or why it is not gone by. `air`: what control believes, or why nothing. `readings`
    and `calibrations`: what was judged. `oldest_uptime_s`: when the oldest reading that counts was
    taken, minus infinity where a sensor has no fresh one.
    """

    memories: Mapping[str, SensorMemory]
    verdicts: Mapping[str, AirReading | Because]
    air: Air | Because
    readings: Mapping[str, AirReading | None]
    calibrations: Mapping[str, Calibration]
    oldest_uptime_s: float

    def stands(
        self, readings: Mapping[str, AirReading | None], plan: RoomPlan, *, uptime_s: float
    ) -> bool:
        """Whether nothing came since and nothing has expired, so that no verdict can change."""
        return (
            uptime_s - self.oldest_uptime_s <= plan.reading_expires_s
            and readings == self.readings
            and plan.calibrations == self.calibrations
        )


UNJUDGED = Judged(
    memories={},
    verdicts={},
    air=Because("no-reading"),
    readings={},
    calibrations={},
    oldest_uptime_s=-inf,
)


def judged(
    before: Judged,
    readings: Mapping[str, AirReading | None],
    plan: RoomPlan,
    relays: Mapping[RelayKind, RelayMemory],
    *,
    uptime_s: float,
) -> Judged:
    """Return what each sensor's newest reading is worth now, with the relays as they are so far."""
    if before.stands(readings, plan, uptime_s=uptime_s):
        return before
    surroundings = surroundings_of(relays.values())
    memories = dict(before.memories)
    verdicts: dict[str, AirReading | Because] = {}
    oldest_uptime_s = inf
    for name, newest in readings.items():
        reading = _fresh(newest, uptime_s=uptime_s, expires_s=plan.reading_expires_s)
        if isinstance(reading, Because):
            verdicts[name] = reading
            oldest_uptime_s = -inf
            continue
        memory = memories.get(name, UNSEEN)
        # Judged by its moment, so that the same reading from a journal is no second one.
        if memory.newest is None or memory.newest.taken_uptime_s != reading.taken_uptime_s:
            memory = looked_at(memory, reading, surroundings, expires_s=plan.reading_expires_s)
            memories[name] = memory
        verdicts[name] = _gone_by(memory, plan, name, uptime_s=uptime_s)
        oldest_uptime_s = min(oldest_uptime_s, _taken_uptime_s(verdicts[name], reading))
    usable = [verdict for verdict in verdicts.values() if isinstance(verdict, AirReading)]
    return Judged(
        memories=memories,
        verdicts=verdicts,
        air=voted(usable) if usable else _nothing(verdicts.values()),
        readings=dict(readings),
        calibrations=plan.calibrations,
        oldest_uptime_s=oldest_uptime_s,
    )


def _gone_by(
    memory: SensorMemory, plan: RoomPlan, name: str, *, uptime_s: float
) -> AirReading | Because:
    speaks = memory.speaks
    if speaks is not None:
        reading = _fresh(speaks, uptime_s=uptime_s, expires_s=plan.reading_expires_s)
        if isinstance(reading, AirReading):
            return corrected(reading, plan.calibrations.get(name))
    return memory.doubt or Because("no-reading")


def _taken_uptime_s(verdict: AirReading | Because, newest: AirReading) -> float:
    return (verdict if isinstance(verdict, AirReading) else newest).taken_uptime_s


def _fresh(
    reading: AirReading | None, *, uptime_s: float, expires_s: float
) -> AirReading | Because:
    if reading is None:
        return Because("no-reading")
    age_s = uptime_s - reading.taken_uptime_s
    if -SEEN_LATE_S <= age_s <= expires_s:
        return reading
    if age_s > expires_s:
        return Because("stale-reading", {"age_s": age_s})
    return Because("future-reading", {"ahead_s": max(0.0, -age_s)})


def _nothing(verdicts: Iterable[AirReading | Because]) -> Because:
    """Return the reason that lies nearest to a usable reading."""
    why = [verdict for verdict in verdicts if isinstance(verdict, Because)]
    doubted = [because for because in why if because.code not in SILENT]
    if doubted:
        return doubted[0]
    stale = [because for because in why if because.code == "stale-reading"]
    if stale:
        return min(stale, key=lambda because: because.figures["age_s"])
    return why[0] if why else Because("no-reading")
