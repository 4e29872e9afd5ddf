"""What a proof outlives and what it does not: earlier running, a clock set back, an off by hand."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from loop.asking import NOW, Desk
from loop.fakes import EXHAUST, HUMIDIFIER, PLAN

from hangroom.store.moments import to_ms
from hangroom.store.proofs import ANSWERED_WITHIN, Wirings
from hangroom.store.requests import Kind, Word
from hangroom.terms import Wiring

FAN, HUMIDIFIER_S = Wiring(pin=27, active_high=True), Wiring(pin=17, active_high=True)
WIRED: Wirings = {"closet": {HUMIDIFIER: HUMIDIFIER_S, EXHAUST: FAN}}
ONE_LEFT_OUT: Wirings = {"closet": {HUMIDIFIER: HUMIDIFIER_S}}
OFF_BY_HAND: dict[str, Word] = {
    "relay": "exhaust-fan",
    "closed": False,
    "for_s": 3600.0,
    "why": "hands on the blades",
}


@pytest.fixture
def wired(tmp_path: Path) -> Iterator[Desk]:
    """A house whose relays are wired, and none proved."""
    desk = Desk(tmp_path, plans={"closet": PLAN}, wirings=WIRED)
    desk.plans = dict(desk.answers.kept(desk.settings, desk.clock.now(), desk.clock.uptime_s()))
    yield desk
    desk.close()


def ran_before(desk: Desk, relay: str) -> None:
    """Leave what the update leaves of a relay that an earlier version has run."""
    desk.page.execute(
        "insert into relay_proof"
        " (room, relay, tried_ms, tried_by, lasts_ms, seen, answered_ms, answered_by)"
        " values ('closet', ?, :at, 'earlier running', 0, 1, :at, 'earlier running')".replace(
            ":at", str(to_ms(NOW))
        ),
        (relay,),
    )


def test_earlier_running_proves_no_relay_that_is_wired_a_year_after_the_update(wired: Desk) -> None:
    """It holds for the wiring of the first start after it; what had none then was wired since."""
    ran_before(wired, "exhaust-fan")
    ran_before(wired, "humidifier")
    wired.wirings = ONE_LEFT_OUT
    wired.restart()
    assert HUMIDIFIER not in wired.plans["closet"].unproved
    wired.wirings = WIRED
    wired.restart()
    assert wired.plans["closet"].unproved >= {EXHAUST}
    assert HUMIDIFIER not in wired.plans["closet"].unproved


def test_a_start_with_simulated_rooms_takes_nobody_s_earlier_running(wired: Desk) -> None:
    ran_before(wired, "exhaust-fan")
    wired.wirings = {}
    wired.restart()
    wired.wirings = WIRED
    wired.restart()
    assert EXHAUST not in wired.plans["closet"].unproved


def test_a_clock_that_was_set_back_makes_no_trial_of_long_ago_new(wired: Desk) -> None:
    wired.applied(Kind.RELAY_TRY, relay="exhaust-fan")
    wired.restart(boot=True, off_s=ANSWERED_WITHIN.total_seconds(), wall_lost_s=7200.0)
    assert "No trial" in wired.refused(Kind.RELAY_PROOF, relay="exhaust-fan", seen=True)


def test_a_trial_is_refused_while_a_person_has_switched_the_relay_off(wired: Desk) -> None:
    """Whoever holds it off may have a hand in it, and a trial would end that."""
    wired.applied(Kind.OVERRIDE, **OFF_BY_HAND)
    said = wired.refused(Kind.RELAY_TRY, relay="exhaust-fan")
    assert "by hand" in said
    wired.applied(Kind.OVERRIDE_END, relay="exhaust-fan")
    assert "runs for" in wired.applied(Kind.RELAY_TRY, relay="exhaust-fan")


@pytest.mark.parametrize("seen", [True, False])
def test_what_was_seen_ends_no_off_that_was_asked_for_since(wired: Desk, seen: bool) -> None:
    wired.applied(Kind.RELAY_TRY, relay="exhaust-fan")
    wired.applied(Kind.OVERRIDE, **OFF_BY_HAND)
    asked = wired.plans["closet"].overrides[EXHAUST]
    wired.applied(Kind.RELAY_PROOF, relay="exhaust-fan", seen=seen)
    assert wired.plans["closet"].overrides.get(EXHAUST) == asked


def test_nobody_has_seen_what_has_not_begun_to_run(wired: Desk) -> None:
    """Both wishes in one round: no contact has moved when the second is answered."""
    wired.ask(Kind.RELAY_TRY, relay="exhaust-fan")
    yes = wired.ask(Kind.RELAY_PROOF, relay="exhaust-fan", seen=True)
    wired.tick()
    assert "not begun to run" in (wired.request(yes).answer or "")
    assert EXHAUST in wired.plans["closet"].unproved
    assert "is proved" in wired.applied(Kind.RELAY_PROOF, relay="exhaust-fan", seen=True)


def test_what_was_seen_ends_the_trial(wired: Desk) -> None:
    wired.applied(Kind.RELAY_TRY, relay="exhaust-fan")
    wired.applied(Kind.RELAY_PROOF, relay="exhaust-fan", seen=True)
    assert EXHAUST not in wired.plans["closet"].overrides
