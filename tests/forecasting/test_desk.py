"""When a forecast is made, what becomes of a try that fails, and that control never notices."""

import sqlite3
import sys
import threading
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from forecasting.asked import BELIEFS, FORECAST
from forecasting.household import PLAN, Household, at, humidity, plan_for
from loop.fakes import FINE, House

from hangroom.forecasting.believable import fault_in
from hangroom.forecasting.child import Child, ChildError
from hangroom.forecasting.desk import AGAIN_AFTER, EVERY, Forecasts
from hangroom.jobs import Jobs, Looking
from hangroom.product.forecast import CurvePoint, Forecast, Question, StickNow
from hangroom.product.learning import Kind
from hangroom.store.batches import pull_group
from hangroom.store.forecasts import Cause, Known, known_of
from hangroom.store.journal import Journal
from hangroom.store.learned import Learned, learned


def answer_to(question: Question) -> Forecast:
    """A forecast that fits its question, whatever it says."""
    return replace(
        FORECAST,
        now_h=question.now_h,
        target_yield_ratio=question.target_yield_ratio,
        sticks=tuple(
            StickNow(tag=stick.tag, yield_ratio=0.8, yield_sd_ratio=0.01)
            for stick in question.tagged
        ),
    )


class FakeChild(Child):
    """Answers at once with what `answer` makes of a question, and remembers what it was asked."""

    def __init__(self, answer: Callable[[Question], Forecast] = answer_to) -> None:
        super().__init__()
        self.answer = answer
        self.asked: list[Question] = []

    def ask(self, question: Question) -> Forecast:
        self.asked.append(question)
        return self.answer(question)


class Desk:
    """A forecast desk on a household, at a time that only the test moves."""

    def __init__(self, household: Household, child: FakeChild, *, hours: float = 24.0) -> None:
        self.household, self.child = household, child
        self.now = at(hours)
        self.is_live = True
        self.desk = Forecasts(
            household.path,
            scale_sd_g=0.5,
            now=lambda: self.now,
            live=lambda: self.is_live,
            child=child,
        )

    def look(self, *, after: timedelta = timedelta(seconds=15)) -> Cause | None:
        self.now += after
        return self.desk.look()

    def known(self, number: int = 1) -> Known:
        db = self.household.open()
        found = known_of(db, [number])[number]
        db.close()
        return found

    def learned(self) -> dict[tuple[Kind, str], Learned]:
        db = self.household.open()
        found = learned(db)
        db.close()
        return found


@pytest.fixture
def household(tmp_path: Path) -> Household:
    return Household.in_folder(tmp_path)


@pytest.fixture
def desk(household: Household) -> Desk:
    household.hang()
    return Desk(household, FakeChild())


def test_the_first_forecast_is_made_at_the_start_and_then_one_an_hour(desk: Desk) -> None:
    assert desk.look() is Cause.START
    kept = desk.known().kept
    assert kept is not None
    assert (kept.made_at, kept.cause) == (desk.now, Cause.START)
    assert desk.look() is None
    assert desk.look(after=EVERY - timedelta(seconds=20)) is None
    assert desk.look() is Cause.HOURLY
    assert desk.look() is None
    assert len(desk.child.asked) == 2


def test_a_weigh_in_is_worked_in_at_the_next_look(desk: Desk) -> None:
    desk.look()
    desk.household.weigh(24.0, {"A1": 82.0})
    assert desk.look() is Cause.WEIGH_IN
    assert [one.weight_g for one in desk.child.asked[-1].weighings] == [82.0]
    assert desk.look() is None


def test_a_changed_plan_a_move_and_a_new_batch_are_causes_too(desk: Desk) -> None:
    desk.look()
    desk.household.follow(plan_for("closet", humidity=humidity(70.0)))
    assert desk.look() is Cause.STAGE
    desk.household.move(1, "fridge", 24.0)
    assert desk.look() is Cause.HUNG
    desk.household.hang(name="Mustard", tags=("B1",), hours=24.0)
    assert desk.look() is Cause.HUNG
    assert desk.known(2).kept is not None


def test_in_a_past_made_at_full_speed_nothing_is_forecast(desk: Desk) -> None:
    desk.is_live = False
    assert desk.look() is None
    assert desk.child.asked == []
    desk.is_live = True
    assert desk.look() is Cause.START


def test_a_failure_keeps_the_last_forecast_and_its_reason_and_is_tried_again(desk: Desk) -> None:
    desk.look()
    before = desk.known().kept

    def fails(_question: Question) -> Forecast:
        raise ChildError("It took too long.")

    desk.child.answer = fails
    assert desk.look(after=EVERY) is Cause.HOURLY
    known = desk.known()
    assert known.kept == before
    assert known.failed is not None
    assert (known.failed.why, known.failed.at) == ("It took too long.", desk.now)
    assert desk.look() is None
    desk.child.answer = answer_to
    assert desk.look(after=AGAIN_AFTER) is Cause.HOURLY
    assert desk.known().failed is None
    assert desk.known().kept != before


def test_one_group_s_failure_is_not_the_others(household: Household) -> None:
    household.hang(tags=("A1",))
    household.hang(name="Mustard", tags=("B1",))

    def fails_of_one(question: Question) -> Forecast:
        if question.tagged[0].tag == "A1":
            raise ChildError("No.")
        return answer_to(question)

    desk = Desk(household, FakeChild(fails_of_one))
    desk.look()
    assert desk.known(1).kept is None
    assert desk.known(1).failed is not None
    assert desk.known(2).kept is not None
    assert desk.known(2).failed is None


LIES: list[tuple[dict[str, object], str]] = [
    ({"now_h": 3.0}, "another moment"),
    ({"target_yield_ratio": 0.6}, "another target"),
    ({"sticks": ()}, "other sticks"),
    ({"yield_ratio": 4.2}, "yield"),
    ({"yield_ratio": -0.1}, "yield"),
    ({"yield_sd_ratio": -0.01}, "spread"),
    ({"p10_h": 90.0}, "out of order"),
    ({"p90_h": 1e9}, "out of order"),
    ({"p50_h": None, "p90_h": 10.0}, "out of order"),
    ({"never_pct": 130.0}, "no chance"),
    ({"surface_aw": 1.4}, "surface"),
    ({"least_surface_to_core_ratio": -0.2}, "surface"),
    ({"curve": (FORECAST.curve[1], FORECAST.curve[0])}, "back in time"),
    (
        {"curve": (CurvePoint(at_h=0.0, low_ratio=0.9, middle_ratio=0.8, high_ratio=0.85),)},
        "crosses",
    ),
    (
        {"beliefs": replace(BELIEFS, diffusivity_m2_per_s=replace(BELIEFS.diffusivity_m2_per_s, median=0.0))},
        "learned",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("lie", "told"), LIES)
def test_a_lie_is_thrown_away_and_said_to_be_none(
    desk: Desk, lie: dict[str, object], told: str
) -> None:
    desk.look()
    before = desk.known().kept
    desk.child.answer = lambda question: replace(answer_to(question), **lie)  # type: ignore[arg-type]  # each row names fields
    desk.look(after=EVERY)
    known = desk.known()
    assert known.kept == before
    assert known.failed is not None
    assert "thrown away" in known.failed.why
    assert told in known.failed.why


def test_an_honest_answer_is_believed(desk: Desk) -> None:
    desk.look()
    [question] = desk.child.asked
    assert fault_in(answer_to(question), question) == ""
    never = replace(answer_to(question), p10_h=None, p50_h=None, p90_h=None, never_pct=100.0)
    assert fault_in(never, question) == ""


def test_what_was_assumed_is_remarked_on(desk: Desk) -> None:
    desk.look()
    kept = desk.known().kept
    assert kept is not None
    assert [remark.code for remark in kept.forecast.remarks] == [
        "diameter-nominal",
        "water-assumed",
    ]


def test_a_pulled_group_is_forecast_once_more_and_teaches(desk: Desk) -> None:
    desk.look()
    desk.household.weigh(24.5, {"A1": 80.0})
    db = desk.household.open()
    pull_group(db, 1, now=at(25.0))
    db.close()
    desk.now = at(25.1)
    assert desk.look() in {Cause.WEIGH_IN, Cause.HUNG}
    kept = desk.known().kept
    assert kept is not None
    assert (kept.cause, kept.forecast.now_h, kept.weighings) == (Cause.PULLED, 25.0, 1)
    room, recipe = desk.learned()[Kind.ROOM, "closet"], desk.learned()[Kind.RECIPE, "juniper"]
    assert room.batches == recipe.batches == 1
    desk.look(after=EVERY)
    assert desk.known().kept == kept


def test_two_looks_teach_and_the_next_batch_begins_with_that(desk: Desk) -> None:
    desk.look()
    desk.household.weigh(24.0, {"A1": 82.0})
    desk.look()
    assert desk.learned() == {}  # one look leaves too much open
    desk.household.weigh(24.2, {"A1": 81.0})
    desk.now = at(24.3)
    desk.look()
    taught = desk.learned()[Kind.ROOM, "closet"].beliefs
    assert taught.transfer_kg_per_m2_s_pa.median > 1.2e-8
    desk.household.hang(name="JUNIPER", tags=("B1",), hours=24.3)
    desk.look()
    of_b1 = next(q for q in desk.child.asked[::-1] if q.tagged[0].tag == "B1")
    assert of_b1.beliefs is not None
    assert of_b1.beliefs.transfer_kg_per_m2_s_pa.median == pytest.approx(
        taught.transfer_kg_per_m2_s_pa.median
    )
    # The batch that taught it goes on from where it began: its own weights count once.
    of_a1 = next(q for q in desk.child.asked[::-1] if q.tagged[0].tag == "A1")
    assert of_a1.beliefs is None


def test_what_was_learned_does_not_grow_by_being_looked_at(desk: Desk) -> None:
    desk.look()
    desk.household.weigh(24.0, {"A1": 82.0})
    desk.household.weigh(24.1, {"A1": 81.0})
    desk.now = at(24.2)
    desk.look()
    once = desk.learned()[Kind.ROOM, "closet"]
    for _ in range(3):
        desk.household.hang(name="other", tags=(f"X{_}",), room="fridge", hours=24.2)
        desk.look()
    again = desk.learned()[Kind.ROOM, "closet"]
    assert (again.beliefs, again.batches) == (once.beliefs, once.batches)


def test_a_clock_set_back_does_not_put_the_next_forecast_off(desk: Desk) -> None:
    desk.look()
    assert desk.look(after=timedelta(hours=-20)) is Cause.HOURLY
    assert desk.look() is None


def test_nothing_hangs_and_nothing_is_asked(household: Household) -> None:
    desk = Desk(household, FakeChild())
    assert desk.look() is Cause.START
    assert desk.child.asked == []


HANGS_S = 20.0


def test_control_never_notices_a_child_that_hangs(household: Household) -> None:
    """The loop ticks with a real journal on the same database while a child hangs for good."""
    household.hang()
    slow = Child([sys.executable, "-c", f"import time; time.sleep({HANGS_S})"])
    forecasts = Forecasts(household.path, scale_sd_g=0.5, now=lambda: at(24.0), child=slow)
    asking = threading.Thread(target=forecasts.look)
    journal = Journal(household.path)
    journal.start({"closet": ["rail"], "outside": []}, boot_id="b", version="0", now=at(24.0))
    house = House(journal=journal, start=at(24.0))
    asking.start()
    time.sleep(0.5)
    longest_s = 0.0
    for _ in range(100):
        began_s = time.monotonic()
        house.tick(FINE)
        longest_s = max(longest_s, time.monotonic() - began_s)
    assert asking.is_alive()  # all of it went by while the child hung
    assert longest_s < 1.0  # a tick comes every 2 s
    began_s = time.monotonic()
    forecasts.stop()
    asking.join(timeout=5.0)
    assert time.monotonic() - began_s < 5.0
    assert not asking.is_alive()
    journal.close()


def test_the_service_ends_at_once_although_a_child_hangs(household: Household) -> None:
    household.hang()
    slow = Child([sys.executable, "-c", f"import time; time.sleep({HANGS_S})"])
    forecasts = Forecasts(household.path, scale_sd_g=0.5, now=lambda: at(24.0), child=slow)
    jobs = Jobs(
        household.path,
        looking=Looking(
            at=(datetime(2026, 1, 1, 8).time(),),  # noqa: DTZ001 - only its time counts
            zone=ZoneInfo("UTC"),
        ),
        now=lambda: at(24.0),
        hangs=lambda _batches: None,
        forecast=forecasts.look,
    )
    jobs.start()
    scheduler = jobs._scheduler
    assert scheduler is not None
    scheduler.modify_job("forecasts", next_run_time=datetime.now(ZoneInfo("UTC")))
    time.sleep(1.0)
    began_s = time.monotonic()
    forecasts.stop()
    jobs.stop()
    assert time.monotonic() - began_s < 5.0
    db = household.open()
    # What was cut off by the end of the service is no failure to speak of.
    assert known_of(db, [1])[1] == Known()
    db.close()


def test_the_plan_stands_beside_what_was_forecast(desk: Desk) -> None:
    desk.household.follow(PLAN)
    desk.look()
    kept = desk.known().kept
    assert kept is not None
    assert [(air.humidity_pct, air.temperature_c) for air in kept.plan] == [(76.0, 13.0)]


def test_a_disk_that_takes_nothing_does_not_make_it_try_at_every_look(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_given: object) -> None:
        raise sqlite3.OperationalError("database or disk is full")

    monkeypatch.setattr("hangroom.forecasting.desk.keep_forecast", full)
    with pytest.raises(sqlite3.OperationalError):
        desk.look()
    for _ in range(10):
        assert desk.look() is None
    assert len(desk.child.asked) == 1
    monkeypatch.undo()
    assert desk.look(after=AGAIN_AFTER) is Cause.HOURLY
    assert desk.known().kept is not None


def test_a_look_beside_one_that_is_at_work_leaves_at_once(household: Household) -> None:
    household.hang()
    began, may_end = threading.Event(), threading.Event()

    def waits(question: Question) -> Forecast:
        began.set()
        assert may_end.wait(10.0)
        return answer_to(question)

    desk = Desk(household, FakeChild(waits))
    first = threading.Thread(target=desk.look)
    first.start()
    assert began.wait(10.0)
    assert desk.desk.look() is None
    may_end.set()
    first.join(10.0)
    assert len(desk.child.asked) == 1
