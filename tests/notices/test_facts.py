"""Which facts give which notice, and that a fact gives the same one however often it is looked at."""

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from web.foretelling import FORECAST

from hangroom.alarm_table.log import AlarmEvent
from hangroom.alarm_table.row import AlarmId
from hangroom.alarm_table.table import TABLE
from hangroom.alarm_table.words import Event, Suppression, Tell
from hangroom.notices import facts
from hangroom.notices.facts import FORETOLD, Site
from hangroom.product.forecast import CurvePoint, Forecast
from hangroom.product.forecast_sentences import ALL_WORDS
from hangroom.product.notice import Kind, Notice, Urgency
from hangroom.store.alarms import Logged
from hangroom.store.forecasts import Cause, KeptForecast
from hangroom.store.reminders import Reminder
from hangroom.store.summaries import Summary
from hangroom.units import TemperatureUnit, Units

BERLIN = ZoneInfo("Europe/Berlin")
SITE = Site(room_titles={"closet": "Closet"}, zone=BERLIN, units=Units())
# Thursday 26 November 2026, 15:00 in Berlin.
NOW = datetime(2026, 11, 26, 14, 0, tzinfo=UTC)
LOOK_AT = (time(8, 0),)


def logged(alarm: AlarmId, event: Event = Event.ACTIVATED, **other: object) -> Logged:
    usual = AlarmEvent(
        sequence=7,
        at=NOW,
        uptime_s=1.0,
        alarm=alarm,
        event=event,
        tell=Tell.ANNUNCIATE,
        suppression=Suppression.NONE,
        occurrences=1,
        figures={"seen_c": 21.0, "limit_c": 15.6},
    )
    return Logged(scope="room closet", event=replace(usual, **other))  # type: ignore[arg-type]


def alarm_notice(told: Logged, site: Site = SITE) -> Notice:
    notice = facts.of_alarm(told, site=site, told_before=False)
    assert notice is not None
    return notice


@pytest.mark.parametrize("alarm", AlarmId)
def test_every_alarm_is_told_as_urgently_as_the_table_says_with_what_to_do(alarm: AlarmId) -> None:
    notice = alarm_notice(logged(alarm))
    row = TABLE[alarm]
    assert str(notice.urgency) == str(row.priority)
    assert notice.reaches == notice.urgency
    for told in (row.action, row.first, row.consequence):
        assert told in notice.text
    assert "{" not in notice.title + notice.text


def test_an_alarm_says_by_when_in_local_time_and_in_the_keepers_units() -> None:
    """21 degC is 69.8 degF, by definition of the scale."""
    fahrenheit = replace(SITE, units=Units(temperature=TemperatureUnit.FAHRENHEIT))
    notice = alarm_notice(logged(AlarmId.TEMPERATURE_HIGH), fahrenheit)
    assert "easured 69.8 °F" in notice.text
    by = NOW + timedelta(seconds=TABLE[AlarmId.TEMPERATURE_HIGH].respond_within_s)
    assert f"Act now, by {by.astimezone(BERLIN):%H:%M}" in notice.text


@pytest.mark.parametrize("event", sorted(set(Event) - {Event.ACTIVATED, Event.RE_ALARMED}))
def test_nothing_but_what_is_to_be_annunciated_is_told(event: Event) -> None:
    quiet = logged(AlarmId.HUMIDITY_LOW, event, tell=Tell.NOTHING)
    assert facts.of_alarm(quiet, site=SITE, told_before=False) is None
    over = facts.of_alarm(quiet, site=SITE, told_before=True)
    assert (over is not None) == (event is Event.RETURNED_TO_NORMAL)


def test_one_told_again_says_so() -> None:
    again = logged(AlarmId.SENSOR_STALE, Event.RE_ALARMED, tell=Tell.ANNUNCIATE_AGAIN)
    assert alarm_notice(again).title.endswith("(still on)")


def kept(forecast: Forecast, made_at: datetime = NOW) -> KeptForecast:
    return KeptForecast(
        made_at=made_at,
        cause=Cause.HOURLY,
        hung_at=NOW - timedelta(hours=forecast.now_h),
        room="closet",
        recipe="juniper",
        diameter_mm=19.0,
        plan=(),
        before=None,
        weighings=2,
        forecast=forecast,
    )


def of(forecast: Forecast, now: datetime = NOW, made_at: datetime | None = None) -> list[Notice]:
    return list(
        facts.of_forecast(
            kept(forecast, made_at or now),
            batch=3,
            letter="A",
            look_at=LOOK_AT,
            site=SITE,
            now=now,
        )
    )


TONIGHT = replace(
    FORECAST,
    # 22:00 is 7 h on, 06:00 is 15 h on: it arrives at 57 to 62 h, between the two.
    p10_h=57.0,
    p50_h=59.5,
    p90_h=62.0,
    never_pct=0.0,
    curve=(
        CurvePoint(at_h=48.5, low_ratio=0.777, middle_ratio=0.79, high_ratio=0.803),
        CurvePoint(at_h=59.5, low_ratio=0.707, middle_ratio=0.72, high_ratio=0.733),
        CurvePoint(at_h=120.0, low_ratio=0.5, middle_ratio=0.52, high_ratio=0.55),
    ),
)


def test_a_target_of_the_night_is_told_by_day_and_once_for_that_night() -> None:
    found = {notice.kind: notice for notice in of(TONIGHT)}
    target = found[Kind.TARGET]
    assert target.title == "Batch 3, group A may reach its target tonight"
    assert target.urgency is Urgency.MEDIUM
    assert "2026-11-26" in target.key
    later = {notice.kind: notice for notice in of(TONIGHT, NOW + timedelta(hours=1))}
    assert later[Kind.TARGET].key == target.key


def test_over_dry_ahead_is_told_with_when() -> None:
    over = {notice.kind: notice for notice in of(TONIGHT)}[Kind.OVER_DRY]
    assert over.title == "Batch 3, group A will be drier than wanted by the next look"
    assert "Fri 08:00" in over.text


@pytest.mark.parametrize(
    ("forecast", "told"),
    [
        (replace(FORECAST, surface_to_core_ratio=0.2, least_surface_to_core_ratio=0.2), True),
        (replace(FORECAST, loss_pct_per_day=30.0), True),
        (replace(FORECAST, loss_pct_per_day=1.0, surface_to_core_ratio=0.95), False),
    ],
)
def test_drying_too_fast_is_one_notice_from_one_days_look_to_the_next(
    forecast: Forecast, *, told: bool
) -> None:
    found = [notice for notice in of(forecast) if notice.kind is Kind.TOO_FAST]
    assert len(found) == told
    if told:
        same = of(forecast, NOW + timedelta(hours=16))
        assert found[0].key in {notice.key for notice in same}
        tomorrow = of(forecast, NOW + timedelta(hours=18))
        assert found[0].key not in {notice.key for notice in tomorrow}


def test_an_old_forecast_and_one_of_the_future_warn_of_nothing() -> None:
    assert of(TONIGHT, NOW, NOW - timedelta(hours=4)) == []
    assert of(TONIGHT, NOW, NOW + timedelta(hours=4)) == []


def test_every_warning_that_is_told_has_its_sentence() -> None:
    assert set(FORETOLD) <= set(ALL_WORDS)


REMINDER = Reminder(
    batch_number=3,
    room="closet",
    due_date=date(2026, 11, 26),
    due_clock="08:00",
    due_at=NOW,
    since_at=NOW,
    asked_at=NOW,
    times_asked=1,
    title="Look at batch 3",
    text="Weigh A1, A2.",
)


def test_a_reminder_is_told_each_time_it_is_asked_and_not_while_it_is_snoozed() -> None:
    first = facts.of_reminder(REMINDER, now=NOW)
    assert first is not None
    assert (first.title, first.text) == ("Look at batch 3", "Weigh A1, A2.")
    again = facts.of_reminder(replace(REMINDER, times_asked=2), now=NOW)
    assert again is not None
    assert again.key != first.key
    # Asked by a clock that was days ahead, withdrawn, and asked anew when that day came.
    anew = facts.of_reminder(replace(REMINDER, asked_at=NOW + timedelta(minutes=3)), now=NOW)
    assert anew is not None
    assert anew.key != first.key
    snoozed = replace(REMINDER, snoozed_until=NOW + timedelta(hours=1))
    assert facts.of_reminder(snoozed, now=NOW) is None
    assert facts.of_reminder(snoozed, now=NOW + timedelta(hours=2)) == first


def test_a_mornings_summary_is_one_notice_of_its_day() -> None:
    summary = Summary(day=date(2026, 11, 26), made_at=NOW, title="Good morning", text="All well.")
    notice = facts.of_summary(summary)
    assert (notice.key, notice.urgency) == (f"summary 2026-11-26 {NOW.isoformat()}", Urgency.LOW)
