import pytest

from hangroom.alarm_table.row import AlarmId
from hangroom.alarm_table.titles import TITLES


@pytest.mark.parametrize("alarm", AlarmId)
def test_every_alarm_is_called_something_short_and_plain(alarm: AlarmId) -> None:
    title = TITLES[alarm]
    assert title == title.strip().rstrip(".")
    assert title[0].isupper()
    assert len(title) <= 50  # two lines on a phone


def test_no_two_alarms_are_called_alike() -> None:
    assert len(set(TITLES.values())) == len(AlarmId)
