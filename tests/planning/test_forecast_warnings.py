"""What a forecast warns of, rule by rule and at each rule's limit."""

import dataclasses

import pytest
from hypothesis import given
from hypothesis import strategies as st
from planning.made_forecast import falling, made_forecast

from hangroom.product.forecast import Forecast, Remark
from hangroom.product.forecast_warnings import Ahead, Loudness, Warned, news, warnings_of
from hangroom.product.forecast_words import say

QUIET = Ahead()


def warned(
    forecast: Forecast,
    ahead: Ahead = QUIET,
    *,
    diameter_mm: float = 19.0,
    before: Forecast | None = None,
) -> dict[str, Warned]:
    found = warnings_of(
        forecast, group="Group A", diameter_mm=diameter_mm, ahead=ahead, before=before
    )
    assert len({one.remark.code for one in found}) == len(found)
    return {one.remark.code: one for one in found}


def test_a_gentle_forecast_warns_of_nothing() -> None:
    assert warned(made_forecast()) == {}


def test_a_target_in_the_night_says_be_ready_with_its_range() -> None:
    # From hour 62 to 74: the curve puts 90 % of the arrivals between hour 64 and 74.7.
    found = warned(made_forecast(), Ahead(night_from_h=62.0, night_to_h=74.0))
    assert found.keys() == {"target-tonight"}
    one = found["target-tonight"]
    assert one.loudness is Loudness.MEDIUM
    assert say(one.remark).startswith(
        "Be ready: Group A reaches 72 % of its green weight between hour 64 and hour 75, most"
        " likely at hour 68."
    )


def test_how_likely_the_night_is_decides_how_loud() -> None:
    # By hand: h hours from now the middle lies (h - 20) x 0.2 points beyond the target, 10 of 100
    # lie 0.05 x h points beyond the middle, so z = 1.2816 x 4 x (h - 20) / h:
    # h 22: z 0.466, chance 0.679; h 20: 0.5; h 18: z -0.570, chance 0.284.
    def night(from_h: float, to_h: float) -> Warned | None:
        ahead = Ahead(night_from_h=48.0 + from_h, night_to_h=48.0 + to_h)
        return warned(made_forecast(), ahead).get("target-tonight")

    assert night(20.0, 22.0) is None  # 0.179
    told = night(18.0, 22.0)  # 0.395
    assert told is not None
    assert told.loudness is Loudness.LOW
    assert told.remark.figures["night_pct"] == pytest.approx(39.5, abs=0.1)
    loud = night(0.0, 21.0)
    assert loud is not None
    assert loud.loudness is Loudness.MEDIUM


def test_a_night_that_has_begun_counts_from_now() -> None:
    begun = warned(made_forecast(), Ahead(night_from_h=40.0, night_to_h=70.0))
    assert begun["target-tonight"].remark.figures["night_pct"] == pytest.approx(67.9, abs=0.1)


def test_without_an_upper_end_the_night_has_a_sentence_of_its_own() -> None:
    forecast = made_forecast(p90_h=None, never_pct=12.0)
    found = warned(forecast, Ahead(night_from_h=62.0, night_to_h=74.0))
    assert "may reach 72 %" in say(found["target-tonight"].remark)


def test_overshoot_before_the_inspection_says_what_it_will_be() -> None:
    # At hour 74 the middle is 76 - 26 x 0.2 = 70.8 %.
    found = warned(made_forecast(), Ahead(inspection_h=74.0))
    assert found.keys() == {"overshoot"}
    assert found["overshoot"].remark.figures["then_pct"] == pytest.approx(70.8)
    assert "at about 70.8 % by then" in say(found["overshoot"].remark)


@pytest.mark.parametrize(("inspection_h", "told"), [(72.9, False), (73.1, True)])
def test_an_overshoot_nobody_would_taste_is_not_told(inspection_h: float, *, told: bool) -> None:
    # One point of yield below the target: 71 % at hour 48 + 25 = 73.
    found = warned(made_forecast(), Ahead(inspection_h=inspection_h))
    assert ("overshoot" in found) is told


def test_a_group_at_its_target_is_not_told_that_it_will_be() -> None:
    done = made_forecast(yield_ratio=0.72, curve=falling(48.0, 0.72, 0.002))
    ahead = Ahead(inspection_h=90.0, night_from_h=50.0, night_to_h=60.0)
    assert warned(done, ahead) == {}


@pytest.mark.parametrize(
    ("ratio", "surface_aw", "core_aw", "code", "loudness"),
    [
        (0.65, 0.85, 0.93, None, None),
        (0.649, 0.85, 0.93, "drying-fast", Loudness.LOW),
        (0.50, 0.85, 0.93, "drying-fast", Loudness.LOW),
        (0.499, 0.85, 0.93, "drying-too-fast", Loudness.MEDIUM),
        (0.499, 0.79, 0.93, "drying-too-fast", Loudness.MEDIUM),
        (0.66, 0.799, 0.921, "surface-sealed", Loudness.MEDIUM),
        (0.60, 0.799, 0.921, "surface-sealed", Loudness.MEDIUM),
        (0.66, 0.80, 0.95, None, None),
        (0.66, 0.75, 0.92, None, None),
    ],
)
def test_the_surface_light(
    ratio: float, surface_aw: float, core_aw: float, code: str | None, loudness: Loudness | None
) -> None:
    forecast = made_forecast(
        surface_to_core_ratio=ratio,
        least_surface_to_core_ratio=max(ratio, 0.65),
        surface_aw=surface_aw,
        core_aw=core_aw,
    )
    found = warned(forecast)
    assert found.keys() == ({code} if code else set())
    if code:
        assert found[code].loudness is loudness
        assert "engineering judgement" in say(found[code].remark)


def test_too_fast_names_the_remedy() -> None:
    found = warned(made_forecast(surface_to_core_ratio=0.4, least_surface_to_core_ratio=0.4))
    assert "above 80 % for about a day" in say(found["drying-too-fast"].remark)


def test_a_rim_that_the_plan_will_bring_is_told_ahead() -> None:
    found = warned(made_forecast(least_surface_to_core_ratio=0.55))
    assert found.keys() == {"rim-ahead"}
    assert found["rim-ahead"].remark.figures["limit_ratio"] == 0.65
    worse = warned(made_forecast(surface_to_core_ratio=0.6, least_surface_to_core_ratio=0.45))
    assert worse.keys() == {"drying-fast", "rim-ahead"}
    assert worse["rim-ahead"].remark.figures["limit_ratio"] == 0.50


@pytest.mark.parametrize(
    ("loss_pct", "diameter_mm", "code"),
    [
        (6.0, 19.0, None),
        (6.1, 19.0, "loss-fast"),
        (10.0, 19.0, "loss-fast"),
        (10.1, 19.0, "loss-too-fast"),
        # 19 / 25 of both: 4.56 and 7.6; 19 / 16 of both: 7.125 and 11.875
        (4.6, 25.0, "loss-fast"),
        (7.7, 25.0, "loss-too-fast"),
        (7.1, 16.0, None),
        (11.8, 16.0, "loss-fast"),
    ],
)
def test_the_daily_loss(loss_pct: float, diameter_mm: float, code: str | None) -> None:
    found = warned(made_forecast(loss_pct_per_day=loss_pct), diameter_mm=diameter_mm)
    assert found.keys() == ({code} if code else set())


@pytest.mark.parametrize(("never_pct", "told"), [(49.9, False), (50.0, True)])
def test_never_is_told_where_it_is_likelier_than_not(never_pct: float, *, told: bool) -> None:
    found = warned(made_forecast(never_pct=never_pct, p50_h=None, p90_h=None))
    assert ("target-never" in found) is told


@pytest.mark.parametrize(
    ("p50_h", "told"), [(60.0, False), (80.0, False), (59.9, True), (80.1, True)]
)
def test_a_forecast_that_left_the_range_of_the_one_before_says_so(
    p50_h: float, *, told: bool
) -> None:
    before = made_forecast(p10_h=60.0, p90_h=80.0)
    now = made_forecast(p50_h=p50_h)
    assert ("range-missed" in warned(now, before=before)) is told
    other_target = dataclasses.replace(before, target_yield_ratio=0.70)
    assert "range-missed" not in warned(now, before=other_target)


def test_what_the_forecaster_noted_becomes_a_warning_with_the_same_figures() -> None:
    fell = Remark(
        code="rate-fell",
        figures={"from_h": 24.0, "measured_pct_per_day": 2.0, "low_pct_per_day": 3.1},
    )
    quiet = Remark(code="diameter-nominal", figures={"mm": 19.0})
    found = warned(made_forecast(remarks=(quiet, fell)))
    assert found == {"rate-fell": Warned(Loudness.MEDIUM, fell)}
    said = say(fell)
    assert all(cause in said for cause in ("skin", "fan", "sticks touch"))


def test_only_what_is_new_or_louder_is_news() -> None:
    def one(code: str, loudness: Loudness) -> Warned:
        return Warned(loudness, Remark(code=code))

    low, medium = one("target-tonight", Loudness.LOW), one("target-tonight", Loudness.MEDIUM)
    assert news([low], []) == (low,)
    assert news([medium], [low]) == (medium,)
    assert news([low], [medium]) == ()
    assert news([low], [low]) == ()
    assert news([medium, one("overshoot", Loudness.LOW)], [medium]) == (
        one("overshoot", Loudness.LOW),
    )


ratios = st.floats(0.3, 1.0)
hours = st.none() | st.floats(0.0, 200.0)
FORECASTS = st.builds(
    made_forecast,
    yield_ratio=ratios,
    target_yield_ratio=ratios,
    surface_to_core_ratio=ratios,
    least_surface_to_core_ratio=ratios,
    surface_aw=st.floats(0.6, 1.0),
    core_aw=st.floats(0.6, 1.0),
    loss_pct_per_day=st.floats(0.0, 40.0),
    never_pct=st.floats(0.0, 100.0),
    p50_h=hours,
    p90_h=hours,
    curve=st.builds(falling, st.just(48.0), ratios, st.just(0.002)),
)
AHEAD = st.builds(Ahead, inspection_h=hours, night_from_h=hours, night_to_h=hours)


@given(FORECASTS, AHEAD, st.floats(12.0, 40.0), st.none() | FORECASTS)
def test_whatever_is_forecast_every_warning_can_be_said(
    forecast: Forecast, ahead: Ahead, diameter_mm: float, before: Forecast | None
) -> None:
    found = warned(forecast, ahead, diameter_mm=diameter_mm, before=before)
    loudness = [one.loudness for one in found.values()]
    assert loudness == sorted(loudness, key=list(Loudness).index)
    for one in found.values():
        said = say(one.remark)
        assert "has no sentence" not in said
        assert "{" not in said
