"""Switching a relay by hand for a while, and leaving it to its controller again."""

from dataclasses import replace
from functools import partial

from hangroom.answers.asked import Applied, Asked, Noted
from hangroom.errors import InputError
from hangroom.store.overrides import forget_override, keep_override
from hangroom.store.request_body import choice, figure, switch, words
from hangroom.terms import LONGEST_OVERRIDE_S, Override, RelayKind, RoomPlan
from hangroom.units import say_duration


def override(asked: Asked) -> Applied:
    """Return what becomes of the wish to switch a relay by hand; a newer one replaces an older."""
    body, plan = asked.request.body, asked.plan
    relay = choice(body, "relay", RelayKind)
    closed, for_s, why = switch(body, "closed"), figure(body, "for_s"), words(body, "why")
    if not 0 < for_s <= LONGEST_OVERRIDE_S[relay]:
        raise InputError(
            f"A {relay.in_words} can be switched by hand for "
            f"{say_duration(LONGEST_OVERRIDE_S[relay])} at most. "
            "Choose a shorter time; it can be asked for again."
        )
    if closed and relay in plan.unproved:
        raise InputError(
            f"The {relay.in_words} has not been tried yet, so it stays off. Try it for a few "
            "seconds first: Setup, Check the sensors and relays."
        )
    wanted = Override(
        closed=closed,
        ends_uptime_s=asked.at.uptime_s + for_s,
        by=asked.request.asked_by,
        why=why,
    )
    position = "on" if closed else "off"
    return Applied(
        plan=with_override(plan, relay, wanted),
        keep=partial(keep_override, room=plan.name, relay=relay, override=wanted, at=asked.at),
        said=(
            f"The {relay.in_words} is wanted {position} for {say_duration(for_s)}, "
            "within every limit."
        ),
        noted=Noted(
            kind="override",
            figures={"for_s": for_s},
            words={"relay": relay, "position": position, "why": why},
        ),
    )


def override_end(asked: Asked) -> Applied:
    """Return what becomes of the wish to leave a relay to its controller again."""
    relay, plan = choice(asked.request.body, "relay", RelayKind), asked.plan
    if relay not in plan.overrides:
        raise InputError(
            f"No {relay.in_words} is switched by hand in this room. Nothing was changed."
        )
    return Applied(
        plan=without_override(plan, relay),
        keep=partial(forget_override, room=plan.name, relay=relay),
        said=f"The {relay.in_words} is left to the controller again.",
        noted=Noted(kind="override-ended", words={"relay": relay}),
    )


def with_override(plan: RoomPlan, relay: RelayKind, override: Override) -> RoomPlan:
    """Return the plan with a relay switched by hand; InputError where the room has none such."""
    if relay not in plan.relays:
        raise InputError(f"This room has no {relay.in_words}. Choose one that it has.")
    return replace(plan, overrides={**plan.overrides, relay: override})


def without_override(plan: RoomPlan, relay: RelayKind) -> RoomPlan:
    """Return the plan with a relay left to its controller."""
    rest = {kind: other for kind, other in plan.overrides.items() if kind is not relay}
    return replace(plan, overrides=rest)
