"""The daily look's settings: one time or several, and what is wrong told in words."""

import tomllib
from datetime import time
from importlib.resources import files

import pytest

from hangroom.errors import SettingsError
from hangroom.settings import Settings, check_settings

EXAMPLE = files("hangroom.settings").joinpath("example.toml").read_text(encoding="utf-8")
AT = 'at = "08:00"'


def read(written: str) -> Settings:
    """Read the shipped example with something else in the place of the look's time."""
    assert AT in EXAMPLE
    return check_settings(tomllib.loads(EXAMPLE.replace(AT, written, 1)), source="test")


@pytest.mark.parametrize(
    ("written", "times"),
    [
        pytest.param(AT, [time(8)], id="as every file had it so far"),
        pytest.param('at = ["20:00", "08:00"]', [time(8), time(20)], id="earliest first"),
    ],
)
def test_the_look_has_one_time_or_several(written: str, times: list[time]) -> None:
    assert list(read(written).inspection.times()) == times


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ('at = ["08:00", "8 pm"]', "inspection.at ('8 pm') is no time of day; write it like"),
        ('at = ["08:00", "20:00", "08:00"]', "inspection: at names 08:00 twice; write each time"),
        ("at = []", "inspection.at"),
        ("at = 8", "inspection.at"),
        ("snooze_at_most_h = 25", "inspection.snooze_at_most_h (25)"),
    ],
)
def test_what_is_wrong_is_told_with_the_key_and_what_to_do(written: str, said: str) -> None:
    with pytest.raises(SettingsError) as refused:
        read(written)
    assert said in str(refused.value)
    assert len(str(refused.value).splitlines()) == 1


def test_a_summary_s_time_that_is_none_is_told() -> None:
    with pytest.raises(SettingsError, match=r"summary_at \('7'\) is no time of day"):
        check_settings(
            tomllib.loads(EXAMPLE.replace('summary_at = "07:00"', 'summary_at = "7"', 1)),
            source="test",
        )
