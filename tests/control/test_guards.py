import pytest

from hangroom.control.guards import guarded
from hangroom.control.memory import RelayMemory
from hangroom.control.wish import Wish, off, on, safe_off
from hangroom.terms import RelayRules

RULES = RelayRules(min_on_s=60, min_off_s=300, max_run_s=1200)
WANTS_ON, WANTS_OFF = on("too-warm"), off("cool-enough")
MUST_OFF = safe_off("implausible-reading")


@pytest.mark.parametrize(
    ("closed", "stayed_s", "wish", "outcome"),
    [
        pytest.param(False, 299.9, WANTS_ON, (False, "resting"), id="rests before it starts again"),
        pytest.param(False, 300.0, WANTS_ON, (True, "too-warm"), id="starts once it has rested"),
        pytest.param(False, 0.0, WANTS_OFF, (False, "cool-enough"), id="off may stay off"),
        pytest.param(True, 59.9, WANTS_OFF, (True, "minimum-run"), id="runs its shortest time"),
        pytest.param(True, 60.0, WANTS_OFF, (False, "cool-enough"), id="stops after it"),
        pytest.param(
            True, 0.0, MUST_OFF, (False, "implausible-reading"), id="safety stops at once"
        ),
        pytest.param(True, 1199.9, WANTS_ON, (True, "too-warm"), id="runs up to its longest run"),
        pytest.param(True, 1200.0, WANTS_ON, (False, "long-run"), id="and no longer"),
    ],
)
def test_a_guard_holds_a_relay_to_its_rules(
    closed: bool, stayed_s: float, wish: Wish, outcome: tuple[bool, str]
) -> None:
    memory = RelayMemory(closed=closed, changed_uptime_s=1000.0)
    guided = guarded(wish, memory, RULES, uptime_s=1000.0 + stayed_s)
    assert (guided.closed, guided.because.code) == outcome


def test_the_time_left_is_told() -> None:
    resting = RelayMemory(closed=False, changed_uptime_s=1000.0)
    assert guarded(WANTS_ON, resting, RULES, uptime_s=1100.0).because.figures == {"left_s": 200.0}
    running = RelayMemory(closed=True, changed_uptime_s=1000.0)
    assert guarded(WANTS_OFF, running, RULES, uptime_s=1010.0).because.figures == {"left_s": 50.0}
    assert guarded(WANTS_ON, running, RULES, uptime_s=2300.0).because.figures == {"ran_s": 1300.0}


def test_without_a_longest_run_a_relay_runs_for_ever() -> None:
    rules = RelayRules(min_on_s=60, min_off_s=300)
    running = RelayMemory(closed=True, changed_uptime_s=0.0)
    assert guarded(WANTS_ON, running, rules, uptime_s=1e9) == WANTS_ON
