"""What a forecast is asked: the group's sticks, the air of every room it hung in, the air to come."""

from collections.abc import Mapping
from pathlib import Path

import pytest
from forecasting.asked import BELIEFS
from forecasting.household import COOL, HUNG_AT, PLAN, Air, Household, at, humidity, plan_for

from hangroom.alarm_table.log import AlarmEvent, of_room
from hangroom.alarm_table.row import AlarmId
from hangroom.alarm_table.words import Event, Suppression, Tell
from hangroom.forecasting.plan import SETTLES_WITHIN_H
from hangroom.forecasting.question import USUAL_WATER_FRACTION, Prepared, prepared
from hangroom.product.forecast import AirPlanned, Beliefs
from hangroom.product.humidity_plan import HumidityPlan, HumidityStep
from hangroom.product.learning import Kind
from hangroom.product.meats import USDA_MEATS
from hangroom.store.plans import Ended, PlanCause, begin_run, end_run, keep_plan
from hangroom.store.record.entries import add_entry
from hangroom.store.record.recipe import LineKind, RecipeLine, add_recipe_lines
from hangroom.store.record.steps import Step, StepKind
from hangroom.store.room_plans import newest_plans
from hangroom.store.setpoints import keep_setpoint
from hangroom.terms import Calibration, RoomPlan, Stage


@pytest.fixture
def household(tmp_path: Path) -> Household:
    return Household.in_folder(tmp_path)


def asked(
    household: Household,
    hours: float,
    *,
    number: int = 1,
    learned: Mapping[tuple[Kind, str], Beliefs] | None = None,
) -> Prepared:
    db = household.open()
    record = household.record(number)
    found = prepared(
        db,
        record,
        record.batch.groups[0],
        plans=newest_plans(db),
        learned=learned or {},
        earlier=None,
        scale_sd_g=0.1,
        now=at(hours),
    )
    db.close()
    assert found is not None
    return found


def steady(temperature_c: float, humidity_pct: float) -> Air:
    return lambda _hours: (temperature_c, humidity_pct)


def test_the_sticks_and_their_weights_come_as_they_were_entered(household: Household) -> None:
    household.hang(tags=("A1", "A2"))
    household.weigh(23.0, {"A1": 83.0, "A2": 84.0})
    household.weigh(47.0, {"A1": 79.0})
    question = asked(household, 48.0).question
    assert [(s.tag, s.green_weight_g, s.hang_weight_g) for s in question.tagged] == [
        ("A1", 100.0, 88.0),
        ("A2", 100.0, 88.0),
    ]
    assert [(w.at_h, w.tag, w.weight_g) for w in question.weighings] == [
        (23.0, "A1", 83.0),
        (23.0, "A2", 84.0),
        (47.0, "A1", 79.0),
    ]
    assert (question.now_h, question.sticks_in_group) == (48.0, 14)
    assert (question.target_yield_ratio, question.scale_sd_g) == (0.72, 0.1)
    assert (question.diameter_mm, question.diameter_measured) == (19.0, True)


def test_air_is_the_mean_of_half_hours_stamped_in_their_middle(household: Household) -> None:
    household.hang()
    # Rises by 2 % an hour: over half an hour the mean of readings at 0 to 29 min lies at 14.5 min.
    household.measure("closet", lambda h: (13.0, 70.0 + 2.0 * h), 0.0, 3.0)
    air = asked(household, 3.0).question.air
    assert [seen.at_h for seen in air] == [0.25, 0.75, 1.25, 1.75, 2.25, 2.75]
    for seen in air:
        mean_pct = 70.0 + 2.0 * (seen.at_h - 0.25 + 14.5 / 60.0)
        assert seen.humidity_pct == pytest.approx(mean_pct, abs=1e-6)
        assert seen.temperature_c == pytest.approx(13.0)


def test_a_gap_stays_a_gap_and_nothing_counts_from_before_it_hung(household: Household) -> None:
    household.hang()
    household.measure("closet", steady(13.0, 76.0), -5.0, 1.0)
    household.measure("closet", steady(13.0, 76.0), 4.0, 5.0)
    air = asked(household, 5.0).question.air
    assert [seen.at_h for seen in air] == [0.25, 0.75, 4.25, 4.75]


def test_air_follows_a_group_from_room_to_room(household: Household) -> None:
    number = household.hang()
    household.measure("closet", steady(13.0, 76.0), 0.0, 6.0)
    household.measure("fridge", steady(3.0, 85.0), 0.0, 6.0)
    household.move(number, "fridge", 2.0)
    air = asked(household, 4.0).question.air
    assert [(seen.at_h, seen.temperature_c) for seen in air] == [
        (0.25, 13.0), (0.75, 13.0), (1.25, 13.0), (1.75, 13.0),
        (2.25, 3.0), (2.75, 3.0), (3.25, 3.0), (3.75, 3.0),
    ]  # fmt: skip


def test_a_calibration_is_put_in_and_the_middle_sensor_counts(household: Household) -> None:
    household.hang()
    for sensor, read_pct in (("rail", 70.0), ("floor", 78.0), ("door", 99.0)):
        household.measure("closet", steady(13.0, read_pct), 0.0, 1.0, sensor=sensor)
    household.follow(
        plan_for(
            "closet",
            calibrations={"floor": Calibration(gain_ratio=1.0, offset_pct=2.5, checked_at=HUNG_AT)},
        )
    )
    assert {seen.humidity_pct for seen in asked(household, 1.0).question.air} == {80.5}


def test_a_wet_or_broken_sensor_is_not_air(household: Household) -> None:
    household.hang()
    household.measure("closet", steady(13.0, 99.9), 0.0, 1.0)
    household.measure("closet", steady(-3276.0, 76.0), 1.0, 2.0)
    household.measure("closet", steady(13.0, 76.0), 2.0, 3.0)
    assert [seen.at_h for seen in asked(household, 3.0).question.air] == [2.25, 2.75]


def alarm(household: Household, event: Event, hours: float) -> None:
    journal = household.journal({"closet": ["rail"]})
    journal.note_alarm(
        of_room("closet"),
        AlarmEvent(
            sequence=1,
            at=at(hours),
            uptime_s=0.0,
            alarm=AlarmId.SENSOR_IMPLAUSIBLE,
            event=event,
            tell=Tell.ANNUNCIATE,
            suppression=Suppression.NONE,
            occurrences=1,
        ),
    )
    journal.flush(now=at(hours))
    journal.close()


def test_while_a_sensor_cannot_be_trusted_there_is_a_gap(household: Household) -> None:
    household.hang()
    household.measure("closet", steady(13.0, 60.0), 0.0, 4.0)
    alarm(household, Event.ACTIVATED, 1.3)
    alarm(household, Event.RETURNED_TO_NORMAL, 2.2)
    air = asked(household, 4.0).question.air
    assert [seen.at_h for seen in air] == [0.25, 0.75, 2.75, 3.25, 3.75]


def test_a_doubt_that_is_open_goes_on_until_now(household: Household) -> None:
    household.hang()
    household.measure("closet", steady(13.0, 60.0), 0.0, 4.0)
    alarm(household, Event.ACTIVATED, 2.4)
    assert [s.at_h for s in asked(household, 4.0).question.air] == [0.25, 0.75, 1.25, 1.75]


def test_the_plan_is_what_the_room_keeps_once_it_has_settled(household: Household) -> None:
    # The hump of a fresh load, then 74 % although 76 are wanted.
    household.hang()
    household.follow(PLAN)
    household.measure("closet", lambda h: (13.4, 88.0 if h < SETTLES_WITHIN_H else 74.0), 0.0, 30.0)
    [air] = asked(household, 30.0).question.plan
    assert air.from_h == 30.0
    assert air.temperature_c == pytest.approx(13.4)
    assert air.humidity_pct == pytest.approx(74.0)


def test_before_that_the_plan_is_what_is_wanted(household: Household) -> None:
    household.hang()
    household.follow(PLAN)
    household.measure("closet", steady(15.0, 88.0), 0.0, 10.0)
    [air] = asked(household, 10.0).question.plan
    assert air == AirPlanned(from_h=10.0, temperature_c=13.0, humidity_pct=76.0)


def test_a_setpoint_moved_just_now_goes_before_what_the_room_kept(household: Household) -> None:
    household.hang()
    household.follow(plan_for("closet", humidity=humidity(68.0)))
    household.measure("closet", steady(13.4, 76.0), 0.0, 30.0)
    db = household.open()
    with db.atomic():
        keep_setpoint(
            db,
            room="closet",
            stage=Stage.HANG,
            what="humidity",
            value=68.0,
            set_by="Ada",
            now=at(29.0),
        )
    db.close()
    [air] = asked(household, 30.0).question.plan
    assert (air.humidity_pct, air.temperature_c) == (68.0, 13.0)


def test_where_nothing_is_wanted_the_newest_hours_stand_for_it(household: Household) -> None:
    household.hang()
    household.follow(plan_for("closet", humidity=None))
    household.measure("closet", lambda h: (13.0, 90.0 if h < 2.0 else 80.0), 0.0, 8.0)
    [air] = asked(household, 8.0).question.plan
    assert air.humidity_pct == pytest.approx(80.0)


def test_a_stage_that_ends_is_planned_with_what_follows(household: Household) -> None:
    household.hang()
    household.follow(plan_for("closet", stage=Stage.REST, humidity=humidity(85.0)))
    db = household.open()
    db.execute(
        "insert into stage_run values ('closet', 'rest', 'boot', 0, ?, ?, 'hang', 'Ada', null)",
        (round(at(4.0).timestamp() * 1000), 12 * 3_600_000),
    )
    db.conn.commit()
    db.close()
    assert asked(household, 6.0).question.plan == (
        AirPlanned(from_h=6.0, temperature_c=13.0, humidity_pct=85.0),
        AirPlanned(from_h=16.0, temperature_c=13.0, humidity_pct=76.0),
    )


def test_where_nobody_can_know_there_is_no_plan(household: Household) -> None:
    household.hang()
    assert asked(household, 6.0).question.plan == ()
    # In a stage that follows no humidity, with nothing measured, half a wish is none.
    household.follow(plan_for("closet", stage=Stage.CASING_DRY))
    assert asked(household, 6.0).question.plan == ()


def line(place: int, kind: LineKind, weight_g: float, ndb: str | None = None) -> RecipeLine:
    return RecipeLine(
        key=f"line {place}",
        entered_at=at(0.0),
        entered_by="Ada",
        place=place,
        kind=kind,
        name=str(kind),
        weight_g=weight_g,
        ndb=ndb,
    )


def test_water_comes_from_the_recipe_at_the_weight_as_hung(household: Household) -> None:
    number = household.hang()
    db = household.open()
    lines = [
        line(0, LineKind.MEAT, 1000.0, "10219"),
        line(1, LineKind.SALT, 20.0),
        line(2, LineKind.WATER, 50.0),
    ]
    add_recipe_lines(db, number, lines)
    db.close()
    question = asked(household, 1.0).question
    # By hand, from USDA 10219 (61.06 % water): 660.6 g in 1070 g; hung at 88 %, 128.4 g are gone.
    water_g, hung_g = 610.6 + 50.0 - 128.4, 941.6
    assert question.water_fraction == pytest.approx(water_g / hung_g, rel=1e-9)
    assert question.water_phase_salt_pct == pytest.approx(2000.0 / (20.0 + water_g), rel=1e-9)


def test_without_a_recipe_or_a_thickness_usual_ones_stand_in_and_are_said(
    household: Household,
) -> None:
    household.hang(across_mm=None)
    about = asked(household, 1.0)
    assert [remark.code for remark in about.assumed] == ["water-assumed", "diameter-assumed"]
    assert about.question.water_phase_salt_pct is None
    assert not about.question.diameter_measured


def test_the_usual_water_lies_between_pork_and_half_venison() -> None:
    pork_pct, venison_pct = (USDA_MEATS[ndb].water_pct for ndb in ("10219", "17343"))
    # 3 % of salt and spice, then 12 % of the green weight lost as water.
    lean, mixed = (
        (water_pct / 1.03 - 12.0) / 88.0 for water_pct in (pork_pct, (pork_pct + venison_pct) / 2)
    )
    assert (lean + mixed) / 2 == pytest.approx(USUAL_WATER_FRACTION, abs=0.003)


def test_a_casing_stands_in_for_a_caliper(household: Household) -> None:
    household.hang(across_mm=None, casing_mm=21.0)
    question = asked(household, 1.0).question
    assert (question.diameter_mm, question.diameter_measured) == (21.0, False)


def smoked(household: Household, number: int) -> None:
    db = household.open()
    step = Step(
        key="smoke",
        entered_at=at(0.0),
        entered_by="Ada",
        group=None,
        kind=StepKind.SMOKE,
        from_at=at(-6.0),
        to_at=at(-1.0),
    )
    add_entry(db, number, step)
    db.close()


def test_drying_counts_from_the_rail_not_from_the_casings(household: Household) -> None:
    # Casings dried in the closet from -8 h on; smoke from -6 to -1; hung elsewhere at 0.
    number = household.hang(hours=-8.0)
    smoked(household, number)
    assert asked(household, -0.5).hung_at == at(-1.0)  # never noted as moved
    household.move(number, "fridge", 0.0)
    assert asked(household, 5.0).hung_at == at(-1.0)


def test_a_stay_that_ended_in_the_smoker_is_none_on_the_rail(household: Household) -> None:
    number = household.hang(hours=-8.0)
    smoked(household, number)
    household.move(number, "fridge", -1.5)
    about = asked(household, 5.0)
    assert about.hung_at == at(-1.5)
    assert about.room == "fridge"


def test_what_a_group_began_with_stays_its_beginning(household: Household) -> None:
    household.hang()
    learned = {(Kind.ROOM, "closet"): BELIEFS, (Kind.RECIPE, "juniper"): BELIEFS}
    assert asked(household, 1.0, learned=learned).question.beliefs == BELIEFS
    assert asked(household, 1.0).question.beliefs is None


def test_a_group_teaches_the_room_it_hung_in_nearly_all_the_time(household: Household) -> None:
    number = household.hang()
    household.move(number, "fridge", 20.0)
    assert asked(household, 22.0).room == "closet"
    assert asked(household, 40.0).room is None


def plan_of(household: Household, room: str) -> RoomPlan:
    db = household.open()
    plan = newest_plans(db)[room]
    db.close()
    return plan


def test_the_newest_plan_of_each_room_counts_and_an_unreadable_one_does_not(
    household: Household,
) -> None:
    household.follow(PLAN)
    household.follow(plan_for("fridge", temperature=COOL, humidity=None))
    household.follow(plan_for("closet", humidity=humidity(70.0)))
    assert plan_of(household, "closet").humidity == humidity(70.0)
    assert plan_of(household, "fridge").humidity is None
    db = household.open()
    db.execute("update room_plan set plan = '{}' where id = (select max(id) from room_plan)")
    db.conn.commit()
    assert set(newest_plans(db)) == {"fridge"}
    db.close()


def test_a_humidity_plan_that_the_room_follows_is_air_to_come(household: Household) -> None:
    household.hang()
    household.follow(PLAN)
    # Settled at 74 % although 76 are wanted: the plan's 70 will be 68 on the sensor.
    household.measure("closet", lambda h: (13.0, 88.0 if h < SETTLES_WITHIN_H else 74.0), 0.0, 30.0)
    steps = tuple(HumidityStep(after_h=h, humidity_pct=p) for h, p in ((0.0, 76.0), (10.0, 70.0)))
    db = household.open()
    with db.atomic():
        number = keep_plan(
            db,
            room="closet",
            made_at=at(28.0),
            cause=PlanCause.ASKED,
            plan=HumidityPlan(steps=steps, groups=(), remarks=()),
            hung_at={},
        )
        begin_run(db, room="closet", number=number, by="Ada", now=at(28.0))
    now, later = asked(household, 30.0).question.plan
    assert (now.from_h, later.from_h) == (30.0, 38.0)
    assert now.humidity_pct == pytest.approx(74.0)
    assert later.humidity_pct == pytest.approx(68.0)
    assert later.temperature_c == pytest.approx(13.0)
    with db.atomic():
        end_run(db, room="closet", why=Ended.BY_HAND, by="Ada", now=at(30.0))
    db.close()
    assert len(asked(household, 30.0).question.plan) == 1
