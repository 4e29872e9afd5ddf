"""What the page says a group is made of, beside the same sum done by hand.

The batch is 1000 g of pork NDB 10219 (USDA SR: water 61.06, protein 16.88, fat 21.19 %), 17.5 g of
salt, 2.5 g of a 6.25 % curing salt, 30 g of water and 10 g of spice: 1060 g. All loss is water.
"""

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from datetime import UTC, datetime

import pytest
from markupsafe import Markup

from hangroom.product.curing import CURE_1
from hangroom.product.meats import usda_meat
from hangroom.product.recipe import CuringLine, MeatLine, Recipe
from hangroom.product.yields import Base
from hangroom.store.batches import Batch, Group, Stick
from hangroom.units import LengthUnit, Units
from hangroom_web.batch_view.makeup import Made, made_of, say_yields, weights_of
from hangroom_web.draw.composition import LEFT, RIGHT, AtYield, draw_composition

RECIPE = Recipe(
    meats=(MeatLine(meat=usda_meat("10219"), weight_g=1000.0),),
    plain_salt_g=17.5,
    curing=CuringLine(curing_salt=CURE_1, weight_g=2.5),
    water_g=30.0,
    spice_g=10.0,
)
WATER_G, PROTEIN_G, FAT_G = 610.6 + 30.0, 168.8, 211.9
SALT_G, GREEN_G = 17.5 + 2.5 * 0.9375, 1060.0


def stick(tag: str, green_g: float, cooked_g: float | None, hung_g: float | None) -> Stick:
    return Stick(
        number=1,
        tag=tag,
        green_weight_g=green_g,
        cooked_weight_g=cooked_g,
        hang_weight_g=hung_g,
        hang_diameter_mm=20.0,
        length_mm=250.0,
        weigh_ins=(),
    )


def group(*sticks: Stick, target_pct: float = 75.0) -> Group:
    return Group(
        number=1,
        letter="A",
        finish="supple",
        target_yield_pct=target_pct,
        sticks=10,
        room=None,
        hung_at=None,
        tagged=sticks,
    )


STICKS = (stick("A1", 100.0, 90.0, 88.0), stick("A2", 80.0, 72.0, 70.4))
BATCH = Batch(
    number=1,
    name="invented",
    started_at=datetime(2026, 11, 1, tzinfo=UTC),
    note="",
    sample=True,
    groups=(),
)


def made(
    *,
    now_pct: float | None = 85.0,
    target_pct: float = 75.0,
    wanted: str = "",
    batch: Batch = BATCH,
    units: Units | None = None,
) -> Made:
    return made_of(
        batch,
        group(*STICKS, target_pct=target_pct),
        RECIPE,
        now_pct=now_pct,
        wanted=wanted,
        units=units or Units(),
    )


@pytest.mark.parametrize("target_pct", [90.0, 75.0, 60.0])
def test_the_makeup_at_the_target_is_what_the_scale_and_the_table_of_meats_give(
    target_pct: float,
) -> None:
    weight_g = GREEN_G * target_pct / 100
    water_g = WATER_G - (GREEN_G - weight_g)
    (facts,) = [column.facts for column in made(now_pct=None, target_pct=target_pct).columns]
    assert facts["Water"] == f"{100 * water_g / weight_g:.1f} %"
    assert facts["Protein"] == f"{100 * PROTEIN_G / weight_g:.1f} %"
    assert facts["Fat"] == f"{100 * FAT_G / weight_g:.1f} %"
    assert facts["Salt"] == f"{100 * SALT_G / weight_g:.2f} %"
    assert facts["Water-phase salt"] == f"{100 * SALT_G / (SALT_G + water_g):.2f} %"
    assert facts["Moisture:protein"] == f"{water_g / PROTEIN_G:.2f}"


def test_water_activity_is_a_range_inside_the_fit_and_a_reason_outside_it() -> None:
    told = made(now_pct=95.0, target_pct=75.0)
    moist, dry = (column.facts["Water activity"] for column in told.columns)
    assert moist == "no estimate"
    assert "measured products end at 2.5" in told.outside[0]
    low, high = map(float, dry.split(" to "))
    assert 0.90 < low < high < 0.95


def test_a_yield_is_named_on_all_three_bases() -> None:
    # Cooked 0.9 and hung 0.88 of green: 79.2 of 100 is 88.0 of 90 and 90.0 of 88.
    weights = weights_of(group(*STICKS))
    assert dict(say_yields(79.2, weights)) == {
        Base.GREEN: "79.2 %",
        Base.COOKED: "88.0 %",
        Base.HUNG: "90.0 %",
    }
    unweighed = weights_of(group(stick("A1", 100.0, None, 88.0)))
    assert say_yields(79.2, unweighed)[Base.COOKED] == "no cooked weight"
    assert set(say_yields(None, weights).values()) == {"not weighed"}


def test_sticks_not_weighed_cooked_do_not_pull_the_cooked_base_down() -> None:
    mixed = weights_of(group(stick("A1", 100.0, 90.0, 88.0), stick("A2", 50.0, None, 44.0)))
    assert (mixed.green_g, mixed.cooked_g, mixed.hung_g) == pytest.approx((75.0, 67.5, 66.0))


def test_the_yield_at_a_wanted_ratio_is_the_closed_form_on_every_base() -> None:
    on_green_pct = 100 * (1 - (WATER_G - 1.6 * PROTEIN_G) / GREEN_G)
    said = made(wanted="1,6").wanted
    assert f"{on_green_pct:.1f} % of green weight" in said
    assert f"{on_green_pct / 0.9:.1f} % of cooked weight" in said
    assert f"{on_green_pct / 0.88:.1f} % of hung weight" in said


@pytest.mark.parametrize(
    ("wanted", "said"),
    [
        ("5", "already lies at or below 5"),
        ("much", "Write the ratio in digits"),
        ("-1", "must be above zero"),
        ("  ", ""),
    ],
)
def test_a_ratio_that_cannot_be_is_told_in_words(wanted: str, said: str) -> None:
    assert said in made(wanted=wanted).wanted
    assert bool(made(wanted=wanted).wanted) == bool(said)


def test_the_size_expected_is_between_shrinking_across_only_and_all_round() -> None:
    # As hung at 88 % of green: volume 1 - 0.12 x 1.06; at 75 %: 1 - 0.25 x 1.06.
    left_ratio = (1 - 0.25 * 1.06) / (1 - 0.12 * 1.06)
    facts = made().columns[-1].facts
    low_mm, high_mm = 20.0 * left_ratio**0.5, 20.0 * left_ratio ** (1 / 3)
    assert facts["Across, expected"] == f"{low_mm:.1f} to {high_mm:.1f} mm"
    assert facts["Length, expected"] == f"{250 * left_ratio ** (1 / 3):.0f} to 250 mm"
    inches = made(units=Units(length=LengthUnit.INCH)).columns[-1].facts
    assert inches["Across, expected"].endswith(" in")


def test_fat_that_dripped_without_a_cooked_weight_is_a_reason_and_no_guess() -> None:
    dripped = replace(BATCH, fat_drip_g=20.0)
    told = made_of(
        dripped,
        group(stick("A1", 100.0, None, None)),
        RECIPE,
        now_pct=None,
        wanted="",
        units=Units(),
    )
    assert told.columns == ()
    assert "cannot be worked out" in told.fault


def test_the_table_has_the_targets_and_todays_rows_marked_in_their_places() -> None:
    rows = made(now_pct=83.3, target_pct=71.7).rows
    yields = [float(row.yields[Base.GREEN].removesuffix(" %")) for row in rows]
    assert yields == sorted(yields, reverse=True)
    marked = {row.mark: row.yields[Base.GREEN] for row in rows if row.mark}
    assert marked == {"when last weighed": "83.3 %", "at its target": "71.7 %"}


def test_the_way_ends_where_the_water_does() -> None:
    # All water gone is a yield of 1 - 640.6 / 1060 = 39.6 %.
    rows = made(now_pct=None, target_pct=42.0).rows
    assert min(float(row.yields[Base.GREEN].removesuffix(" %")) for row in rows) == 40.0


def at(yield_pct: float, *, aw: tuple[float, float] | None = (0.92, 0.94)) -> AtYield:
    return AtYield(yield_pct=yield_pct, water_pct=yield_pct - 30, moisture_protein_ratio=2.0, aw=aw)


def elements(picture: Markup, tag: str) -> list[dict[str, str]]:
    return [element.attrib for element in ET.fromstring(picture).iter(tag)]  # noqa: S314 - ours


def test_now_and_target_stand_where_their_yields_are_between_the_ends() -> None:
    along = [at(float(pct)) for pct in range(100, 59, -1)]
    picture = draw_composition(along, now=at(90.0), target=at(70.0), title="A")
    lines = {
        e["class"]: e["d"]
        for e in elements(picture, "path")
        if e.get("class") in {"today", "target"}
    }
    for css, share in (("today", 0.25), ("target", 0.75)):
        found = re.match(r"M([\d.]+) ", lines[css])
        assert found is not None
        assert float(found[1]) == pytest.approx(LEFT + share * (RIGHT - LEFT), abs=0.1)
    dots = {float(e["cx"]) for e in elements(picture, "circle")}
    assert len(dots) == 2


def test_what_is_not_estimated_is_hatched_and_not_bridged() -> None:
    along = [at(float(pct), aw=None if pct > 80 else (0.92, 0.94)) for pct in range(100, 59, -1)]
    picture = draw_composition(along, now=None, target=at(70.0), title="A")
    (hatched,) = [e for e in elements(picture, "rect") if "unknown" in e["fill"]]
    assert float(hatched["x"]) == LEFT
    assert float(hatched["width"]) == pytest.approx((RIGHT - LEFT) / 2, abs=0.1)
    known = [at(float(pct)) for pct in range(100, 59, -1)]
    whole = draw_composition(known, now=None, target=at(70.0), title="A")
    assert [e for e in elements(whole, "rect") if "unknown" in e["fill"]] == []


def test_the_picture_says_in_words_what_it_shows() -> None:
    picture = draw_composition(
        [at(100.0), at(60.0)], now=at(90.0, aw=None), target=at(70.0), title="A"
    )
    (svg,) = elements(picture, "{http://www.w3.org/2000/svg}svg") or elements(picture, "svg")
    assert svg["role"] == "img"
    assert "now 90.0 %: water 60.0 %" in svg["aria-label"]
    assert "no estimate of water activity" in svg["aria-label"]
    assert "target 70.0 %" in svg["aria-label"]
