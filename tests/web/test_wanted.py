"""Whatever a form is sent with, it is a wish the database can keep, or refused in words."""

import json
from collections.abc import Callable, Mapping
from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hangroom.errors import InputError
from hangroom.units import TemperatureUnit, Units
from hangroom_web.wanted import (
    Body,
    hand_body,
    humidity_body,
    stage_body,
    temperature_body,
    time_s,
    why_in,
)

FIELDS = st.sampled_from(
    ["setpoint", "stage", "hours", "then", "batch", "relay", "position", "for_s", "why", "words"]
)
SENT = st.one_of(
    st.text(max_size=30),
    st.sampled_from(["hang", "rest", "humidifier", "on", "off", "900", "0,5", "-1", "other"]),
)
IN_FAHRENHEIT = Units(temperature=TemperatureUnit.FAHRENHEIT)


@pytest.mark.parametrize(
    "read",
    [
        humidity_body,
        lambda form: temperature_body(form, IN_FAHRENHEIT),
        stage_body,
        hand_body,
        lambda form: {"for_s": time_s(form), "why": why_in(form)},
    ],
    ids=["humidity", "temperature", "stage", "by hand", "shelve"],
)
@given(form=st.dictionaries(FIELDS, SENT))
def test_a_form_is_a_wish_or_is_refused_in_words(
    read: Callable[[Mapping[str, str]], Body], form: dict[str, str]
) -> None:
    with suppress(InputError):
        json.dumps(read(form), allow_nan=False)


@pytest.mark.parametrize(("hours", "for_s"), [("1", 3600.0), ("0,25", 900.0), ("48", 172_800.0)])
def test_hours_become_seconds(hours: str, for_s: float) -> None:
    assert stage_body({"stage": "rest", "hours": hours})["for_s"] == for_s


@pytest.mark.parametrize("hours", ["0", "-2", "soon", "1.2,3"])
def test_no_hours_at_all_are_refused(hours: str) -> None:
    with pytest.raises(InputError, match=r"stage lasts longer|hours"):
        stage_body({"stage": "rest", "hours": hours})


def test_a_reason_is_one_line_of_a_length_that_the_record_keeps() -> None:
    assert why_in({"words": "  a\n b\t c "}) == "a b c"
    assert len(why_in({"words": "x" * 5000})) == 200
