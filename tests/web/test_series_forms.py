import io
from contextlib import suppress
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st
from web.entering import Keeper, keeper, said, value_of
from web.scenario import START, Scene

from hangroom.errors import InputError
from hangroom.store.record.series import Origin, Series, SeriesKind
from hangroom.units import Units
from hangroom_web.batch.series_form import read_pasted

POINT, MANY = "/batches/3/temperatures/point", "/batches/3/temperatures"
FIRST = {"series": "cook", "probe": "the thickest stick"}
PASTED = {"series": "cook", "probe": "thickest stick", "day": "2026-11-26"}
NEW_YORK = ZoneInfo("America/New_York")


@pytest.fixture
def ada(scene: Scene) -> Keeper:
    ada = keeper(scene)
    ada.start()
    return ada


def series(ada: Keeper) -> tuple[Series, ...]:
    return ada.record(3).series


def heat(ada: Keeper) -> list[float]:
    return [point.temperature_c for one in series(ada) for point in one.points]


def seen(ada: Keeper) -> str:
    page = ada.client.get("/batches/3/steps").get_data(as_text=True)
    return page.split('name="seen" value="', 1)[1].split('"', 1)[0]


def test_readings_are_noted_one_by_one_beside_the_smoker(ada: Keeper, scene: Scene) -> None:
    for minute, core in ((0, "4.5"), (30, "31,2"), (60, "55")):
        scene.clock.move(minute and 1800)
        ada.stored(POINT, FIRST, core=core)
    (one,) = series(ada)
    assert (one.kind, one.origin, one.probe) == (
        SeriesKind.COOK,
        Origin.TYPED,
        "the thickest stick",
    )
    assert heat(ada) == [4.5, 31.2, 55.0]
    assert one.points[-1].at == START + timedelta(hours=1)


def test_the_same_reading_sent_twice_is_one(ada: Keeper, scene: Scene) -> None:
    ada.stored(POINT, FIRST, core="4.5", key="first", seen="")
    scene.clock.move(2)
    ada.stored(POINT, FIRST, core="4.5", key="first", seen="")
    before = seen(ada)
    scene.clock.move(1800)
    ada.stored(POINT, FIRST, core="31", seen=before)
    scene.clock.move(2)
    ada.stored(POINT, FIRST, core="31", seen=before)
    assert heat(ada) == [4.5, 31.0]
    ada.stored(POINT, FIRST, core="31", seen=seen(ada))
    assert heat(ada) == [4.5, 31.0, 31.0]


def test_another_probe_begins_another_series(ada: Keeper, scene: Scene) -> None:
    ada.stored(POINT, FIRST, core="4.5")
    scene.clock.move(60)
    ada.stored(POINT, {"series": "cook", "probe-own": "by the door"}, core="5")
    assert [one.probe for one in series(ada)] == ["the thickest stick", "by the door"]


def test_the_chill_is_a_series_of_its_own(ada: Keeper, scene: Scene) -> None:
    ada.stored(POINT, FIRST, core="66")
    scene.clock.move(300)
    ada.stored(POINT, {**FIRST, "series": "chill"}, core="12")
    assert [one.kind for one in series(ada)] == [SeriesKind.COOK, SeriesKind.CHILL]


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"core": ""}, "Enter a temperature"),
        ({"core": "warm"}, "Write the temperature in digits"),
        ({"core": "61", "probe": ""}, "Say where the probe sits"),
        ({"core": "61", "at": "2026-11-26T11:00"}, "still to come"),
        ({"core": "61", "series": "fry"}, "Choose one of what is offered"),
    ],
)
def test_every_fault_is_told_and_nothing_is_stored(
    ada: Keeper, changes: dict[str, str], told: str
) -> None:
    assert told in ada.refused(POINT, {**FIRST, **changes})
    assert series(ada) == ()


def test_a_reading_out_of_order_is_refused_with_the_one_before(ada: Keeper) -> None:
    ada.stored(POINT, FIRST, core="61", at="2026-11-26T09:30")
    page = ada.refused(POINT, FIRST, core="62", at="2026-11-26T09:10")
    assert "The reading before is of 09:30." in page
    assert heat(ada) == [61.0]


@pytest.mark.parametrize(
    ("typed", "question"),
    [
        pytest.param("612", "cannot be inside a stick. Did you mean 61.2?", id="the point"),
        pytest.param("6.1", "The reading before was 60.0 °C. Did you mean 61?", id="a tenth"),
        # 142 degF are 61.1 degC.
        pytest.param("142", "Did you mean 61.1?", id="the other scale"),
        pytest.param("12", "Is it the right probe, and the right unit?", id="another probe"),
    ],
)
def test_an_unlikely_reading_is_asked_about(
    ada: Keeper, scene: Scene, typed: str, question: str
) -> None:
    ada.stored(POINT, FIRST, core="60")
    scene.clock.move(120)
    assert question in ada.asked(POINT, FIRST, core=typed)
    assert heat(ada) == [60.0]


def test_what_cannot_be_inside_a_stick_cannot_be_kept(ada: Keeper) -> None:
    page = ada.asked(POINT, FIRST, core="612", keep="core", **{"asked-core": "612"})
    assert "Keep 612" not in page
    assert series(ada) == ()


def test_lines_are_pasted_past_midnight_too(ada: Keeper) -> None:
    lines = "2026-11-25 23:40 61.2\r\n23:50, 62,5\r\n0:10;63.1 °C\r\n\r\n00:20\t146 F"
    # The batch was started on the 26th; the evening before is asked about.
    ada.asked(MANY, PASTED, lines=lines)
    ada.stored(MANY, PASTED, lines=lines, keep="day", **{"asked-day": "2026-11-26"})
    (one,) = series(ada)
    assert [point.temperature_c for point in one.points] == pytest.approx(
        [61.2, 62.5, 63.1, 63.33], abs=0.01
    )
    assert one.points[2].at == datetime(2026, 11, 26, 5, 10, tzinfo=UTC)
    assert one.origin is Origin.PASTED


@pytest.mark.parametrize(
    ("lines", "told"),
    [
        ("09:40 61.2\n09:35 62", "Line 2: It is not later than the line before."),
        ("09:40 61.2\nabout ten 62", "Line 2: Write a time and a temperature"),
        ("09:40 61.2\n09:41 1.061,5", "Line 2: 1.061,5 has both a comma and a point"),
        ("25:40 61.2", "Line 1: Write date and time"),
        ("09:40 612", "Line 1: The internal temperature"),
        ("", "Paste lines such as 09:40 61.2, or choose a file"),
        ("09:40 61.2\n11:40 62", "still to come"),
        ("time,temperature_c\n2026-11-26 09:40,61\n2026-11-26 09:30,62", "line 3: it is not later"),
        ("time,temperature\n2026-11-26 09:40,61", "temperature"),
        ("\n".join(["x"] * 30), "And 25 more."),
    ],
)
def test_every_fault_of_pasted_lines_is_told_and_they_stay(
    ada: Keeper, lines: str, told: str
) -> None:
    answer = ada.send(MANY, {**PASTED, "lines": lines})
    assert answer.status_code == 422
    assert told in said(answer)
    assert lines[:60].splitlines()[:1] == [] or lines.splitlines()[0] in answer.get_data(
        as_text=True
    )
    assert series(ada) == ()


def test_lines_of_a_day_before_the_batch_are_asked_about(ada: Keeper) -> None:
    form = {**PASTED, "day": "2026-11-20", "lines": "09:40 61.2"}
    page = ada.asked(MANY, form)
    assert "The first reading is of Fri 20 Nov, the batch was started Thu 26 Nov." in page
    ada.stored(MANY, form, keep="day", **{"asked-day": "2026-11-20"})
    assert heat(ada) == [61.2]


def test_a_loggers_file_is_read_and_twice_is_once(ada: Keeper) -> None:
    text = "time;temperature_f\n2026-11-26 08:20;140,0\n2026-11-26 08:30;155,0\n"
    for _twice in range(2):
        file = (io.BytesIO(b"\xef\xbb\xbf" + text.encode()), "logger.csv")
        ada.stored(MANY, PASTED, file=file, key="file")
    assert heat(ada) == pytest.approx([60.0, 68.33], abs=0.01)
    assert series(ada)[0].origin is Origin.CSV


def test_a_faulty_files_lines_stand_in_the_form_to_be_mended(ada: Keeper) -> None:
    file = (io.BytesIO(b"time,temperature_c\n2026-11-26 08:20,hot\n"), "logger.csv")
    answer = ada.send(MANY, {**PASTED, "file": file})
    assert answer.status_code == 422
    assert "line 2: Write the temperature in digits" in said(answer)
    assert "2026-11-26 08:20,hot" in answer.get_data(as_text=True)


def test_a_file_that_is_no_text_is_refused(ada: Keeper) -> None:
    file = (io.BytesIO(b"\xff\xfe\x00\x01"), "logger.xls")
    assert "The file is no text" in ada.refused(MANY, {**PASTED, "file": file})


def test_a_long_loggers_file_is_taken_from_those_who_may_act(ada: Keeper, scene: Scene) -> None:
    start = datetime(2026, 11, 26, 0, 0)  # noqa: DTZ001 - as a logger writes it
    rows = [f"{start + timedelta(seconds=2 * n)},{60 + n % 7}" for n in range(12_000)]
    text = "time,temperature_c\n" + "\n".join(rows)
    assert len(text) > 256 * 1024
    ada.stored(MANY, PASTED, file=(io.BytesIO(text.encode()), "logger.csv"))
    assert len(heat(ada)) == 12_000
    stranger = scene.client().post(MANY, data={"file": (io.BytesIO(text.encode()), "l.csv")})
    assert stranger.status_code == 413


@given(
    st.lists(st.integers(min_value=1, max_value=11 * 60), min_size=1, max_size=12),
    st.integers(min_value=0, max_value=23 * 60 + 59),
)
def test_pasted_times_go_forward_over_any_number_of_midnights(gaps: list[int], first: int) -> None:
    """Lines as a logger prints them, the clock alone, come back with every gap as it was."""
    start = datetime(2026, 6, 1, tzinfo=NEW_YORK) + timedelta(minutes=first)
    moments = [start]
    for gap in gaps:
        moments.append(moments[-1] + timedelta(minutes=gap))
    text = "\n".join(f"{at:%H:%M} 60" for at in moments)
    points = read_pasted(text, day=date(2026, 6, 1), units=Units(), zone=NEW_YORK)
    assert [point.at for point in points] == [at.astimezone(UTC) for at in moments]


@given(st.text(max_size=200))
def test_whatever_is_pasted_is_read_or_refused_in_words(text: str) -> None:
    with suppress(InputError):
        assert read_pasted(text, day=date(2026, 6, 1), units=Units(), zone=NEW_YORK)


def test_one_reading_is_corrected_or_taken_out_and_what_it_was_stays(
    ada: Keeper, scene: Scene
) -> None:
    ada.stored(POINT, FIRST, core="60")
    scene.clock.move(600)
    ada.stored(POINT, FIRST, core="66")
    (one,) = series(ada)
    path = f"{MANY}/{one.key}/{round(one.points[1].at.timestamp() * 1000)}"
    assert value_of(ada.client.get(path), "core") == "66"
    assert "Say why" in ada.refused(path, core="68")
    assert "Write the temperature in digits" in ada.refused(path, core="hot", because="mistyped")
    assert "at most 105" in ada.refused(path, core="154", because="mistyped")
    ada.stored(path, core="68,5", because="mistyped")
    assert heat(ada) == [60.0, 68.5]
    (edit,) = ada.record(3).edits
    assert (edit.old["temperature_c"], edit.entered_by, edit.why) == (66.0, "Ada", "mistyped")
    ada.stored(path, core="68.5", out="1", because="wrong stick or group")
    assert heat(ada) == [60.0]
    assert ada.client.get(path).status_code == 404
