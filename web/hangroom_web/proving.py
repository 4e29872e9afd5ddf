"""How far relays are proved, in words: what to look for in a trial, and who saw what. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from hangroom.settings import RoomTable
from hangroom.store.proofs import Proof, to_be_answered
from hangroom.terms import TRIAL_S, RelayKind
from hangroom.units import say_duration
from hangroom_web.dates import say_moment
from hangroom_web.relays import RELAY_NAMES, RelayNow
from hangroom_web.rooms import RoomNow
from hangroom_web.words import _, in_a_sentence

# By what the right thing can be told, and what must be there before.
SIGNS = {
    RelayKind.HUMIDIFIER: _("Fill the tank first. You should see mist."),
    RelayKind.EXHAUST_FAN: _("Hands off the blades. You should hear it, and feel air go out."),
    RelayKind.CIRCULATION_FAN: _("Hands off the blades. You should hear it, and feel air move."),
    RelayKind.COOLING: _("You should hear the compressor start; it then rests for a while."),
    RelayKind.HEATER: _("Nothing may lie on it. You should hear the relay click."),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class RelayProof:
    """A relay as it can be tried: how it is wired, how far it is proved, what is asked about it.

    `proved` is None where nobody knows. `question` is '' where no trial waits for an answer.
    """

    kind: RelayKind
    name: str
    wired: str
    said: str
    proved: bool | None
    sign: str
    button: str
    question: str
    record: str


def relay_proof(
    table: RoomTable,
    room: RoomNow,
    relay: RelayNow,
    known: Sequence[Proof],
    *,
    zone: ZoneInfo,
    now: datetime,
) -> RelayProof:
    """Return how far a relay is proved; `known`: every trial, oldest first."""
    wiring, name = table.wirings()[relay.kind], RELAY_NAMES[relay.kind]
    waits = to_be_answered(known, room.name, relay.kind, now=now)
    lasts = say_duration(TRIAL_S[relay.kind])
    return RelayProof(
        kind=relay.kind,
        name=name,
        wired=_("pin {pin}, closes on a {level} pin").format(
            pin=wiring.pin, level=_("high") if wiring.active_high else _("low")
        ),
        said=relay.said,
        proved=None if relay.closed is None else not relay.watched,
        sign=SIGNS[relay.kind],
        button=_("Run the {relay} for {lasts}").format(relay=in_a_sentence(name), lasts=lasts),
        question=""
        if waits is None
        else _("Did the {relay} run, and nothing else?").format(relay=in_a_sentence(name)),
        record=_say_record(known, room.name, relay.kind, zone=zone, now=now),
    )


def _say_record(
    known: Sequence[Proof], room: str, relay: RelayKind, *, zone: ZoneInfo, now: datetime
) -> str:
    """Return who saw what of it last, '' where nobody has tried it."""
    answered = [one for one in known if (one.room, one.relay) == (room, relay) and one.answered_at]
    if not answered or answered[-1].answered_at is None:
        return ""
    last = answered[-1]
    moment = say_moment(answered[-1].answered_at, zone, now=now)
    if not last.counts:
        return _("Last tried on another pin or level, {moment}; that no longer counts.").format(
            moment=moment
        )
    if not last.lasts_s:
        return _("Counts as proved, because an earlier version has run it until {moment}.").format(
            moment=moment
        )
    saw = _("it ran") if last.seen else _("it did not run as it should")
    return _("Tried for {lasts}, {moment}: {saw} ({by}).").format(
        lasts=say_duration(last.lasts_s), moment=moment, saw=saw, by=last.answered_by
    )
