"""Putting the daily look off: checked, kept, noted, and only as long as the settings allow."""

from datetime import date, timedelta

import pytest
from loop.asking import NOW, Desk

from hangroom.store.batches import NewGroup, add_batch
from hangroom.store.reminders import Reminder, open_reminders, remind
from hangroom.store.requests import Kind

HOUR_S = 3600.0


@pytest.fixture
def asked(desk: Desk) -> Desk:
    """A desk in whose house a look has been asked for."""
    hung_at = NOW - timedelta(days=1)
    group = NewGroup(
        letter="A", finish="supple", target_yield_pct=72, sticks=12, tagged=[], room="closet",
        hung_at=hung_at,
    )  # fmt: skip
    number = add_batch(desk.page, name="juniper", started_at=hung_at, groups=[group])
    reminder = Reminder(
        batch_number=number, room="closet", due_date=date(2026, 11, 1), due_clock="08:00",
        due_at=NOW, since_at=NOW, asked_at=NOW, times_asked=1, title="t", text="x",
    )  # fmt: skip
    assert remind(desk.page, reminder)
    return desk


def test_a_look_is_put_off_for_as_long_as_was_asked(asked: Desk) -> None:
    said = asked.applied(Kind.REMINDER_SNOOZE, room="", for_s=3 * HOUR_S)
    assert said == "You are asked again in 3 h."
    [one] = open_reminders(asked.page)
    assert one.snoozed_until == asked.clock.now() + timedelta(hours=3)
    # Who did it is in the record.
    kinds = asked.page.execute("select snoozed_by from reminder").fetchall()
    assert kinds == [("keeper",)]


@pytest.mark.parametrize("for_s", [None, "3 h", 0.0, -60.0, 12 * HOUR_S + 1.0, True])
def test_what_is_no_time_or_too_long_is_refused_and_changes_nothing(
    asked: Desk, for_s: object
) -> None:
    why = asked.refused(Kind.REMINDER_SNOOZE, room="", for_s=for_s)  # type: ignore[arg-type]
    assert why.endswith(("with one.", "Choose such a time."))
    assert open_reminders(asked.page)[0].snoozed_until is None


def test_where_nothing_is_asked_for_there_is_nothing_to_put_off(desk: Desk) -> None:
    why = desk.refused(Kind.REMINDER_SNOOZE, room="", for_s=HOUR_S)
    assert "nothing to put off" in why
