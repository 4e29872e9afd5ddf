"""What cannot be is refused with the reason, and nothing is stored. Figures are invented."""

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import pytest
from sqlite_utils import Database
from store.record.full_batch import (
    ANN,
    COOK,
    GROUPS,
    LINES,
    NOW,
    STARTED,
    WEIGH_INS,
    FullBatch,
    points,
    steps,
)
from store.record.test_whole import everything

from hangroom.errors import InputError
from hangroom.product.curing import Ingoing, Working
from hangroom.product.slips import SlipKind
from hangroom.store.batches import add_batch
from hangroom.store.record.entries import add_entry
from hangroom.store.record.finish import FinishProfile
from hangroom.store.record.looks import Look, Measurement
from hangroom.store.record.photos import Media, Photo
from hangroom.store.record.recipe import (
    LineKind,
    add_recipe_lines,
    as_recipe,
    green_weight_slip,
)
from hangroom.store.record.series import TemperaturePoint, add_points
from hangroom.store.record.sums import FrozenSums, check_sums

CURE = LINES[3]
DRY, SMOKE, *_ = steps()
KNOWN: dict[str, Any] = {"key": "k", "entered_at": NOW, "entered_by": ANN}
AW = Measurement(**KNOWN, group="A", taken_at=NOW, aw=0.91, instrument="mirror")
LOOK = Look(**KNOWN, group="A", taken_at=NOW, note="fine")
PHOTO = Photo(**KNOWN, taken_at=NOW, sha256="0" * 64, media=Media.PNG, size=9)
PROFILE = FinishProfile(**KNOWN, group="A", tasted_at=NOW)
NITRITE = Ingoing(150.0, Working(what="nitrite", formula="a / b", inputs={"a_g": 0.1}))
LATER = NOW + timedelta(hours=1)

REFUSED: dict[str, tuple[object, dict[str, object], str]] = {
    "a weight below zero": (WEIGH_INS[0], {"weight_g": -71.4}, "above 0"),
    "a weight of zero": (WEIGH_INS[0], {"weight_g": 0.0}, "above 0"),
    "a weight that is no number": (WEIGH_INS[0], {"weight_g": float("nan")}, "no number"),
    "a weight that is a text": (WEIGH_INS[0], {"weight_g": "71,4"}, "no number"),
    "a weight that is a yes": (WEIGH_INS[0], {"weight_g": True}, "no number"),
    "a squeeze of six": (WEIGH_INS[0], {"squeeze": 6}, "from 1 to 5"),
    "half a squeeze": (WEIGH_INS[0], {"squeeze": 2.5}, "from 1 to 5"),
    "a wrinkle below zero": (WEIGH_INS[0], {"wrinkle_mm": -0.5}, "0 or more"),
    "a stick as thick as an arm": (WEIGH_INS[0], {"diameter_mm": 265.0}, "at most 200"),
    "a weigh-in in the future": (WEIGH_INS[0], {"taken_at": LATER}, "in the future"),
    "a weigh-in of 1970": (WEIGH_INS[0], {"taken_at": STARTED.replace(year=1970)}, "too long ago"),
    "a weigh-in without a zone": (WEIGH_INS[0], {"taken_at": datetime(2024, 11, 2)}, "time zone"),  # noqa: DTZ001
    "no key": (WEIGH_INS[0], {"key": ""}, "key must be a text"),
    "a long note": (WEIGH_INS[0], {"note": "x" * 3000}, "up to 2000 letters"),
    "a recipe's weight below zero": (LINES[2], {"weight_g": -1.0}, "0 or more"),
    "a recipe's weight as a text": (LINES[2], {"weight_g": "37,5"}, "no number"),
    "a label's fraction for its percentage": (
        CURE,
        {"nitrite_pct": 0.0625},
        "looks like a fraction",
    ),
    "a label above 100 %": (CURE, {"nitrite_pct": 625.0}, "must lie from"),
    "more nitrite and nitrate than salt": (CURE, {"nitrate_pct": 99.0}, "must lie from"),
    "a curing salt without its label": (CURE, {"nitrite_pct": None}, "needs a label's percentage"),
    "salt with a label": (LINES[2], {"nitrite_pct": 6.25}, "no place for a label"),
    "a meat that is in no table": (LINES[0], {"ndb": "99999"}, "no meat with the NDB number"),
    "a meat of nothing": (LINES[1], {"water_pct": None}, "needs a meat's analysis"),
    "a meat without protein": (LINES[1], {"protein_pct": None}, "water, protein and fat"),
    "a meat of more than itself": (LINES[1], {"water_pct": 99.0}, "must lie from"),
    "erythorbate of no form": (LINES[8], {"erythorbate": None}, "needs a form"),
    "a step that ends before it starts": (DRY, {"to_at": STARTED}, "before it starts"),
    "a step in the future": (DRY, {"from_at": LATER, "to_at": None}, "in the future"),
    "a wet bulb above the air": (SMOKE, {"wet_bulb_c": 60.0}, "above the air's"),
    "humidity above 100 %": (DRY, {"humidity_pct": 101.0}, "at most 100"),
    "a cook out of order": (
        COOK,
        {"points": points(6, 61.0, 62.0)[::-1]},
        "not after the one before",
    ),
    "a cook in the future": (COOK, {"points": points(99, 61.0)}, "in the future"),
    "a cook by nobody's probe": (COOK, {"probe": " "}, "place of the probe"),
    "neither water activity nor pH": (AW, {"aw": None}, "Enter a water activity"),
    "a water activity in per cent": (AW, {"aw": 91.0}, "0 or more and at most 1"),
    "a water activity of no meat": (AW, {"aw": 0.1}, "measured water activity"),
    "a pH of 15": (AW, {"ph": 15.0}, "at most 14"),
    "a measurement with nothing": (AW, {"instrument": ""}, "instrument"),
    "a look that says nothing": (LOOK, {"note": ""}, "Say what was seen"),
    "a photo of no name": (PHOTO, {"sha256": "../../x"}, "no SHA-256"),
    "a rating of six": (PROFILE, {"rating": 6}, "from 1 to 5"),
    "a yield below zero": (PROFILE, {"yield_pct": -3.0}, "0 or more"),
    "a group of no sticks": (GROUPS[0], {"sticks": 0}, "from 1 to"),
    "a target above the raw weight": (GROUPS[0], {"target_yield_pct": 101.0}, "at most 100"),
    "a room without its time": (GROUPS[0], {"room": "closet"}, "both a room and the time"),
    "a raw stick below zero": (GROUPS[0].tagged[0], {"green_weight_g": -1.0}, "above 0"),
    "a cooked stick below zero": (GROUPS[0].tagged[0], {"cooked_weight_g": -1.0}, "above 0"),
}


@pytest.mark.parametrize("what", REFUSED)
def test_refused_is(what: str) -> None:
    entry, changes, says = REFUSED[what]
    with pytest.raises(InputError) as refused:
        replace(entry, **changes)  # type: ignore[type-var]  # dataclasses of many kinds
    assert says in str(refused.value)


def test_a_temperature_in_fahrenheit_is_no_temperature_inside_meat() -> None:
    """155 degF is where sticks are pulled (common practice, no source); 155 degC is no stick."""
    with pytest.raises(InputError, match="Is it in degF"):
        TemperaturePoint(at=NOW, temperature_c=155.0)


def nothing_changes(db: Database, act: Callable[[], object], says: str) -> None:
    before = everything(db)
    with pytest.raises(InputError, match=says):
        act()
    assert everything(db) == before


def test_what_belongs_to_no_batch_or_group_is_not_stored(full: FullBatch) -> None:
    db = full.db
    nothing_changes(db, lambda: add_entry(db, 7, AW), "There is no batch 7")
    other = replace(AW, group="C")
    nothing_changes(db, lambda: add_entry(db, 1, other), "no group C in batch 1")


def test_of_several_lines_all_or_none_are_stored(full: FullBatch) -> None:
    lines = [replace(LINES[6], key="new", place=9), replace(LINES[6], key="newer", name="Garlic")]
    db = full.db
    nothing_changes(db, lambda: add_recipe_lines(db, 7, lines), "There is no batch 7")
    assert add_recipe_lines(db, 1, lines) == 2
    assert add_recipe_lines(db, 1, lines) == 0


def test_readings_go_on_a_series_only_in_order_and_never_over_another(full: FullBatch) -> None:
    db, key = full.db, COOK.key
    early, last = points(5.6, 62.0), points(6.25, 68.9)
    nothing_changes(db, lambda: add_points(db, key, early, now=NOW), "not after the one before")
    over = [replace(last[0], temperature_c=70.0)]
    nothing_changes(db, lambda: add_points(db, key, over, now=NOW), "68.9 degC already")
    nothing_changes(db, lambda: add_points(db, key, points(999, 70.0), now=NOW), "in the future")
    nothing_changes(db, lambda: add_points(db, "x", last, now=NOW), "no such series")
    assert add_points(db, key, last, now=NOW) == 0
    assert add_points(db, key, points(6.5, 60.0), now=NOW) == 1


def test_a_batch_in_the_future_is_not_stored(db: Database) -> None:
    def act() -> int:
        return add_batch(db, name="x", started_at=LATER, groups=[], now=NOW)

    nothing_changes(db, act, "in the future")


def test_two_curing_salts_have_no_sums_and_no_meat_no_recipe() -> None:
    with pytest.raises(InputError, match="2 lines of curing-salt"):
        as_recipe([*LINES, replace(CURE, key="another")])
    assert as_recipe([line for line in LINES if line.kind is not LineKind.MEAT]) is None


def test_a_green_weight_in_pounds_or_kilograms_is_noticed() -> None:
    """2,652.8 g are 5.848 lb (453.59237 g each, by definition)."""
    slip = green_weight_slip(LINES, 5.8)
    assert slip is not None
    assert slip.kind is SlipKind.POUNDS
    assert slip.meant_g == pytest.approx(5.8 * 453.59237)
    kilograms = green_weight_slip(LINES, 2.63)
    assert kilograms is not None
    assert kilograms.kind is SlipKind.KILOGRAMS
    assert green_weight_slip(LINES, 2630.0) is None
    assert green_weight_slip([], 2630.0) is None


def test_whoever_worked_the_sums_does_not_check_them(full: FullBatch) -> None:
    sums = FrozenSums(
        key="again",
        entered_at=STARTED,
        entered_by=ANN,
        sums=(NITRITE,),
    )
    db = full.db
    add_entry(db, 1, sums)
    same = f" {ANN.upper()}"
    nothing_changes(db, lambda: check_sums(db, "again", by=same, now=NOW), "A second person")
    nothing_changes(db, lambda: check_sums(db, "none", by="Ben", now=NOW), "no such sums")
    assert check_sums(db, "again", by="Ben", now=NOW)
    assert not check_sums(db, "again", by="Cid", now=NOW)
    checked = db.execute("select checked_by from frozen_sums where key = 'again'").fetchone()
    assert checked == ("Ben",)


def test_sums_without_a_sum_or_half_a_check_are_refused() -> None:
    with pytest.raises(InputError, match="no sums to freeze"):
        FrozenSums(**KNOWN, sums=())
    with pytest.raises(InputError, match="both who did it and when"):
        FrozenSums(**KNOWN, sums=(NITRITE,), checked_by="Ben")
