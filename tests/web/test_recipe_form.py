import pytest
from web.entering import Keeper, keeper, said, value_of
from web.scenario import Scene

from hangroom.store.record.recipe import LineKind

PORK, VENISON = "10219", "17343"
FORM = {
    "meat-0": PORK,
    "meat-0-weight": "600",
    "meat-1": VENISON,
    "meat-1-weight": "400",
    "salt": "17,5",
    "water": "30",
    "spice": "10",
    "spice-name": "Juniper, mustard seed",
    "cure-name": "Cure #1",
    "cure-nitrite": "6.25",
    "cure": "2.5",
}


@pytest.fixture
def ada(scene: Scene) -> Keeper:
    return keeper(scene)


def recipe(number: int = 3) -> str:
    return f"/batches/{number}/recipe"


@pytest.fixture
def number(ada: Keeper) -> int:
    return ada.start()


def test_a_recipe_is_stored_and_its_sums_are_shown_and_frozen(ada: Keeper, number: int) -> None:
    """Worked by the handbook's formula (FSIS Directive 7620.3, rev. 1995, ch. 3).

    2.5 g of a 6.25 % mix on 1,000 g of meat are 156.25 ppm; the 30 g of water do not count.
    """
    ada.stored(recipe(), FORM)
    record = ada.record(number)
    assert [(line.kind, line.weight_g) for line in record.recipe] == [
        (LineKind.MEAT, 600.0),
        (LineKind.MEAT, 400.0),
        (LineKind.CURING_SALT, 2.5),
        (LineKind.SALT, 17.5),
        (LineKind.WATER, 30.0),
        (LineKind.SPICE, 10.0),
    ]
    assert {line.entered_by for line in record.recipe} == {"Ada"}
    assert record.recipe[-1].name == "Juniper, mustard seed"
    page = ada.see(recipe())
    assert "Ingoing sodium nitrite 156.2 ppm" in page
    assert "curing salt x nitrite % of its label / 100 x 1,000,000 / green weight" in page
    assert "curing salt, 2.5 g; nitrite on its label, 6.25 %; green weight of the meat, 1000 g" in (
        page
    )
    assert "Met Cure Ingoing nitrite at most 156 ppm" in page
    assert "Met Cure Ingoing nitrite at least 120 ppm" in page
    (frozen,) = record.sums
    assert (frozen.entered_by, frozen.checked_by) == ("Ada", None)
    assert frozen.sums[0].working.inputs["meat_green_g"] == 1000.0


def test_pounds_and_ounces_of_the_trades_rule(ada: Keeper, number: int) -> None:
    """Four ounces of a 6.25 % mix to 100 lb are a quarter ounce of nitrite: 156.25 ppm.

    Seven eighths of an ounce of sodium erythorbate to 100 lb are 546.9 ppm. Both by 9 CFR 424.21(c).
    """
    ada.stored(
        recipe(),
        {
            "meat-0": PORK,
            "meat-0-weight": "100",
            "meat-0-weight-unit": "lb",
            "cure-nitrite": "6.25",
            "cure": "4",
            "cure-unit": "oz",
            "erythorbate": "0,875",
            "erythorbate-unit": "oz",
            "erythorbate-kind": "sodium erythorbate or ascorbate",
        },
    )
    page = ada.see(recipe(number))
    assert "Ingoing sodium nitrite 156.2 ppm" in page
    assert "Ingoing erythorbate or ascorbate 546.9 ppm" in page


def test_too_much_and_too_little_nitrite_are_told(ada: Keeper, number: int) -> None:
    ada.stored(recipe(number), FORM, cure="4.0")
    assert "Not met Cure Ingoing nitrite at most 156 ppm" in ada.see(recipe())
    other = ada.start("a second one")
    ada.stored(recipe(other), FORM, cure="1.0")
    assert "Not met Cure Ingoing nitrite at least 120 ppm" in ada.see(recipe(other))


def test_how_many_grams_a_wanted_nitrite_takes_is_worked_out_and_not_stored(
    ada: Keeper, number: int
) -> None:
    """Exactly 156 ppm on 1,000 g take 2.496 g of a 6.25 % mix, by the same formula turned round."""
    form = {**FORM, "cure": "", "wanted": "156", "work": "1"}
    page = ada.asked(recipe(), form)
    assert "Cure #1 to weigh out 2.496 g" in page
    assert ada.record(number).recipe == ()
    page = ada.asked(recipe(), {**form, "cure-nitrite": "0.6"})
    assert "26 g" in page  # 0.156 g of nitrite in a European mix of 0.6 %


def test_grams_are_not_worked_out_before_the_meat_is_weighed(ada: Keeper, number: int) -> None:
    page = ada.refused(recipe(number), {"cure-nitrite": "6.25", "wanted": "156", "work": "1"})
    assert "Weigh the meat first" in page


def test_the_labels_fraction_is_noticed_and_cannot_be_kept(ada: Keeper, number: int) -> None:
    form = {**FORM, "cure-nitrite": "0.0625"}
    page = ada.asked(recipe(), form)
    assert "0.0625 looks like a fraction; that would be 6.25 %" in page
    assert "Use 6.25" in page
    assert "Keep 0.0625" not in page
    ada.asked(recipe(), form, keep="cure-nitrite", **{"asked-cure-nitrite": "0.0625"})
    assert ada.record(number).recipe == ()
    answer = {"asked-cure-nitrite": "0.0625", "use": "cure-nitrite:6.25"}
    ada.stored(recipe(), form, **answer)
    assert ada.record(number).recipe[2].nitrite_pct == 6.25


def test_an_answer_while_working_the_grams_out_stores_nothing(ada: Keeper, number: int) -> None:
    form = {**FORM, "cure": "", "cure-nitrite": "0.0625", "wanted": "156", "working": "1"}
    answer = {"asked-cure-nitrite": "0.0625", "use": "cure-nitrite:6.25"}
    assert "2.496 g" in ada.asked(recipe(), form, **answer)
    assert ada.record(number).recipe == ()


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"meat-0-weight": "-600"}, "above zero"),
        ({"meat-0-weight": "much"}, "Write the weight in digits"),
        ({"meat-0-weight": "1.200,5"}, "both a comma and a point"),
        ({"meat-0-weight": ""}, "Enter a weight"),
        ({"meat-0-weight-unit": "stone"}, "Choose one of the units"),
        ({"meat-0": ""}, "Say which meat this is"),
        ({"meat-0": "99999"}, "Choose one of what is offered"),
        ({"meat-0": "own"}, "Give your meat a name"),
        ({"cure-nitrite": ""}, "Enter a label's percentage"),
        ({"cure-nitrite": "625"}, "between 0 and 100"),
        ({"cure-nitrite": "60", "cure-nitrate": "60"}, "the salt in Cure #1"),
        ({"salt": "pinch"}, "Write the weight in digits"),
        ({"erythorbate": "1.3", "erythorbate-kind": ""}, "Choose one of what is offered"),
    ],
)
def test_every_fault_is_told_and_what_was_typed_stays(
    ada: Keeper, number: int, changes: dict[str, str], told: str
) -> None:
    answer = ada.send(recipe(), {**FORM, **changes})
    assert answer.status_code == 422
    assert told in said(answer)
    for name, typed in {**FORM, **changes}.items():
        if name not in {"meat-0", "meat-1", "meat-0-weight-unit", "erythorbate-kind"}:
            assert value_of(answer, name) == typed
    assert ada.record(number).recipe == ()


def test_an_empty_form_stores_nothing(ada: Keeper, number: int) -> None:
    assert "Nothing was typed yet" in ada.refused(recipe(number))


def test_meat_that_weighs_less_than_what_goes_into_it_is_asked_about(
    ada: Keeper, number: int
) -> None:
    # 2.2 lb typed where grams are asked for.
    form = {**FORM, "meat-0-weight": "1.3", "meat-1-weight": "0.9"}
    assert "is less than what goes into it" in ada.asked(recipe(), form)
    assert ada.record(number).recipe == ()
    ada.stored(recipe(), form, keep="meat-0-weight", **{"asked-meat-0-weight": "1.3"})


def test_a_green_weight_in_another_unit_is_noticed_beside_the_lines(ada: Keeper) -> None:
    # 2.34 lb are 1,061 g (453.59237 g each, by definition), which is what the lines add to.
    number = ada.start("typed in pounds", green="2.34")
    page = ada.asked(recipe(number), FORM)
    assert "The lines add to 1060 g, the batch's green weight is 2.34 g" in page


def test_a_meat_with_the_keepers_own_figures(ada: Keeper, number: int) -> None:
    own = {
        "meat-0": "own",
        "meat-0-name": "wild boar, our own",
        "meat-0-water": "72,1",
        "meat-0-protein": "21",
        "meat-0-fat": "5.9",
    }
    ada.stored(recipe(), FORM, **own)
    meat = ada.record(number).recipe[0].meat()
    assert (meat.name, meat.water_pct, meat.fat_pct) == ("wild boar, our own", 72.1, 5.9)
    too_much = {**own, "meat-0-fat": "20"}
    other = ada.start("a second one")
    assert "the sum of the shares" in ada.refused(recipe(other), FORM, **too_much)


def test_zero_says_that_none_went_in(ada: Keeper, number: int) -> None:
    ada.stored(recipe(number), FORM, acidulant="0")
    assert ada.record(number).recipe[-1].weight_g == 0.0
    assert "Acidulant, as encapsulated citric acid none" in ada.see(recipe())


def test_sent_twice_it_is_one_recipe(ada: Keeper, number: int) -> None:
    ada.stored(recipe(number), FORM, key="twice")
    ada.stored(recipe(number), FORM, key="twice")
    assert len(ada.record(number).recipe) == 6
    assert len(ada.record(number).sums) == 1


def test_a_second_curing_salt_is_refused(ada: Keeper, number: int) -> None:
    ada.stored(recipe(number), FORM)
    page = ada.refused(recipe(number), {"cure-nitrite": "6.25", "cure": "2.5"})
    assert "the sums are worked for one" in page


def test_the_frozen_sums_stand_when_the_recipe_is_added_to(ada: Keeper, number: int) -> None:
    ada.stored(recipe(number), FORM)
    ada.stored(recipe(number), {"meat-0": PORK, "meat-0-weight": "200"})
    first, second = ada.record(number).sums
    assert first.sums[0].working.inputs["meat_green_g"] == 1000.0
    assert second.sums[0].working.inputs["meat_green_g"] == 1200.0


def test_a_second_person_checks_the_frozen_sums_on_whichever_phone(
    ada: Keeper, number: int
) -> None:
    ada.stored(recipe(number), FORM)
    check = f"{recipe(number)}/check/{ada.record(number).sums[0].key}"
    agrees = {"agree": "1"}
    assert "Write the name of who checked" in ada.refused(check, agrees, name=" ")
    assert "A second person has to check them" in ada.refused(check, agrees, name="ada")
    assert "Tick that the sums" in ada.refused(check, name="Ben")
    assert ada.record(number).sums[0].checked_by is None
    ada.stored(check, agrees, name="Ben")
    assert ada.record(number).sums[0].checked_by == "Ben"
    assert "Worked by Ada, 09:52. Checked by Ben, 09:52." in ada.see(recipe(number))


def test_sums_of_another_batch_cannot_be_checked_here(ada: Keeper, number: int) -> None:
    ada.stored(recipe(number), FORM)
    key = ada.record(number).sums[0].key
    answer = ada.send(f"/batches/1/recipe/check/{key}", {"agree": "1"}, name="Ben")
    assert answer.status_code == 404


def test_looking_at_a_recipe_is_open_but_offers_no_form(
    ada: Keeper, number: int, scene: Scene
) -> None:
    ada.stored(recipe(number), FORM)
    stranger = scene.client()
    html = stranger.get(recipe(number)).get_data(as_text=True)
    assert "156.2 ppm" in html
    assert "<form" not in html
    answer = stranger.post(recipe(number), data=FORM)
    assert answer.status_code in {400, 403}
