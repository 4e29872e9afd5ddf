"""Learned doses, on plants whose answer is known in closed form.

On a linear plant a second of a dose moves humidity by a, so that right are r = 1 / a seconds for
1 %. Scaling by (given / moved / s)^k then gives ln(s_next / r) = (1 - k) ln(s / r): the error, as a
ratio, shrinks by the same power with every dose.
"""

from dataclasses import replace
from datetime import UTC, datetime
from itertools import pairwise
from math import log

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hangroom.control.dosing import (
    DRIFT_WEIGHT_RATIO,
    FASTEST_DRIFT_PCT_PER_S,
    LEARNING_EXPONENT,
    LEAST_EFFECT_PCT,
    MOST_CHANGE_RATIO,
    PROVING_EFFECT_PCT,
    SPOILT_PCT,
    DoseMemory,
    Manner,
    begun,
    ended,
    learned,
    looked,
)
from hangroom.control.humidity import MOST_WITHOUT_EFFECT, TRY_EVERY_S
from hangroom.control.memory import starting_state
from hangroom.control.room import decide
from hangroom.terms import AirReading, HumidityTarget, RelayKind, RelayRules, RoomPlan, Stage

KIND = RelayKind.HUMIDIFIER
HUMIDIFIES = Manner(raises=True, settle_s=120.0, smooths=False)
AIRS = replace(HUMIDIFIES, raises=False)
BEFORE_PCT, LONGEST_S, LOOK_S = 74.0, 120.0, 2.0


def after(
    dose: DoseMemory,
    given_s: float,
    effect_pct: float,
    *,
    manner: Manner = HUMIDIFIES,
    by_itself_pct_per_s: float = 0.0,
    cut_short: bool = False,
    gone_against_pct: float = 0.0,
) -> DoseMemory:
    """Return the dose once judged: its effect comes as it ends, what a door does 2 s later."""
    sign = 1.0 if manner.raises else -1.0

    def look(dose: DoseMemory, moved_pct: float, uptime_s: float) -> DoseMemory:
        moved_pct += by_itself_pct_per_s * uptime_s
        return looked(
            dose, manner, seen_pct=BEFORE_PCT + sign * moved_pct, uptime_s=1000.0 + uptime_s
        )

    dose = begun(look(replace(dose, level_pct=None), 0.0, 0.0), manner, uptime_s=1000.0)
    dose = ended(
        look(dose, effect_pct, given_s),
        ran_s=given_s,
        cut_short=cut_short,
        uptime_s=1000.0 + given_s,
    )
    for number in range(1, round(manner.settle_s / LOOK_S) + 1):
        door_pct = gone_against_pct if number == 1 else 0.0
        dose = look(dose, effect_pct - door_pct, given_s + number * LOOK_S)
    return learned(dose, manner, longest_s=LONGEST_S)


@pytest.mark.parametrize("manner", [HUMIDIFIES, AIRS])
@pytest.mark.parametrize("a_pct_per_s", [0.02, 0.2, 0.65])
@pytest.mark.parametrize("first_ratio", [0.3, 0.8, 1.0, 1.5, 3.5])
def test_on_a_linear_plant_the_error_shrinks_by_the_same_power_with_every_dose(
    manner: Manner, a_pct_per_s: float, first_ratio: float
) -> None:
    right = 1.0 / a_pct_per_s
    dose = DoseMemory(s_per_pct=right * first_ratio)
    for _ in range(8):
        error = log(dose.s_per_pct / right)
        given_s = 2.0 * dose.s_per_pct
        dose = after(dose, given_s, a_pct_per_s * given_s, manner=manner)
        assert log(dose.s_per_pct / right) == pytest.approx(
            (1.0 - LEARNING_EXPONENT) * error, abs=1e-9
        )
    assert dose.s_per_pct == pytest.approx(right, rel=0.01)
    assert dose.proved_s_per_pct == dose.s_per_pct


@given(
    s_per_pct=st.floats(0.5, 60.0),
    given_s=st.floats(2.0, 120.0),
    effect_pct=st.floats(LEAST_EFFECT_PCT + 0.01, 20.0),
)
def test_one_look_changes_a_dose_at_most_by_a_factor_of_two_and_never_past_what_it_saw(
    s_per_pct: float, given_s: float, effect_pct: float
) -> None:
    seen = given_s / effect_pct
    found = after(DoseMemory(s_per_pct=s_per_pct), given_s, effect_pct).s_per_pct
    assert (1 - 1e-9) / MOST_CHANGE_RATIO <= found / s_per_pct <= MOST_CHANGE_RATIO * (1 + 1e-9)
    low, high = sorted((s_per_pct, seen))
    assert low * (1 - 1e-9) <= found <= high * (1 + 1e-9)


@pytest.mark.parametrize(("effect_pct", "found"), [(0.6, 10.0), (50.0, 2.5)])
def test_a_far_look_changes_a_dose_by_exactly_that_factor(effect_pct: float, found: float) -> None:
    # 60 s for 0.6 % is 100 s per %, for 50 % it is 1.2: roots of 20 and of 0.24, that is 4.5 and
    # 0.49; the limits are 2 and 0.5.
    assert after(DoseMemory(s_per_pct=5.0), 60.0, effect_pct).s_per_pct == found


@pytest.mark.parametrize("manner", [HUMIDIFIES, AIRS])
@pytest.mark.parametrize(("beyond_pct", "teaches"), [(-0.1, True), (0.1, False)])
def test_a_dose_that_a_door_spoiled_teaches_nothing(
    manner: Manner, beyond_pct: float, teaches: bool
) -> None:
    before = DoseMemory(s_per_pct=5.0, proved_s_per_pct=5.0, without_effect=2)
    effect_pct = 1.0
    gone_pct = effect_pct + SPOILT_PCT + beyond_pct
    dose = after(before, 20.0, effect_pct, manner=manner, gone_against_pct=gone_pct)
    assert dose.from_pct is None
    assert (dose.s_per_pct != before.s_per_pct) is teaches
    assert (dose.without_effect == 0) is teaches
    assert (dose.proved_s_per_pct != before.proved_s_per_pct) is teaches


def test_a_dose_cut_short_teaches_nothing() -> None:
    before = DoseMemory(s_per_pct=5.0, proved_s_per_pct=5.0, without_effect=2)
    dose = after(before, 20.0, 2.0, cut_short=True)
    assert (dose.s_per_pct, dose.proved_s_per_pct, dose.without_effect) == (5.0, 5.0, 2)
    assert after(before, 20.0, 2.0).s_per_pct > 5.0


@pytest.mark.parametrize(("effect_share", "credited"), [(0.0, False), (0.9, False), (1.1, True)])
def test_what_the_air_did_by_itself_is_not_credited(effect_share: float, credited: bool) -> None:
    """Air that rises by r all the time has done r (given + shown) by when the effect is there.

    A dose is believed where it did more than that itself, so that at least half is its own.
    """
    by_itself_pct_per_s, given_s = 0.03, 20.0
    alone_pct = by_itself_pct_per_s * (given_s + HUMIDIFIES.shown_s)
    dose = after(
        DoseMemory(s_per_pct=5.0),
        given_s,
        effect_share * alone_pct,
        by_itself_pct_per_s=by_itself_pct_per_s,
    )
    assert (dose.s_per_pct != 5.0) is credited
    assert (dose.proved_s_per_pct is not None) is credited


def test_a_dose_is_judged_by_its_peak_though_it_has_leaked_away_by_its_end() -> None:
    dose = looked(DoseMemory(s_per_pct=5.0), HUMIDIFIES, seen_pct=BEFORE_PCT, uptime_s=0.0)
    dose = begun(dose, HUMIDIFIES, uptime_s=0.0)
    dose = ended(dose, ran_s=10.0, cut_short=False, uptime_s=10.0)
    for uptime_s, seen_pct in ((20, 75.0), (30, 76.0), (45, 75.2), (60, 74.6), (130, 74.0)):
        dose = looked(dose, HUMIDIFIES, seen_pct=seen_pct, uptime_s=uptime_s)
    # 10 s for 2 % are just what was thought.
    assert learned(dose, HUMIDIFIES, longest_s=LONGEST_S).s_per_pct == 5.0


def test_a_dose_is_judged_once() -> None:
    once = after(DoseMemory(), 20.0, 2.0)
    assert learned(once, HUMIDIFIES, longest_s=LONGEST_S) is once


def test_a_small_effect_teaches_but_proves_nothing() -> None:
    small = after(DoseMemory(s_per_pct=5.0), 20.0, PROVING_EFFECT_PCT - 0.1)
    assert small.s_per_pct > 5.0
    assert small.proved_s_per_pct is None
    assert after(DoseMemory(s_per_pct=5.0), 20.0, PROVING_EFFECT_PCT).proved_s_per_pct is not None


def test_without_effect_a_dose_grows_to_at_most_twice_what_was_proved() -> None:
    """Else the first dose after the refill, at its longest by then, floods the room."""
    dose = after(DoseMemory(s_per_pct=5.0), 10.0, 2.0)
    assert dose.proved_s_per_pct == 5.0
    sizes = []
    for _ in range(4):
        dose = after(dose, 20.0, LEAST_EFFECT_PCT / 2)
        sizes.append(dose.s_per_pct)
    assert sizes == [10.0, 10.0, 10.0, 10.0]
    assert dose.without_effect == 4
    assert dose.proved_s_per_pct == 5.0


def test_where_nothing_was_proved_a_dose_doubles_up_to_the_longest_run() -> None:
    dose, sizes = DoseMemory(s_per_pct=10.0), []
    for _ in range(5):
        dose = after(dose, 20.0, 0.0)
        sizes.append(dose.s_per_pct)
    assert sizes == [20.0, 40.0, 80.0, LONGEST_S, LONGEST_S]


@pytest.mark.parametrize(
    ("back_pct_per_s", "counted_pct_per_s"), [(0.01, 0.01), (0.5, FASTEST_DRIFT_PCT_PER_S)]
)
def test_how_fast_humidity_comes_back_is_learned_as_a_running_mean(
    back_pct_per_s: float, counted_pct_per_s: float
) -> None:
    # After n equal looks a running mean of weight w has come to 1 - (1 - w)^n of them.
    dose = DoseMemory()
    for number in range(1, 6):
        dose = replace(
            dose, ended_uptime_s=0.0, shown_pct=76.0, level_pct=76.0 - 100 * back_pct_per_s
        )
        dose = begun(dose, HUMIDIFIES, uptime_s=HUMIDIFIES.shown_s + 100.0)
        share = 1.0 - (1.0 - DRIFT_WEIGHT_RATIO) ** number
        assert dose.drift_pct_per_s == pytest.approx(share * counted_pct_per_s)


TICK_S, SETTLE_S, NOISE_PCT = 2.0, 120.0, 0.05
HUMIDITY = HumidityTarget(setpoint_pct=75, band_pct=2.5, low_limit_pct=50, high_limit_pct=92)
# From the low edge of the band to a tenth of the half-band above the setpoint.
WAY_PCT = 2.75


class Room:
    """A humidifier on a plant without lags, through whole decisions.

    `pct_per_s` while it runs, 0 for an empty tank; `leaks_pct_per_s` always. `given`: when each dose
    began, and its length. `said`: every reason an open relay has given.
    """

    def __init__(self, *, pct_per_s: float, leaks_pct_per_s: float, start_pct: float) -> None:
        self.plan = RoomPlan(
            name="closet",
            stage=Stage.HANG,
            humidity=HUMIDITY,
            temperature=None,
            relays={KIND: RelayRules(min_on_s=2, min_off_s=60, max_run_s=120)},
            settle_s=SETTLE_S,
        )
        self.state = starting_state(self.plan, uptime_s=0.0)
        self.pct_per_s, self.leaks_pct_per_s = pct_per_s, leaks_pct_per_s
        self.humidity_pct, self.uptime_s = start_pct, 0.0
        self.given: list[tuple[float, float]] = []
        self.said: list[str] = []

    @property
    def dose(self) -> DoseMemory:
        return self.state.doses[KIND]

    def live(self, for_s: float, until_doses: int | None = None) -> None:
        for _ in range(round(for_s / TICK_S)):
            if until_doses is not None and len(self.given) >= until_doses:
                return
            self._tick()

    def _tick(self) -> None:
        before = self.state.relays[KIND]
        # A little noise, so that the sensor does not look stuck.
        noise_pct = NOISE_PCT if self.uptime_s % (2 * TICK_S) else -NOISE_PCT
        reading = AirReading(
            taken_at=datetime(2026, 11, 1, tzinfo=UTC),
            taken_uptime_s=self.uptime_s,
            temperature_c=13.0,
            humidity_pct=self.humidity_pct + noise_pct,
        )
        decision = decide(self.state, self.plan, {"rail": reading}, uptime_s=self.uptime_s)
        self.state, command = decision.state, decision.commands[0]
        if before.closed and not command.closed:
            self.given.append((before.changed_uptime_s, self.uptime_s - before.changed_uptime_s))
        if not command.closed:
            self.said.append(command.because.code)
        self.humidity_pct += TICK_S * (self.pct_per_s * command.closed - self.leaks_pct_per_s)
        self.uptime_s += TICK_S


@pytest.mark.parametrize("pct_per_s", [0.1, 0.25])
def test_in_a_room_the_learned_seconds_come_to_what_the_plant_needs(pct_per_s: float) -> None:
    leaks = 0.003
    room = Room(pct_per_s=pct_per_s, leaks_pct_per_s=leaks, start_pct=76.0)
    room.live(40_000, until_doses=15)
    assert len(room.given) == 15
    # A dose of WAY_PCT / a seconds is seen to move at most all of that, and at least what is left
    # after it has leaked for as long as it ran and until it is seen in full.
    given_s = WAY_PCT / pct_per_s
    leaked_pct = leaks * (given_s + HUMIDIFIES.shown_s)
    slack = 2 * NOISE_PCT / WAY_PCT
    most = WAY_PCT / (WAY_PCT - leaked_pct) + slack
    assert 1.0 - slack <= room.dose.s_per_pct * pct_per_s <= most
    assert room.given[-1][1] == pytest.approx(given_s, rel=0.15, abs=2 * TICK_S)


def test_between_two_doses_lies_the_time_to_settle() -> None:
    room = Room(pct_per_s=0.05, leaks_pct_per_s=0.02, start_pct=70.0)
    room.live(8000)
    assert len(room.given) > 10
    for (began_s, length_s), (next_s, _) in pairwise(room.given):
        assert next_s - (began_s + length_s) >= SETTLE_S


def test_a_dose_that_a_hard_limit_cut_short_teaches_nothing() -> None:
    room = Room(pct_per_s=0.1, leaks_pct_per_s=0.003, start_pct=74.0)
    room.live(20_000, until_doses=4)
    doses = len(room.given)
    room.live(300)  # the fourth is judged
    learned_so_far = (room.dose.s_per_pct, room.dose.proved_s_per_pct)
    while not room.state.relays[KIND].closed:
        room.live(TICK_S)
    room.humidity_pct = HUMIDITY.high_limit_pct + 1.0  # a pot boils over beneath the sensor
    while len(room.given) == doses:
        room.live(TICK_S)
    assert room.said[-1] == "humidity-hard-limit"
    room.live(300)
    assert (room.dose.s_per_pct, room.dose.proved_s_per_pct) == learned_so_far


def test_after_three_doses_without_effect_one_is_tried_every_half_hour_until_one_works() -> None:
    assert (MOST_WITHOUT_EFFECT, TRY_EVERY_S) == (3, 1800.0)
    room = Room(pct_per_s=0.0, leaks_pct_per_s=0.0, start_pct=70.0)
    room.live(9000)
    ends_s = [began_s + length_s for began_s, length_s in room.given]
    starts_s = [began_s for began_s, _ in room.given]
    pauses_s = [start_s - end_s for start_s, end_s in zip(starts_s[1:], ends_s, strict=False)]
    assert pauses_s[:2] == [SETTLE_S, SETTLE_S]
    assert len(pauses_s) >= 5
    assert set(pauses_s[2:]) == {TRY_EVERY_S}
    assert room.said[-1] == "doses-without-effect"

    room.pct_per_s = 0.05  # the tank is filled; the room leaks, so that more doses are due
    room.leaks_pct_per_s = 0.005
    doses = len(room.given)
    room.live(TRY_EVERY_S + 200, until_doses=doses + 1)
    assert len(room.given) == doses + 1
    room.live(SETTLE_S + TICK_S)
    assert room.dose.without_effect == 0
    room.said.clear()
    room.live(8000, until_doses=doses + 4)
    assert len(room.given) == doses + 4
    assert "doses-without-effect" not in room.said
