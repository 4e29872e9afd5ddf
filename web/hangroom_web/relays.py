"""A room's relays in words: where each is and why, by hand, locked out, what was learned. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from hangroom.reasons import say
from hangroom.store.live import LiveOverride, LiveRelay
from hangroom.terms import Because, RelayKind
from hangroom.units import Units, say_duration
from hangroom_web.dates import say_moment
from hangroom_web.site import Site
from hangroom_web.words import _, in_a_sentence

RELAY_NAMES = {
    RelayKind.HUMIDIFIER: _("Humidifier"),
    RelayKind.EXHAUST_FAN: _("Exhaust fan"),
    RelayKind.CIRCULATION_FAN: _("Circulation fan"),
    RelayKind.COOLING: _("Cooling"),
    RelayKind.HEATER: _("Heater"),
}

# What one dose of a relay does; only these give doses.
DOSES = {
    RelayKind.HUMIDIFIER: _("Gives {dose} of mist at a time"),
    RelayKind.EXHAUST_FAN: _("Airs for {dose} at a time"),
}

# The reasons that these pages act on; all others are only said.
BY_HAND = "by-hand"
LOCKED_OUT = "locked-out"


@dataclass(frozen=True, slots=True, kw_only=True)
class RelayNow:
    """One relay: `closed` is None where nobody knows; `said` is the sentence for the page.

    `override`: what a person wants of it, `by_hand` the same in words. `learned`: what is known of
    its dose, '' where it gives none. `watched`: it is not proved, so it stays off.
    """

    kind: RelayKind
    closed: bool | None
    since_at: datetime | None
    because: str | None
    said: str
    unknown: str
    override: LiveOverride | None = None
    by_hand: str = ""
    locked_out: bool = False
    dose_s: float | None = None
    learned: str = ""
    watched: bool = False


def relay_now(kind: RelayKind, live: LiveRelay | None, *, site: Site, now: datetime) -> RelayNow:
    """Return what may be said of a relay; `live` is None where the daemon does not report."""
    name = RELAY_NAMES[kind]
    unknown = _("{relay}: unknown").format(relay=name)
    if live is None:
        return RelayNow(
            kind=kind, closed=None, since_at=None, because=None, said=unknown, unknown=unknown
        )
    because = say_because(live.because, site.units)
    by_hand = "" if live.override is None else say_override(live.override, site=site, now=now)
    moved_by_hand = live.because.code == BY_HAND and by_hand
    said = _("{relay} {position} since {moment}: {because}.").format(
        relay=name,
        position=say_position(closed=live.closed),
        moment=say_moment(live.since_at, site.zone, now=now),
        because=by_hand if moved_by_hand else because,
    )
    if live.would is not None:
        said = _("{relay} off, not tried yet. It would be {position}: {because}.").format(
            relay=name,
            position=say_position(closed=live.would.closed),
            because=say_because(live.would.because, site.units),
        )
    if by_hand and not moved_by_hand:
        said = _("{said} Wanted {by_hand}.").format(said=said, by_hand=by_hand)
    return RelayNow(
        kind=kind,
        closed=live.closed,
        since_at=live.since_at,
        because=because,
        said=said,
        unknown=unknown,
        override=live.override,
        by_hand=by_hand,
        locked_out=live.because.code == LOCKED_OUT,
        dose_s=live.dose_s,
        learned=_learned(kind, live),
        watched=live.watched,
    )


def say_watched(relays: Sequence[RelayNow]) -> str:
    """Return for example 'Watch only: humidifier and fan not tried yet.', '' for none."""
    names = [in_a_sentence(RELAY_NAMES[relay.kind]) for relay in relays if relay.watched]
    if not names:
        return ""
    *most, last = names
    listed = _("{most} and {last}").format(most=", ".join(most), last=last) if most else last
    return _("Watch only: {relays} not tried yet.").format(relays=listed)


def say_position(*, closed: bool) -> str:
    """Return 'on' or 'off'."""
    return _("on") if closed else _("off")


def say_override(override: LiveOverride, *, site: Site, now: datetime) -> str:
    """Return for example 'on by hand until 10:05 (Ada: trying it out)'."""
    return _("{position} by hand until {moment} ({by}: {why})").format(
        position=say_position(closed=override.closed),
        moment=say_moment(override.ends_at, site.zone, now=now),
        by=override.by,
        why=override.why,
    )


def say_because(because: Because, units: Units) -> str:
    """Return a reason in words, or its code where this page does not know it."""
    try:
        return say(because, units)
    except KeyError:
        # A daemon newer than this page may know reasons that the page does not.
        return because.code


def _learned(kind: RelayKind, live: LiveRelay) -> str:
    if live.dose_s is None or kind not in DOSES:
        return ""
    gives = DOSES[kind].format(dose=say_duration(live.dose_s))
    if live.dose_proved:
        return _("{gives}; proved: doses have had their effect.").format(gives=gives)
    return _("{gives}; not proved yet: no dose has had an effect so far.").format(gives=gives)
