"""Whatever is odd or missing, there is an answer with a remark, and no date that cannot be."""

from dataclasses import replace
from math import inf, isfinite, nan

import pytest
from forecast.asking import ASKED, PLAN, TAGGED, TWO_DAYS, codes, measured, weighed
from hypothesis import given, settings
from hypothesis import strategies as st

from hangroom.errors import InputError
from hangroom.forecast import forecast
from hangroom.product.forecast import (
    AirPlanned,
    AirSeen,
    Forecast,
    Question,
    TaggedStick,
    Weighing,
)

FEW = 256
LONGEST_H = 60.0 * 24.0


def sane(question: Question, found: Forecast) -> None:
    """No number that is none, no date in the past unless passed, none beyond 60 days."""
    last_h = question.now_h + LONGEST_H + 1e-6
    hours = [found.p10_h, found.p50_h, found.p90_h]
    known = [hour for hour in hours if hour is not None]
    assert known == sorted(known)
    assert [hour is None for hour in hours] == sorted(hour is None for hour in hours)
    assert all(0.0 <= hour <= last_h for hour in known)
    if found.p50_h is None or found.p50_h > question.now_h:
        assert found.p10_h is None or found.p10_h >= question.now_h
    assert 0.0 <= found.never_pct <= 100.0 + 1e-9
    assert (found.p90_h is None) == (found.never_pct > 10.0)
    numbers = [
        *(found.yield_ratio, found.yield_sd_ratio, found.loss_pct_per_day, found.surface_aw),
        *(found.core_aw, found.surface_to_core_ratio, found.least_surface_to_core_ratio),
        *(found.effective_particles, found.hung_ratio),
    ]
    assert all(isfinite(number) for number in numbers)
    # Thin sticks in warm fog take up a lot.
    assert 0.0 < found.yield_ratio < 2.0
    assert found.yield_sd_ratio > 0.0
    assert 0.0 < found.least_surface_to_core_ratio <= found.surface_to_core_ratio <= 1.0
    assert 2 <= len(found.curve) <= 80
    moments = [point.at_h for point in found.curve]
    assert moments == sorted(set(moments))
    assert any(abs(at_h - question.now_h) < 1e-9 for at_h in moments)
    assert all(p.low_ratio <= p.middle_ratio <= p.high_ratio for p in found.curve)
    assert [stick.tag for stick in found.sticks] == [stick.tag for stick in question.tagged]


def answer(question: Question) -> Forecast:
    found = forecast(question, particles=FEW)
    sane(question, found)
    return found


def test_an_ordinary_question_has_no_remark() -> None:
    assert answer(TWO_DAYS).remarks == ()


def test_the_first_minute_after_hanging() -> None:
    found = answer(replace(ASKED, now_h=1.0 / 60.0, air=measured(0.01)))
    assert found.remarks == ()
    assert found.yield_ratio == pytest.approx(found.hung_ratio, abs=0.001)
    assert (found.p90_h or inf) > 2.0 * (found.p10_h or 0.0)


def test_nothing_but_a_diameter() -> None:
    """No sticks, no air, no plan."""
    found = answer(
        replace(ASKED, tagged=(), plan=(), now_h=30.0, diameter_measured=False, sticks_in_group=0)
    )
    assert set(codes(found.remarks)) == {
        "no-air", "no-plan", "hang-weight-assumed", "diameter-nominal"
    }  # fmt: skip
    assert found.yield_sd_ratio > 0.03


def test_weights_that_rise_for_days() -> None:
    risen = replace(
        TWO_DAYS,
        now_h=96.0,
        air=measured(96.0),
        weighings=(*weighed(24.0, 0.06), *weighed(48.0, 0.05), *weighed(96.0, 0.035)),
    )
    (remark,) = [each for each in answer(risen).remarks if each.code == "weights-rise"]
    assert (remark.figures["from_h"], remark.figures["to_h"]) == (24.0, 96.0)
    assert remark.figures["rise_pct"] == pytest.approx(2.5, abs=0.01)


def test_a_gain_in_air_moister_than_the_stick_is_none_to_wonder_at() -> None:
    """Hung dry (26 % water) in 92 %RH: the model gains too."""
    wet = (AirPlanned(from_h=0.0, temperature_c=13.0, humidity_pct=92.0),)
    gained = replace(
        ASKED,
        water_fraction=0.26,
        plan=wet,
        now_h=48.0,
        air=measured(48.0, humidity_pct=92.0),
        weighings=(*weighed(24.0, -0.01), *weighed(48.0, -0.02)),
    )
    assert "weights-rise" not in codes(answer(gained).remarks)


def test_two_tags_exchanged_for_one_weigh_in() -> None:
    first, second, third = weighed(48.0, 0.112)
    mixed = (
        replace(first, weight_g=second.weight_g),
        replace(second, weight_g=first.weight_g),
        third,
    )
    found = answer(replace(TWO_DAYS, weighings=(*weighed(24.0, 0.062), *mixed)))
    (remark,) = found.remarks
    assert remark.code == "tags-swapped"
    assert set(remark.figures.values()) == {"A1", "A2"}
    right = answer(TWO_DAYS)
    assert found.p50_h == pytest.approx(right.p50_h, abs=1e-6)
    assert found.sticks == right.sticks


def test_two_odd_weights_that_do_not_fit_the_other_way_round_are_no_exchange() -> None:
    """Three grams up and three down, while the two sticks lie nine apart."""
    first, second, third = weighed(48.0, 0.112)
    odd = (
        replace(first, weight_g=(first.weight_g or 0.0) + 3.0),
        replace(second, weight_g=(second.weight_g or 0.0) - 3.0),
        third,
    )
    found = answer(replace(TWO_DAYS, weighings=(*weighed(24.0, 0.062), *odd)))
    assert "tags-swapped" not in codes(found.remarks)
    assert "weight-outside-band" in codes(found.remarks)


def test_sticks_that_are_alike_are_never_taken_for_exchanged() -> None:
    """Half a gram apart, with a scale of half a gram."""
    tagged = tuple(
        TaggedStick(tag=tag, green_weight_g=100.0, hang_weight_g=hang_g)
        for tag, hang_g in (("A", 88.0), ("B", 88.5))
    )
    told = [
        Weighing(at_h=at_h, tag=tag, weight_g=weight_g)
        for at_h, tag, weight_g in ((24.0, "A", 83.5), (24.0, "B", 82.5), (48.0, "A", 79.0), (48.0, "B", 79.6))
    ]  # fmt: skip
    found = answer(replace(TWO_DAYS, tagged=tagged, weighings=tuple(told)))
    assert "tags-swapped" not in codes(found.remarks)


def test_twelve_hours_without_air() -> None:
    air = tuple(seen for seen in measured(48.0) if not 20.0 < seen.at_h < 32.0)
    without = replace(TWO_DAYS, air=air, weighings=weighed(18.0, 0.05))
    whole = replace(without, air=measured(48.0))
    found = answer(without)
    (remark,) = found.remarks
    assert remark.code == "air-missing"
    assert remark.figures == {"from_h": 20.0, "to_h": 32.0, "hours": 12.0}
    assert found.yield_sd_ratio > answer(whole).yield_sd_ratio
    assert found.p50_h == pytest.approx(answer(whole).p50_h, rel=0.05)


def test_two_hours_without_air_are_bridged() -> None:
    air = tuple(seen for seen in measured(48.0) if not 20.0 < seen.at_h < 22.0)
    assert answer(replace(TWO_DAYS, air=air)).remarks == ()


def test_no_air_at_all_goes_by_the_plan() -> None:
    found = answer(replace(TWO_DAYS, air=()))
    assert codes(found.remarks) == ["no-air"]
    assert found.p50_h == pytest.approx(answer(TWO_DAYS).p50_h, rel=0.1)


def test_no_plan_goes_by_the_last_day() -> None:
    found = answer(replace(TWO_DAYS, plan=()))
    assert codes(found.remarks) == ["no-plan"]
    assert found.p50_h == pytest.approx(answer(TWO_DAYS).p50_h, rel=0.1)


def test_a_target_above_the_weight_as_hung() -> None:
    found = answer(replace(TWO_DAYS, target_yield_ratio=0.95))
    (remark,) = found.remarks
    assert remark.code == "target-above-hang"
    assert remark.figures["target_pct"] == pytest.approx(95.0)
    assert remark.figures["hung_pct"] == pytest.approx(88.0, abs=0.3)
    assert found.p50_h == 0.0


def test_a_target_that_is_behind() -> None:
    """Weights: 0.88 x (1 - 0.062) = 0.825 at 24 h; 0.835 was passed before that and after 12 h."""
    found = answer(replace(TWO_DAYS, target_yield_ratio=0.835))
    (remark,) = found.remarks
    assert remark.code == "target-passed"
    at_h = remark.figures["at_h"]
    assert isinstance(at_h, float)
    assert 12.0 < at_h < 24.0
    assert found.p50_h == at_h
    assert found.never_pct == 0.0


def test_a_target_close_by_begins_now_and_not_in_the_past() -> None:
    """Weighed at 0.7814 just now, half a point above the target, sticks about a point apart."""
    found = answer(replace(TWO_DAYS, target_yield_ratio=0.7775, scale_sd_g=1.0))
    assert found.p10_h == 48.0
    assert found.p50_h is not None
    assert found.p50_h > 48.0


def test_a_scale_without_error_at_the_moment_of_hanging() -> None:
    """Nothing is lost, nothing is uncertain: the sums must not divide by it."""
    answer(replace(ASKED, scale_sd_g=0.0, weighings=(*weighed(0.0, 0.0), *weighed(0.0, 0.0))))
    answer(replace(TWO_DAYS, scale_sd_g=0.0))


def test_a_target_that_the_air_never_gives() -> None:
    moist = (AirPlanned(from_h=0.0, temperature_c=13.0, humidity_pct=92.0),)
    found = answer(replace(ASKED, plan=moist))
    assert found.p50_h is None
    assert found.p90_h is None
    assert found.never_pct > 60.0


def test_sticks_not_weighed_when_hung() -> None:
    tagged = tuple(replace(stick, hang_weight_g=None) for stick in TAGGED)
    found = answer(replace(TWO_DAYS, tagged=tagged))
    (remark,) = found.remarks
    assert remark.code == "hang-weight-assumed"
    weighed_too = answer(TWO_DAYS)
    # The weights themselves still say how far it is; only how it got there is less sure.
    assert found.yield_ratio == pytest.approx(weighed_too.yield_ratio, abs=0.01)
    assert abs((found.p50_h or inf) / (weighed_too.p50_h or 1.0) - 1.0) < 0.35
    width = [(each.p90_h or inf) - (each.p10_h or 0.0) for each in (found, weighed_too)]
    assert width[0] > width[1]


def test_a_weight_that_nobody_expected() -> None:
    """A2 alone has lost three times as much as the day before said."""
    first, second, third = weighed(48.0, 0.112)
    odd = replace(second, weight_g=78.0)
    found = answer(replace(TWO_DAYS, weighings=(*weighed(24.0, 0.062), first, odd, third)))
    (remark,) = [each for each in found.remarks if each.code == "weight-outside-band"]
    assert remark.figures["tag"] == "A2"
    assert remark.figures["weight_g"] == pytest.approx(78.0)
    low_g, high_g = remark.figures["low_g"], remark.figures["high_g"]
    assert isinstance(low_g, float)
    assert isinstance(high_g, float)
    assert 78.0 < low_g < 98.6 * (1.0 - 0.112) < high_g


def test_a_pace_that_fell_off_in_the_same_air() -> None:
    slow = (0.062, 0.112, 0.118, 0.123)
    told = [w for at_h, lost in zip((24.0, 48.0, 72.0, 96.0), slow, strict=True) for w in weighed(at_h, lost)]  # fmt: skip
    found = answer(
        replace(TWO_DAYS, now_h=96.0, air=measured(96.0), weighings=tuple(told), scale_sd_g=0.1)
    )
    (remark,) = [each for each in found.remarks if each.code == "rate-fell"]
    assert remark.figures["from_h"] == 48.0
    assert remark.figures["measured_pct_per_day"] == pytest.approx(0.5, abs=0.01)


def test_a_pace_that_eases_as_it_should_is_no_fall() -> None:
    losses = ((24.0, 0.062), (48.0, 0.112), (72.0, 0.153), (96.0, 0.188))
    told = tuple(w for at_h, lost in losses for w in weighed(at_h, lost))
    easing = replace(TWO_DAYS, now_h=96.0, air=measured(96.0), weighings=told)
    assert answer(easing).remarks == ()


def test_a_stick_missing_from_a_look() -> None:
    """Its yield is less sure than its neighbours', and theirs hardly change."""
    missing = tuple(w for w in TWO_DAYS.weighings if not (w.tag == "A3" and w.at_h == 48.0))
    found, whole = answer(replace(TWO_DAYS, weighings=missing)), answer(TWO_DAYS)
    assert found.sticks[2].yield_sd_ratio > 1.2 * whole.sticks[2].yield_sd_ratio
    assert found.sticks[2].yield_ratio == pytest.approx(whole.sticks[2].yield_ratio, abs=0.01)
    assert found.sticks[0].yield_ratio == pytest.approx(whole.sticks[0].yield_ratio, abs=0.003)


def test_a_caliper_where_nothing_was_weighed_is_weak_evidence() -> None:
    """Volume 0.894 is a loss of 0.10 (1060 kg/m3 as hung): D/D0 0.9524 at the exponent 2.3."""
    calm = replace(TWO_DAYS, weighings=())
    by_caliper = replace(
        calm, weighings=(Weighing(at_h=48.0, tag="A1", diameter_mm=0.9524 * 19.0),)
    )
    nothing, caliper, scale = answer(calm), answer(by_caliper), answer(TWO_DAYS)
    told_ratio = 0.9 * caliper.hung_ratio
    assert abs(caliper.yield_ratio - told_ratio) < abs(nothing.yield_ratio - told_ratio)
    assert scale.yield_sd_ratio < caliper.yield_sd_ratio < nothing.yield_sd_ratio
    beside = replace(
        TWO_DAYS,
        weighings=tuple(replace(w, diameter_mm=12.0, squeeze=5) for w in TWO_DAYS.weighings),
    )
    assert replace(answer(beside), ms=0.0) == replace(scale, ms=0.0)


def test_a_squeeze_where_nothing_was_weighed_moves_little() -> None:
    calm = replace(TWO_DAYS, weighings=())
    hard = replace(calm, weighings=(Weighing(at_h=48.0, tag="A1", squeeze=5),))
    nothing, squeezed = answer(calm), answer(hard)
    assert nothing.yield_ratio - 0.12 < squeezed.yield_ratio < nothing.yield_ratio


@pytest.mark.parametrize("weight_g", [nan, 0.0, -3.0, inf, 781.0, 7.81])
def test_what_cannot_be_a_weight_counts_as_none(weight_g: float) -> None:
    """The last two: a decimal point in the wrong place."""
    told = (*TWO_DAYS.weighings, Weighing(at_h=47.9, tag="A1", weight_g=weight_g))
    found, whole = answer(replace(TWO_DAYS, weighings=told)), answer(TWO_DAYS)
    assert found.p50_h == pytest.approx(whole.p50_h, rel=0.02)
    assert codes(found.remarks) == ["weight-impossible"]


def test_weights_of_the_future_and_of_unknown_sticks_count_as_none() -> None:
    told = (
        *TWO_DAYS.weighings,
        *weighed(90.0, 0.5),
        Weighing(at_h=30.0, tag="Z9", weight_g=50.0),
        Weighing(at_h=-5.0, tag="A1", weight_g=100.0),
    )
    found = answer(replace(TWO_DAYS, weighings=told))
    assert replace(found, ms=0.0) == replace(answer(TWO_DAYS), ms=0.0)


@pytest.mark.parametrize(
    "seen",
    [
        AirSeen(at_h=10.0, temperature_c=nan, humidity_pct=75.0),
        AirSeen(at_h=10.0, temperature_c=13.0, humidity_pct=nan),
        AirSeen(at_h=10.0, temperature_c=99.0, humidity_pct=75.0),
        AirSeen(at_h=10.0, temperature_c=13.0, humidity_pct=170.0),
        AirSeen(at_h=900.0, temperature_c=13.0, humidity_pct=20.0),
    ],
)
def test_what_cannot_be_air_counts_as_none(seen: AirSeen) -> None:
    found = answer(replace(TWO_DAYS, air=(*TWO_DAYS.air, seen)))
    assert replace(found, ms=0.0) == replace(answer(TWO_DAYS), ms=0.0)


@pytest.mark.parametrize(
    "wrong",
    [
        {"target_yield_ratio": nan},
        {"target_yield_ratio": 0.0},
        {"water_fraction": 1.0},
        {"diameter_mm": 0.0},
        {"scale_sd_g": -0.1},
        {"now_h": -1.0},
        {"tagged": (TaggedStick(tag="A", green_weight_g=0.0),)},
        {"tagged": (TaggedStick(tag="A", green_weight_g=90.0, hang_weight_g=nan),)},
    ],
    ids=str,
)
def test_what_no_forecast_can_start_from_is_refused_in_words(wrong: dict[str, object]) -> None:
    with pytest.raises(InputError, match="Check the entry"):
        forecast(replace(TWO_DAYS, **wrong), particles=FEW)  # type: ignore[arg-type]


hours = st.floats(0.0, 400.0)
planned = st.builds(
    AirPlanned,
    from_h=hours,
    temperature_c=st.floats(-5.0, 35.0),
    humidity_pct=st.floats(0.0, 100.0),
)
seen_air = st.builds(
    AirSeen, at_h=hours, temperature_c=st.floats(-5.0, 35.0), humidity_pct=st.floats(0.0, 100.0)
)
told_weights = st.builds(
    Weighing,
    at_h=hours,
    tag=st.sampled_from(["A1", "A2", "A3", "B1"]),
    weight_g=st.none() | st.floats(1.0, 300.0),
    diameter_mm=st.none() | st.floats(1.0, 60.0),
    squeeze=st.none() | st.integers(0, 7),
)
questions = st.builds(
    Question,
    tagged=st.sampled_from([(), TAGGED[:1], TAGGED]),
    sticks_in_group=st.integers(0, 40),
    target_yield_ratio=st.floats(0.05, 1.2),
    water_fraction=st.floats(0.2, 0.85),
    diameter_mm=st.floats(5.0, 80.0),
    diameter_measured=st.booleans(),
    scale_sd_g=st.floats(0.0, 20.0),
    now_h=hours,
    air=st.lists(seen_air, max_size=8).map(tuple),
    plan=st.lists(planned, max_size=3).map(tuple),
    weighings=st.lists(told_weights, max_size=12).map(tuple),
    water_phase_salt_pct=st.none() | st.floats(0.0, 26.0),
)


@settings(max_examples=40, deadline=None)
@given(questions)
def test_any_question_has_an_answer_that_can_be(question: Question) -> None:
    sane(question, forecast(question, particles=128))


@settings(max_examples=10, deadline=None)
@given(st.floats(60.0, 84.0), st.floats(0.5, 6.0), st.floats(0.55, 0.8))
def test_moister_plans_are_never_earlier(
    humidity_pct: float, more_pct: float, target_ratio: float
) -> None:
    arrivals = [
        forecast(
            replace(
                TWO_DAYS,
                target_yield_ratio=target_ratio,
                plan=(replace(PLAN[0], from_h=48.0, humidity_pct=each),),
            ),
            particles=FEW,
        ).p50_h
        for each in (humidity_pct, humidity_pct + more_pct)
    ]
    drier_h, moister_h = (inf if hour is None else hour for hour in arrivals)
    assert drier_h <= moister_h + 1e-6
