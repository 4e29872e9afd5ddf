"""What a reminder and a morning say; the figures in them are worked out by hand beside."""

import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from planning.made_forecast import made_forecast

from hangroom.product.expected import stick_range, weight_band_g
from hangroom.product.forecast import StickNow
from hangroom.product.group_standing import Standing, near_by, say_standing
from hangroom.product.reminder_words import (
    LOOK_FOR,
    GroupAsked,
    Look,
    SaltCheckDue,
    StickAsked,
    text_of,
    title_of,
)
from hangroom.product.summary_words import (
    AirOverNight,
    AlarmRaised,
    GroupMorning,
    Morning,
    RoomNight,
    SticksToWeigh,
    summary_text,
    summary_title,
)
from hangroom.units import TemperatureUnit, Units, WeightUnit

BERLIN = ZoneInfo("Europe/Berlin")
METRIC = Units()
OURS = Units(temperature=TemperatureUnit.FAHRENHEIT, weight=WeightUnit.OUNCE)
DUE_AT = datetime(2026, 11, 3, 7, tzinfo=UTC)  # Tuesday, eight in Berlin
LOOK = Look(
    batch_number=14,
    room_title="Closet",
    since_at=DUE_AT,
    times_asked=1,
    groups=(
        GroupAsked(
            letter="A",
            finish="supple",
            sticks=(
                StickAsked(tag="A1", expected_g=(71.2, 73.0)),
                StickAsked(tag="A2", expected_g=None),
            ),
        ),
        GroupAsked(letter="C", finish="dry", sticks=(), only_look=True),
    ),
    has_tank=True,
    salt_checks=(SaltCheckDue(sensor="rail", checked_at=None),),
)


def text(look: Look = LOOK, units: Units = METRIC) -> str:
    return text_of(look, units=units, zone=BERLIN, now=DUE_AT)


def test_a_reminder_names_the_sticks_what_each_should_weigh_and_what_to_look_for() -> None:
    assert title_of(LOOK) == "Inspect batch 14, Closet: 2 sticks"
    lines = text().splitlines()
    assert lines[0] == "Due since 08:00 today."
    assert lines[1] == "A, supple: weigh and squeeze A1 (expect 71.2 to 73.0 g), A2."
    assert lines[2] == "C, dry: no stick is tagged; squeeze some, and enter what you find."
    # What the issue of the daily look asks for, each by its word.
    for sign in ("wrinkles", "mould", "slime", "insects", "drip", "touch"):
        assert sign in lines[3]
    assert "tank level" in text()
    assert "sensor rail was never checked" in text()


def test_in_ounces_where_the_keeper_reads_ounces() -> None:
    # 71.2 g / 28.349523125 = 2.5115, 73.0 g = 2.574999; exact factor of the avoirdupois ounce.
    assert "expect 2.51 to 2.57 oz" in text(units=OURS)


def test_asked_again_it_says_how_often_and_since_when() -> None:
    again = replace(LOOK, times_asked=3, since_at=DUE_AT - timedelta(days=1))
    assert title_of(again) == "Still to inspect: batch 14, Closet: 2 sticks"
    assert text(again).startswith("Due since Mon; asked 3 times.")


def test_without_humidifier_and_with_a_fresh_salt_check_neither_is_spoken_of() -> None:
    plain = text(replace(LOOK, has_tank=False, salt_checks=()))
    assert "tank" not in plain
    assert "Salt" not in plain


def test_without_a_forecast_no_weight_is_made_up() -> None:
    sticks = (StickAsked(tag="A1", expected_g=None),)
    told = text(replace(LOOK, groups=(GroupAsked(letter="A", finish="dry", sticks=sticks),)))
    assert "A1. No forecast of what they weigh." in told
    assert " g" not in told.splitlines()[1]


def test_the_expected_weight_is_yield_times_green_and_as_wide_as_forecast_and_scale() -> None:
    """Yield 76 % of 100 g is 76 g, two hours on 75.6 g; sd 0.5 and 0.5 g give 1.2816 * 0.7071 g."""
    forecast = made_forecast(sticks=(StickNow(tag="A1", yield_ratio=0.76, yield_sd_ratio=0.005),))
    here = stick_range(forecast, "A1", now_h=50.0)
    assert here is not None
    assert here.middle_pct == pytest.approx(75.6)
    lightest_g, heaviest_g = weight_band_g(here, green_weight_g=100.0, scale_sd_g=0.5)
    assert lightest_g == pytest.approx(75.6 - 0.9062, abs=1e-3)
    assert heaviest_g == pytest.approx(75.6 + 0.9062, abs=1e-3)
    assert stick_range(forecast, "A9", now_h=50.0) is None


HUNG_AT = DUE_AT - timedelta(hours=48)
STANDING = Standing(
    target_pct=72.0,
    forecast=made_forecast(),
    made_at=DUE_AT,
    hung_at=HUNG_AT,
    weighed_pct=77.0,
    weighed_at=DUE_AT - timedelta(days=1),
)


def test_a_group_is_near_its_target_where_it_may_be_there_before_the_next_look() -> None:
    """10 of 100 are there after 64 h, which is midnight: before the next look, not before noon."""
    assert near_by(STANDING, now=DUE_AT, next_look_at=DUE_AT + timedelta(hours=24))
    assert not near_by(STANDING, now=DUE_AT, next_look_at=DUE_AT + timedelta(hours=4))


def test_by_weights_alone_a_group_is_near_only_where_it_has_arrived() -> None:
    weighed = Standing(target_pct=72.0, weighed_pct=72.1, weighed_at=DUE_AT)
    assert not near_by(weighed, now=DUE_AT, next_look_at=DUE_AT + timedelta(hours=24))
    there = replace(weighed, weighed_pct=72.0)
    assert near_by(there, now=DUE_AT, next_look_at=DUE_AT + timedelta(hours=24))


def test_a_standing_says_yield_and_window_and_what_is_missing() -> None:
    # 0.76 +- 1.2816 * 0.5 %; p50 at 68 h is 20 h on: 04:00 on Wednesday; p10 16 h, p90 26.7 h on.
    assert say_standing(STANDING, zone=BERLIN, now=DUE_AT) == (
        "yield 76.0 ± 0.6 % of green weight; target 72 % likely Wed 04:00,"
        " 8 times in 10 between Wed 00:00 and Wed 11:00."
    )
    late = DUE_AT + timedelta(hours=4)
    assert say_standing(STANDING, zone=BERLIN, now=late) == (
        "yield 77.0 % of green weight when weighed (Mon); target 72 %, the last forecast is old."
    )
    none = Standing(target_pct=72.0)
    assert say_standing(none, zone=BERLIN, now=DUE_AT) == (
        "yield unknown, no stick was weighed yet; target 72 %, no forecast yet."
    )
    never = replace(STANDING, forecast=made_forecast(p50_h=None, p90_h=None))
    assert "not reached in this air" in say_standing(never, zone=BERLIN, now=DUE_AT)


NIGHT = Morning(
    since_at=DUE_AT - timedelta(hours=10),
    until_at=DUE_AT,
    rooms=(
        RoomNight(
            title="Closet",
            air=AirOverNight(
                lowest_pct=74.12, highest_pct=79.24, lowest_c=12.0, highest_c=13.5,
                humid_in_band_pct=99.6,
            ),
            unread_s=1800.0,
            wanted_pct=(76.0, 3.0),
            wanted_c=None,
        ),
        RoomNight(title="Fridge", air=None, unread_s=36_000.0, wanted_pct=None, wanted_c=None),
    ),
    alarms=(AlarmRaised(where="Closet", title="Too dry", at=DUE_AT - timedelta(hours=4)),),
    groups=(GroupMorning(title="Batch 14 A, supple", standing="yield 71 %.", arrived=True),),
    weigh=(SticksToWeigh(title="batch 14, Closet", tags=("A1", "A2"), due_at=DUE_AT),),
    salt_checks=("sensor rail, Closet",),
)  # fmt: skip


def summary(morning: Morning = NIGHT, units: Units = METRIC) -> str:
    return summary_text(morning, units=units, zone=BERLIN, now=DUE_AT - timedelta(hours=1))


def test_a_morning_says_what_the_night_was_and_what_to_do() -> None:
    assert summary_title(NIGHT, BERLIN) == (
        "Tue 3 Nov: 2 sticks to weigh, 1 group at its target, 1 alarm over night"
    )
    assert summary().splitlines() == [
        "Closet, 22:00 to 08:00: humidity 74.1 to 79.2 %, 99 % of the time in the band of 76 ± 3 %; 12.0 to 13.5 °C. Nothing was read for 30 min of it.",
        "Fridge, 22:00 to 08:00: no reading at all; look at its sensor.",
        "Closet, 04:00: alarm, Too dry.",
        "Batch 14 A, supple: yield 71 %.",
        "To do: pull batch 14 A, supple.",
        "To do, at 08:00: weigh A1, A2 of batch 14, Closet.",
        "To do: salt check of sensor rail, Closet.",
    ]


def test_in_fahrenheit_a_band_is_a_difference() -> None:
    """12 and 13.5 degC are 53.6 and 56.3 degF; a half band of 1 K is 1.8 degF, not 33.8."""
    room = replace(
        NIGHT.rooms[0],
        air=AirOverNight(
            lowest_pct=74.0, highest_pct=79.0, lowest_c=12.0, highest_c=13.5, warm_in_band_pct=100.0
        ),
        unread_s=0.0,
        wanted_pct=None,
        wanted_c=(13.0, 1.0),
    )
    told = summary(replace(NIGHT, rooms=(room,)), OURS)
    assert "53.6 to 56.3 °F, all the time in the band of 55.4 ± 1.8 °F" in told


def test_what_was_not_read_is_never_counted_as_in_the_band() -> None:
    air = NIGHT.rooms[0].air
    assert air is not None
    air = replace(air, humid_in_band_pct=100.0)
    told = summary(replace(NIGHT, rooms=(replace(NIGHT.rooms[0], air=air),)))
    assert "whenever it was read in the band of 76 ± 3 %" in told
    assert "all the time" not in told


def test_an_alarm_of_the_evening_that_is_still_on_is_not_passed_over() -> None:
    told = summary(replace(NIGHT, alarms=(replace(NIGHT.alarms[0], again=True),)))
    assert "Closet, 04:00: alarm still on, Too dry." in told


def test_without_alarms_that_is_said_and_nothing_is_called_well() -> None:
    told = summary(replace(NIGHT, alarms=()))
    assert "No alarm came on over night." in told
    for words in (told, summary(), text()):
        assert not re.search(r"\b(safe|ok|fine|good|ready to eat)\b", words, re.IGNORECASE)


def test_every_sign_to_look_for_is_named_once() -> None:
    assert len(set(LOOK_FOR)) == len(LOOK_FOR)
