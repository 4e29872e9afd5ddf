"""Relays by hand from the page, lockouts lifted by hand, and overrides that end by themselves."""

import pytest
from loop.asking import PLANS, Desk, locked

from hangroom.store.requests import Kind, Word
from hangroom.terms import Override, RelayKind

FAN: dict[str, Word] = {
    "relay": "exhaust-fan",
    "closed": True,
    "for_s": 600.0,
    "why": "smoke in the room",
}


def overridden(desk: Desk) -> set[RelayKind]:
    return set(desk.plans["closet"].overrides)


def test_an_override_is_applied_with_its_end_who_and_why(desk: Desk) -> None:
    said = desk.applied(Kind.OVERRIDE, **FAN)
    assert "10 min" in said
    assert desk.plans["closet"].overrides == {
        RelayKind.EXHAUST_FAN: Override(
            closed=True,
            ends_uptime_s=desk.clock.uptime_s() + 600,
            by="keeper",
            why="smoke in the room",
        )
    }
    assert desk.events() == [
        (
            "override",
            "closet",
            {"for_s": 600.0},
            {
                "by": "keeper",
                "relay": "exhaust-fan",
                "position": "on",
                "why": "smoke in the room",
            },
        )
    ]


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"relay": "oven"}, "must be one of: humidifier"),
        ({"relay": "cooling"}, "no cooling"),
        ({"closed": "yes"}, "whether 'closed'"),
        ({"closed": 1}, "whether 'closed'"),
        ({"closed": None}, "whether 'closed'"),
        ({"for_s": None}, "no 'for_s'"),
        ({"for_s": 0}, "at most"),
        ({"for_s": -60}, "at most"),
        ({"for_s": 4 * 3600 + 1}, "4 h at most"),
        ({"relay": "humidifier", "for_s": 1801}, "30 min at most"),
        ({"why": ""}, "nothing under 'why'"),
        ({"why": " \n "}, "nothing under 'why'"),
        ({"why": None}, "nothing under 'why'"),
    ],
)
def test_an_override_that_does_not_hold_is_refused_with_the_reason(
    desk: Desk, change: dict[str, Word], says: str
) -> None:
    assert says in desk.refused(Kind.OVERRIDE, **(FAN | change))
    assert desk.restart() == PLANS


@pytest.mark.parametrize(("relay", "for_s"), [("exhaust-fan", 4 * 3600), ("humidifier", 1800)])
def test_the_longest_override_is_applied(desk: Desk, relay: str, for_s: float) -> None:
    desk.applied(Kind.OVERRIDE, **(FAN | {"relay": relay, "for_s": for_s}))


def test_an_override_ends_by_itself_and_is_noted_once(desk: Desk) -> None:
    desk.applied(Kind.OVERRIDE, **FAN)
    desk.tick(after_s=598)
    assert overridden(desk) == {RelayKind.EXHAUST_FAN}
    desk.tick()
    desk.tick()
    assert overridden(desk) == set()
    assert desk.events()[1:] == [
        ("override-ended", "closet", {}, {"relay": "exhaust-fan", "asked_by": "keeper"})
    ]
    assert desk.page["override"].count == 0


def test_a_newer_override_takes_the_place_of_an_older_one(desk: Desk) -> None:
    desk.applied(Kind.OVERRIDE, **FAN)
    desk.applied(Kind.OVERRIDE, **(FAN | {"closed": False, "for_s": 60.0}))
    override = desk.plans["closet"].overrides[RelayKind.EXHAUST_FAN]
    assert (override.closed, override.ends_uptime_s) == (False, desk.clock.uptime_s() + 60)
    assert desk.page["override"].count == 1


def test_an_override_is_ended_by_hand(desk: Desk) -> None:
    desk.applied(Kind.OVERRIDE, **FAN)
    desk.applied(Kind.OVERRIDE, **(FAN | {"relay": "humidifier"}))
    desk.applied(Kind.OVERRIDE_END, relay="exhaust-fan")
    assert overridden(desk) == {RelayKind.HUMIDIFIER}
    desk.restart()
    assert overridden(desk) == {RelayKind.HUMIDIFIER}
    assert "No exhaust fan" in desk.refused(Kind.OVERRIDE_END, relay="exhaust-fan")
    assert "one of" in desk.refused(Kind.OVERRIDE_END, relay="oven")


@pytest.mark.parametrize("jump_s", [-86_400.0, 86_400.0])
def test_a_jump_of_the_wall_clock_ends_no_override_and_stretches_none(
    desk: Desk, jump_s: float
) -> None:
    desk.applied(Kind.OVERRIDE, **FAN)
    desk.clock.step_wall(jump_s)
    desk.answers.clock_jumped()
    desk.tick(after_s=598)
    assert overridden(desk)
    desk.tick()
    assert not overridden(desk)


def test_an_override_ends_while_the_database_is_locked(desk: Desk) -> None:
    desk.applied(Kind.OVERRIDE, **FAN)
    other = locked(desk)
    desk.tick(after_s=600)
    assert not overridden(desk)
    other.execute("rollback")
    other.close()
    desk.tick()
    assert desk.page["override"].count == 0
    assert [event[0] for event in desk.events()] == ["override", "override-ended"]


def test_lockouts_from_before_this_moment_are_lifted(desk: Desk) -> None:
    assert desk.plans["closet"].lockouts_lifted_uptime_s is None
    desk.applied(Kind.LOCKOUTS_LIFT)
    assert desk.plans["closet"].lockouts_lifted_uptime_s == desk.clock.uptime_s()
    assert desk.plans["fridge"].lockouts_lifted_uptime_s is None
    assert desk.events() == [("lockouts-lifted", "closet", {}, {"by": "keeper"})]
