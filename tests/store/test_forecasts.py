"""Forecasts kept and read back: exactly what was written, or nothing."""

import json
import sqlite3
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from sqlite_utils import Database

from hangroom.errors import InputError
from hangroom.product.forecast import (
    AirPlanned,
    AirSeen,
    Belief,
    Beliefs,
    CurvePoint,
    Forecast,
    Question,
    Remark,
    StickNow,
    TaggedStick,
    Weighing,
)
from hangroom.product.learning import Kind
from hangroom.store.batches import NewGroup, add_batch, pull_group
from hangroom.store.forecast_form import (
    VERSION,
    answer_from_json,
    answered_as_json,
    asked_as_json,
    question_from_json,
)
from hangroom.store.forecasts import (
    Cause,
    Failure,
    KeptForecast,
    Known,
    keep_failure,
    keep_forecast,
    kept_before,
    known_of,
    newest_of_every_group,
    pulled_since,
)
from hangroom.store.learned import Learned, keep_learned, learned

HUNG_AT = datetime(2026, 11, 24, 14, 0, tzinfo=UTC)
BELIEFS = Beliefs(
    transfer_kg_per_m2_s_pa=Belief(median=1.3e-8, ln_sd=0.31),
    diffusivity_m2_per_s=Belief(median=6.2e-11, ln_sd=0.44),
)
FORECAST = Forecast(
    now_h=48.1,
    target_yield_ratio=0.72,
    hung_ratio=0.88,
    yield_ratio=0.778,
    yield_sd_ratio=0.0148,
    p10_h=61.0,
    p50_h=80.25,
    p90_h=None,
    never_pct=12.5,
    loss_pct_per_day=5.1,
    surface_to_core_ratio=0.69,
    least_surface_to_core_ratio=0.66,
    surface_aw=0.91,
    core_aw=0.94,
    effective_particles=331.5,
    sticks=(StickNow(tag="A1", yield_ratio=0.78, yield_sd_ratio=0.013),),
    curve=(
        CurvePoint(at_h=0.0, low_ratio=0.87, middle_ratio=0.88, high_ratio=0.89),
        CurvePoint(at_h=144.0, low_ratio=0.55, middle_ratio=0.63, high_ratio=0.71),
    ),
    beliefs=BELIEFS,
    remarks=(
        Remark(code="no-plan"),
        Remark(code="tags-swapped", figures={"tag": "A1", "other": "A2"}),
        Remark(code="air-missing", figures={"from_h": 1.0, "to_h": 3.0, "hours": 2.0}),
    ),
    ms=101.5,
)
QUESTION = Question(
    tagged=(TaggedStick(tag="A1", green_weight_g=104.0, hang_weight_g=None),),
    sticks_in_group=14,
    target_yield_ratio=0.72,
    water_fraction=0.565,
    diameter_mm=20.0,
    diameter_measured=True,
    scale_sd_g=0.5,
    now_h=48.1,
    air=(AirSeen(at_h=0.25, temperature_c=13.1, humidity_pct=75.6),),
    plan=(AirPlanned(from_h=48.1, temperature_c=13.0, humidity_pct=76.0),),
    weighings=(Weighing(at_h=23.0, tag="A1", weight_g=86.6, diameter_mm=19.4, squeeze=2),),
    beliefs=BELIEFS,
)


def kept(hours: float, **other: Any) -> KeptForecast:  # noqa: ANN401 - whatever it holds
    made = KeptForecast(
        made_at=HUNG_AT + timedelta(hours=hours),
        cause=Cause.HOURLY,
        hung_at=HUNG_AT,
        room="closet",
        recipe="juniper",
        diameter_mm=20.0,
        plan=QUESTION.plan,
        before=None,
        weighings=1,
        forecast=FORECAST,
    )
    return replace(made, **other)


@pytest.fixture
def group(db: Database) -> int:
    group = NewGroup(
        letter="A", finish="supple", target_yield_pct=72, sticks=14, tagged=[],
        room="closet", hung_at=HUNG_AT,
    )  # fmt: skip
    add_batch(db, name="Juniper", started_at=HUNG_AT, groups=[group])
    return 1


def test_a_forecast_reads_back_as_it_was_written(db: Database, group: int) -> None:
    written = kept(48, before=BELIEFS, room=None, cause=Cause.WEIGH_IN)
    keep_forecast(db, group, written)
    assert known_of(db, [group]) == {group: Known(kept=written)}


def test_a_question_and_an_answer_read_back_as_they_were_written() -> None:
    assert question_from_json(asked_as_json(QUESTION)) == QUESTION
    assert answer_from_json(answered_as_json(FORECAST)) == FORECAST


def changed(change: Callable[[dict[str, Any]], object]) -> str:
    document = json.loads(answered_as_json(FORECAST))
    change(document)
    return json.dumps(document)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "no JSON"),
        ("nonsense", "no JSON"),
        ("[]", "version None"),
        ("{" * 100_000, "no JSON"),
        (changed(lambda d: d.update(version=VERSION + 1)), f"version {VERSION + 1}"),
        (changed(lambda d: d.pop("version")), "version None"),
        (changed(lambda d: d["forecast"].pop("p10_h")), "forecast.p10_h"),
        (changed(lambda d: d["forecast"].update(p10_h="61")), "forecast.p10_h"),
        (changed(lambda d: d["forecast"].update(yield_ratio=None)), "forecast.yield_ratio"),
        (changed(lambda d: d["forecast"].update(yield_ratio=float("nan"))), "NaN is no number"),
        (changed(lambda d: d["forecast"].update(p50_h=float("inf"))), "Infinity is no number"),
        (changed(lambda d: d["forecast"].update(moon=1.0)), "more than its form"),
        (changed(lambda d: d["forecast"]["sticks"][0].update(tag=7)), "sticks.0.tag"),
        (answered_as_json(FORECAST).replace("12.5", "1e999"), "beyond every number"),
        ('{"version":1,"forecast":null,"fault":"It rained."}', "It rained."),
        ('{"version":1,"forecast":null,"fault":""}', "neither a forecast nor a reason"),
    ],
)
def test_what_is_no_answer_of_this_version_is_refused_in_words(text: str, told: str) -> None:
    with pytest.raises(InputError, match=told):
        answer_from_json(text)


def test_a_forecast_of_another_version_is_absent_and_breaks_nothing(
    db: Database, group: int
) -> None:
    keep_forecast(db, group, kept(48))
    db.execute("update forecast set body = json_set(body, '$.version', 99)")
    assert known_of(db, [group]) == {group: Known()}
    assert newest_of_every_group(db) == {}
    keep_forecast(db, group, kept(49))
    assert known_of(db, [group])[group].kept == kept(49)


def test_a_failure_leaves_the_last_forecast_in_place_until_the_next(
    db: Database, group: int
) -> None:
    keep_forecast(db, group, kept(48))
    failed = Failure(at=HUNG_AT + timedelta(hours=49), cause=Cause.HOURLY, why="It took too long.")
    keep_failure(db, group, failed)
    assert known_of(db, [group])[group] == Known(kept=kept(48), failed=failed)
    again = replace(failed, at=HUNG_AT + timedelta(hours=50))
    keep_failure(db, group, again)
    assert known_of(db, [group])[group] == Known(kept=kept(48), failed=again)
    keep_forecast(db, group, kept(51))
    assert known_of(db, [group])[group] == Known(kept=kept(51))


def test_a_group_never_forecast_is_known_by_its_failure_alone(db: Database, group: int) -> None:
    failed = Failure(at=HUNG_AT, cause=Cause.START, why="No.")
    keep_failure(db, group, failed)
    assert known_of(db, [group, 77]) == {group: Known(failed=failed), 77: Known()}


def test_of_each_day_the_newest_is_kept_to_look_back_on(db: Database, group: int) -> None:
    for hour in range(72):  # three days from 14:00 UTC on touch four dates
        keep_forecast(db, group, kept(hour))
    made = [ms for (ms,) in db.execute("select made_ms from forecast order by id")]
    # The last full hour before each midnight, and the newest of all.
    assert [(ms - int(HUNG_AT.timestamp() * 1000)) / 3_600_000 for ms in made] == [9, 33, 57, 71]
    earlier = kept_before(db, group, HUNG_AT + timedelta(hours=50))
    assert earlier is not None
    assert earlier.made_at == HUNG_AT + timedelta(hours=33)
    assert kept_before(db, group, HUNG_AT) is None


def test_a_clock_that_was_set_back_does_not_hide_the_newest(db: Database, group: int) -> None:
    keep_forecast(db, group, kept(100))
    keep_forecast(db, group, kept(48))
    assert known_of(db, [group])[group].kept == kept(48)


def test_a_group_pulled_after_its_newest_forecast_is_found_once(db: Database, group: int) -> None:
    since = HUNG_AT
    keep_forecast(db, group, kept(48))
    assert pulled_since(db, since) == []
    pulled_at = HUNG_AT + timedelta(hours=49)
    pull_group(db, group, now=pulled_at)
    assert pulled_since(db, since) == [(1, "A")]
    assert pulled_since(db, pulled_at + timedelta(hours=1)) == []
    keep_forecast(db, group, kept(50, cause=Cause.PULLED))
    assert pulled_since(db, since) == []


def test_a_row_is_a_forecast_or_a_reason_never_both_and_never_neither(
    db: Database, group: int
) -> None:
    insert = "insert into forecast (group_id, made_ms, cause, body, error) values (?, 0, ?, ?, ?)"
    for body, error in (("{}", "No."), (None, "")):
        with pytest.raises(sqlite3.IntegrityError, match="CHECK"):
            db.execute(insert, (group, "start", body, error))


def test_what_was_learned_reads_back_and_is_replaced_as_a_whole(db: Database) -> None:
    one = Learned(kind=Kind.ROOM, name="closet", beliefs=BELIEFS, batches=2, updated_at=HUNG_AT)
    keep_learned(db, [one, replace(one, kind=Kind.RECIPE, name="juniper")])
    [(key, found)] = [item for item in learned(db).items() if item[0][0] is Kind.ROOM]
    assert key == (Kind.ROOM, "closet")
    transfer = found.beliefs.transfer_kg_per_m2_s_pa
    assert transfer.median == pytest.approx(1.3e-8)
    assert transfer.ln_sd == 0.31
    assert (found.batches, found.updated_at) == (2, HUNG_AT)
    keep_learned(db, [])
    assert learned(db) == {}


def test_a_failure_after_a_clock_was_set_back_is_the_newest_all_the_same(
    db: Database, group: int
) -> None:
    keep_forecast(db, group, kept(100))
    failed = Failure(at=HUNG_AT, cause=Cause.HOURLY, why="No.")
    keep_failure(db, group, failed)
    assert known_of(db, [group])[group].failed == failed
