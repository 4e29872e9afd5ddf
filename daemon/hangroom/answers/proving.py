"""Trying a relay for a few seconds, and what a person saw of it: that alone proves it."""

from collections.abc import Sequence
from dataclasses import replace
from functools import partial

from hangroom.answers.asked import Applied, Asked, Noted
from hangroom.answers.override import with_override, without_override
from hangroom.errors import InputError
from hangroom.reasons import say
from hangroom.store.proofs import keep_answer, keep_trial, proofs, to_be_answered
from hangroom.store.request_body import choice, switch
from hangroom.terms import TRIAL_S, Because, Command, Override, RelayKind, Wiring
from hangroom.units import say_duration

# The next round of the loop carries out what is answered in this one.
NEXT_ROUND_S = 2.0
# What sums of moments may lose in their last digits, and far less than a round.
A_TRIFLE_S = 0.5

WHAT_TO_CHECK = (
    "Pull its plug, then check the plug, the load's own switch, the wire to pin {pin}, and whether "
    "the relay board closes on a {level} pin (active_high in the settings). Then try it again."
)


def relay_try(asked: Asked) -> Applied:
    """Return what becomes of the wish to try a relay: done within every limit, or refused."""
    relay, plan = choice(asked.request.body, "relay", RelayKind), asked.plan
    wiring = _wiring(asked, relay)
    if any(one.trial for one in plan.overrides.values()):
        raise InputError("A relay of this room is being tried at this moment. One after the other.")
    if relay in plan.overrides:
        # A trial would take the place of an off that somebody relies on, hands on the blades.
        raise InputError(
            f"The {relay.in_words} is switched by hand at this moment, and stays so. Leave it to "
            "the controller first, then try it."
        )
    lasts_s = TRIAL_S[relay]
    trial = Override(
        closed=True,
        ends_uptime_s=asked.at.uptime_s + NEXT_ROUND_S + lasts_s,
        by=asked.request.asked_by,
        why="a trial",
        trial=True,
    )
    tried = with_override(plan, relay, trial)
    against = _why_not(relay, asked.foresee(tried))
    if against is not None:
        raise InputError(
            f"The {relay.in_words} cannot be tried now: {say(against, asked.units)}. "
            "It stays off. Try again when that is over."
        )
    return Applied(
        plan=tried,
        keep=partial(
            keep_trial,
            room=plan.name,
            relay=relay,
            wiring=wiring,
            lasts_s=lasts_s,
            by=asked.request.asked_by,
            now=asked.at.now,
        ),
        said=f"The {relay.in_words} runs for {say_duration(lasts_s)}. Look and listen.",
        noted=Noted(kind="relay-tried", figures={"for_s": lasts_s}, words={"relay": relay}),
    )


def relay_proof(asked: Asked) -> Applied:
    """Return what becomes of what a person saw of the newest trial of a relay."""
    body, plan = asked.request.body, asked.plan
    relay, seen = choice(body, "relay", RelayKind), switch(body, "seen")
    wiring = _wiring(asked, relay)
    trial = to_be_answered(proofs(asked.db), plan.name, relay, now=asked.at.now)
    if trial is None:
        raise InputError(
            f"No trial of the {relay.in_words} waits for an answer. Try it, then say what you saw."
        )
    by_hand = plan.overrides.get(relay)
    tried = by_hand if by_hand is not None and by_hand.trial else None
    if seen and tried and tried.ends_uptime_s - TRIAL_S[relay] > asked.at.uptime_s + A_TRIFLE_S:
        raise InputError(
            f"The {relay.in_words} has not begun to run. Look and listen, then say what you saw."
        )
    rest = plan.unproved - {relay} if seen else plan.unproved | {relay}
    level = "high" if wiring.active_high else "low"
    advice = WHAT_TO_CHECK.format(pin=wiring.pin, level=level)
    return Applied(
        # What was switched by hand since the trial stays as it was asked for.
        plan=replace(without_override(plan, relay) if tried else plan, unproved=rest),
        keep=partial(
            keep_answer,
            number=trial.number,
            seen=seen,
            by=asked.request.asked_by,
            now=asked.at.now,
        ),
        said=(
            f"The {relay.in_words} is proved. The controller runs it from now on."
            if seen
            else f"The {relay.in_words} stays off and is only watched. {advice}"
        ),
        noted=Noted(kind="relay-proved" if seen else "relay-not-proved", words={"relay": relay}),
    )


def _wiring(asked: Asked, relay: RelayKind) -> Wiring:
    if relay not in asked.plan.relays:
        raise InputError(f"This room has no {relay.in_words}. Choose one that it has.")
    if relay not in asked.wirings:
        raise InputError(
            f"The {relay.in_words} is simulated here: there is nothing to hear or see."
        )
    return asked.wirings[relay]


def _why_not(relay: RelayKind, foreseen: Sequence[Command]) -> Because | None:
    """Return why a relay would stay open though it is tried, None where it would close."""
    for command in foreseen:
        if command.relay is relay and not command.closed:
            return command.because
    return None
