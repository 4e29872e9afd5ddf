"""The usual steps in the smoker and the what-if; common practice, no source."""

import pytest

from hangroom.errors import InputError
from hangroom.product.casing import USUAL_LOW_HEAT_H, SmokeStage, casing_exposure
from hangroom.product.findings import Standing
from hangroom.product.smoke import TRADE, USUAL_STEPS, StepKind, usual_low_heat_h, what_if
from hangroom.product.temperatures import celsius


def stages(*steps: tuple[float, float]) -> list[SmokeStage]:
    return [SmokeStage(celsius(air_f), lasted_h) for air_f, lasted_h in steps]


# As the trade tells it: air in degF and hours. Collagen hangs an hour to dry, natural gets an hour
# at 110; then 130, 140, 150 until wrinkled in 2 to 3 h, a quick finish at 180, an ice bath.
@pytest.mark.parametrize(
    ("casing", "steps"),
    [
        ("collagen", [(None, 1, 1), (130, 1, 1), (140, 1, 1), (150, 2, 3), (180, None, None), (None, None, None)]),
        ("natural", [(110, 1, 1), (130, 1, 1), (140, 1, 1), (150, 2, 3), (180, None, None), (None, None, None)]),
    ],
)  # fmt: skip
def test_the_usual_steps_are_the_trades(
    casing: str, steps: list[tuple[int | None, float | None, float | None]]
) -> None:
    usual = USUAL_STEPS[casing]
    assert [(step.air_f, step.shortest_h, step.longest_h) for step in usual] == steps
    assert [step.kind for step in usual] == [
        StepKind.CASING_DRY,
        *[StepKind.SMOKE] * 3,
        StepKind.FINISH,
        StepKind.CHILL,
    ]
    assert "155 °F" in usual[4].until
    assert TRADE.standing is Standing.COMMON_PRACTICE


def test_a_natural_casings_drying_hour_is_low_heat_and_a_collagen_ones_is_not() -> None:
    # 1 + 1 + 3 h, and the hour at 110 degF with it.
    assert usual_low_heat_h("collagen") == pytest.approx(5.0) == USUAL_LOW_HEAT_H
    assert usual_low_heat_h("natural") == pytest.approx(6.0)
    assert usual_low_heat_h("alginate") == USUAL_LOW_HEAT_H


@pytest.mark.parametrize("casing", USUAL_STEPS)
def test_the_longest_usual_schedule_is_not_called_long(casing: str) -> None:
    done = stages(
        *[(step.air_f, step.longest_h or 0.5) for step in USUAL_STEPS[casing] if step.air_f]
    )
    found = casing_exposure(done, usual_h=usual_low_heat_h(casing))
    assert found.low_heat_h == pytest.approx(usual_low_heat_h(casing))
    assert "likely" not in found.advice
    longer = casing_exposure([*done, *stages((150, 0.1))], usual_h=usual_low_heat_h(casing))
    assert f"{usual_low_heat_h(casing):g} hours" in longer.advice


def test_holding_on_adds_its_hours_and_pulling_adds_none() -> None:
    so_far = stages((130, 1), (140, 1), (150, 2))
    found = what_if(so_far, air_c=celsius(150), more_h=4)
    assert (found.pull.low_heat_h, found.hold.low_heat_h) == (4.0, 8.0)
    assert "Pull now" in found.advice
    assert "past the usual hours" in found.advice
    assert "tough casing is likely" in found.hold.advice
    assert "tough casing is likely" not in found.pull.advice


def test_a_quick_finish_adds_no_low_heat() -> None:
    found = what_if(stages((130, 1), (140, 1), (150, 3)), air_c=celsius(180), more_h=0.5)
    assert found.hold.low_heat_h == found.pull.low_heat_h == 5.0
    assert "Either way" in found.advice


def test_once_past_the_usual_hours_every_more_is_advised_against() -> None:
    found = what_if(stages((130, 1), (140, 1), (150, 5)), air_c=celsius(150), more_h=0)
    assert "already" in found.advice
    # A natural casing's usual way is an hour longer.
    natural = stages((110, 1), (130, 1), (140, 1), (150, 2.5))
    assert "Either way" in what_if(natural, air_c=celsius(150), more_h=0.5, casing="natural").advice
    assert "Pull now" in what_if(natural, air_c=celsius(150), more_h=0.6, casing="natural").advice


def test_the_advice_never_stands_for_the_cook() -> None:
    for more_h in (0, 1, 10):
        found = what_if(stages((130, 1)), air_c=celsius(150), more_h=more_h)
        assert "only once the coldest stick has had its hold" in found.advice


def test_hours_that_cannot_be_are_refused() -> None:
    with pytest.raises(InputError, match="hours of a smoke step"):
        what_if([], air_c=60.0, more_h=-1.0)
