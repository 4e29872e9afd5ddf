"""What protects a relay: each rule alone, by examples; what the rules are is in RelayRules."""

import pytest

from hangroom.control.guards import guarded
from hangroom.control.use import RelayMemory, Run, told
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
        pytest.param(True, 1200.0, WANTS_OFF, (False, "cool-enough"), id="ends by itself in time"),
    ],
)
def test_a_guard_holds_a_relay_to_its_rules(
    closed: bool, stayed_s: float, wish: Wish, outcome: tuple[bool, str]
) -> None:
    memory = RelayMemory(closed=closed, changed_uptime_s=1000.0)
    guided, _ = guarded(wish, memory, RULES, uptime_s=1000.0 + stayed_s)
    assert (guided.closed, guided.because.code) == outcome


def test_the_time_left_is_told() -> None:
    def figures(memory: RelayMemory, wish: Wish, uptime_s: float) -> dict[str, float]:
        return dict(guarded(wish, memory, RULES, uptime_s=uptime_s)[0].because.figures)

    resting = RelayMemory(closed=False, changed_uptime_s=1000.0)
    assert figures(resting, WANTS_ON, 1100.0) == {"left_s": 200.0}
    running = RelayMemory(closed=True, changed_uptime_s=1000.0)
    assert figures(running, WANTS_OFF, 1010.0) == {"left_s": 50.0}
    assert figures(running, WANTS_ON, 2300.0) == {"ran_s": 1300.0}


def test_without_a_longest_run_a_relay_runs_for_ever() -> None:
    rules = RelayRules(min_on_s=60, min_off_s=300)
    running = RelayMemory(closed=True, changed_uptime_s=0.0)
    assert guarded(WANTS_ON, running, rules, uptime_s=1e9) == (WANTS_ON, running)


def test_a_quiet_relay_keeps_the_very_same_memory() -> None:
    for closed, wish in ((True, WANTS_ON), (False, WANTS_OFF)):
        memory = RelayMemory(closed=closed, changed_uptime_s=0.0)
        assert guarded(wish, memory, RULES, uptime_s=1000.0)[1] is memory


class Relay:
    """A relay under its guard alone, with a controller that always wants the same."""

    def __init__(self, rules: RelayRules) -> None:
        self._rules = rules
        self._memory = RelayMemory(closed=False, changed_uptime_s=-1e6)
        self.said: list[tuple[float, bool, str]] = []

    def live(
        self, from_s: int, until_s: int, wish: Wish = WANTS_ON, lifted_uptime_s: float | None = None
    ) -> None:
        """Live second by second; `said`: every change of position or reason."""
        for uptime_s in range(from_s, until_s):
            guided, memory = guarded(
                wish, self._memory, self._rules, uptime_s=uptime_s, lifted_uptime_s=lifted_uptime_s
            )
            self._memory = told(memory, closed=guided.closed, uptime_s=uptime_s)
            said = (guided.closed, guided.because.code)
            if not self.said or self.said[-1][1:] != said:
                self.said.append((uptime_s, *said))


def test_a_start_beyond_the_most_of_an_hour_waits_until_the_oldest_is_an_hour_old() -> None:
    relay = Relay(RelayRules(min_on_s=0, min_off_s=10, max_starts_per_h=3))
    for from_s, until_s in ((0, 100), (200, 300), (400, 500)):
        relay.live(from_s, until_s)
        relay.live(until_s, until_s + 100, WANTS_OFF)
    relay.said.clear()
    relay.live(600, 3700)
    assert relay.said == [(600, False, "starts-used-up"), (3600, True, "too-warm")]


def test_the_longest_run_ends_in_a_lockout_of_its_time() -> None:
    # 90 min, then 20 min for the ice on a coil.
    relay = Relay(RelayRules(min_on_s=180, min_off_s=300, max_run_s=5400, lockout_s=1200))
    relay.live(0, 7000)
    assert relay.said == [
        (0, True, "too-warm"),
        (5400, False, "long-run"),
        (5401, False, "locked-out"),
        (6600, True, "too-warm"),
    ]


def test_an_hourly_limit_on_running_ends_in_a_lockout_and_then_holds_until_there_is_time_again() -> (
    None
):
    # 15 min of any hour, in runs of 100 s with 20 s between them: the ninth reaches 900 s.
    relay = Relay(RelayRules(min_on_s=10, min_off_s=20, max_on_s_per_h=900, lockout_s=1200))
    for number in range(9):
        relay.live(120 * number, 120 * number + 100)
        relay.live(120 * number + 100, 120 * number + 120, WANTS_OFF)
    relay.said.clear()
    relay.live(1080, 4200)
    # It may start once 90 s of the first run, a tenth of what is allowed, are older than an hour.
    # From there a second leaves the window with each that enters it, but for the rests of 20 s:
    # four and a half of them make up the 90 s.
    assert relay.said == [
        (1080, False, "running-used-up"),
        (3690, True, "too-warm"),
        (3700 + 4 * 120 + 10, False, "much-running"),
        (3700 + 4 * 120 + 11, False, "locked-out"),
    ]


def test_a_lockout_tells_how_long_it_lasts_and_is_said_only_where_nothing_graver_is() -> None:
    locked = RelayMemory(closed=False, changed_uptime_s=1000.0, locked_uptime_s=1000.0)
    guided, _ = guarded(WANTS_ON, locked, RULES, uptime_s=1300.0)
    assert guided == safe_off("locked-out", left_s=900.0)
    guided, _ = guarded(WANTS_OFF, locked, RULES, uptime_s=1300.0)
    assert guided.because.code == "locked-out"
    assert guarded(MUST_OFF, locked, RULES, uptime_s=1300.0) == (MUST_OFF, locked)


def test_a_person_ends_a_lockout_early_but_not_the_rest_nor_a_later_lockout() -> None:
    rules = RelayRules(min_on_s=60, min_off_s=300, max_run_s=1200, lockout_s=1200)
    relay = Relay(rules)
    relay.live(0, 1300)
    relay.live(1300, 2750, lifted_uptime_s=1300.0)
    assert relay.said[2:] == [
        (1201, False, "locked-out"),
        (1300, False, "resting"),
        (1500, True, "too-warm"),
        (2700, False, "long-run"),
        (2701, False, "locked-out"),
    ]


def test_lifting_a_lockout_does_not_give_the_hour_more_time() -> None:
    rules = RelayRules(min_on_s=10, min_off_s=0, max_on_s_per_h=900, lockout_s=1200)
    relay = Relay(rules)
    relay.live(0, 950)
    relay.live(950, 3700, lifted_uptime_s=940.0)
    assert [code for _, _, code in relay.said[:4]] == [
        "too-warm",
        "much-running",
        "locked-out",
        "running-used-up",
    ]
    assert relay.said[4] == (3690, True, "too-warm")


def test_a_start_that_is_refused_for_its_rest_is_counted_once_each_time_it_is_asked_for() -> None:
    memory = RelayMemory(closed=False, changed_uptime_s=0.0)
    for uptime_s, wish in enumerate((WANTS_ON, WANTS_ON, WANTS_OFF, WANTS_ON, MUST_OFF, WANTS_ON)):
        _, memory = guarded(wish, memory, RULES, uptime_s=float(uptime_s))
    assert memory.refused_uptime_s == (0.0, 3.0, 5.0)
    # A start that is refused for another reason is not.
    used = RelayMemory(closed=False, changed_uptime_s=0.0, runs=(Run(900.0, 1000.0),))
    rules = RelayRules(min_on_s=0, min_off_s=0, max_starts_per_h=1)
    guided, memory = guarded(WANTS_ON, used, rules, uptime_s=1100.0)
    assert guided.because.code == "starts-used-up"
    assert memory.refused_uptime_s == ()
