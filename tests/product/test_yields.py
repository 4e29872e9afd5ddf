import pytest
from hypothesis import given
from hypothesis import strategies as st

from hangroom.errors import InputError
from hangroom.product.yields import (
    Base,
    BaseWeights,
    Yield,
    on_every_base,
    rebased,
    weight_at_g,
    yield_of,
)

# Invented stick: 100 g stuffed, 90 g cooked, 88 g hung.
STICK = BaseWeights(green_g=100.0, cooked_g=90.0, hung_g=88.0)


def test_one_weight_has_three_yields() -> None:
    # Arithmetic by hand: 66/100, 66/90, 66/88.
    assert yield_of(66.0, STICK, Base.GREEN).ratio == pytest.approx(0.66)
    assert yield_of(66.0, STICK, Base.COOKED).ratio == pytest.approx(0.7333, abs=1e-4)
    assert yield_of(66.0, STICK, Base.HUNG).ratio == pytest.approx(0.75)
    assert yield_of(66.0, STICK, Base.HUNG).loss_pct == pytest.approx(25.0)


def test_a_target_on_green_weight_is_restated_on_hung_weight() -> None:
    on_hung = rebased(Yield(ratio=0.70, base=Base.GREEN), STICK, Base.HUNG)
    assert on_hung.base is Base.HUNG
    assert on_hung.ratio == pytest.approx(70 / 88)
    assert weight_at_g(on_hung, STICK) == pytest.approx(70.0)


def test_a_yield_is_restated_on_every_base_that_was_weighed() -> None:
    # By hand: 66 g of 100, 90 and 88.
    kept = Yield(ratio=0.66, base=Base.GREEN)
    everywhere = on_every_base(kept, STICK)
    assert {base: one.ratio for base, one in everywhere.items()} == pytest.approx(
        {Base.GREEN: 0.66, Base.COOKED: 66 / 90, Base.HUNG: 0.75}
    )
    assert all(one.base is base for base, one in everywhere.items())
    assert set(on_every_base(kept, BaseWeights(green_g=100.0, hung_g=88.0))) == {
        Base.GREEN,
        Base.HUNG,
    }
    assert on_every_base(kept, BaseWeights(cooked_g=90.0, hung_g=88.0)) == {Base.GREEN: kept}


def test_yields_on_different_bases_are_neither_equal_nor_comparable() -> None:
    green, hung = Yield(ratio=0.7, base=Base.GREEN), Yield(ratio=0.7, base=Base.HUNG)
    assert green != hung
    with pytest.raises(TypeError):
        green < hung  # type: ignore[operator]  # noqa: B015


def test_a_base_that_was_never_weighed_is_named_not_guessed() -> None:
    with pytest.raises(InputError, match="cooked weight was never taken"):
        yield_of(66.0, BaseWeights(green_g=100.0), Base.COOKED)


@pytest.mark.parametrize("weight_g", [0.0, -5.0, float("nan"), float("inf")])
def test_a_weight_that_cannot_be_is_refused(weight_g: float) -> None:
    with pytest.raises(InputError, match="hung weight in grams"):
        BaseWeights(hung_g=weight_g)
    with pytest.raises(InputError, match="yield on green weight"):
        yield_of(weight_g, STICK, Base.GREEN)


WEIGHTS_G = st.floats(1, 500)


@given(
    now_g=WEIGHTS_G,
    weights=st.builds(BaseWeights, green_g=WEIGHTS_G, cooked_g=WEIGHTS_G, hung_g=WEIGHTS_G),
    first=st.sampled_from(Base),
    second=st.sampled_from(Base),
)
def test_restating_a_yield_never_changes_the_weight_it_means(
    now_g: float, weights: BaseWeights, first: Base, second: Base
) -> None:
    kept = rebased(yield_of(now_g, weights, first), weights, second)
    assert weight_at_g(kept, weights) == pytest.approx(now_g)
