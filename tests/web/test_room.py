import re
from dataclasses import replace
from datetime import timedelta

import pytest
from web.scenario import Scene

from hangroom.store.live import LiveAir
from hangroom.terms import Because
from hangroom_web.words import _

DASH = "\N{EN DASH}"
LIVE_DIGITS = re.compile(r"<b data-q=\"\w+\">([^<]*)</b>")


def page(scene: Scene, path: str = "/") -> str:
    answer = scene.client().get(path)
    assert answer.status_code == 200
    return answer.get_data(as_text=True)


def digits(html: str) -> list[str]:
    return LIVE_DIGITS.findall(html)


def test_both_rooms_show_digits_setpoint_and_the_moment_of_reading(scene: Scene) -> None:
    html = page(scene)
    assert digits(html) == ["13.1", "75.6", "4.2", "78.3"]
    assert "set to 76 ± 3 %" in html
    assert "set to 4 ± 1 °C" in html
    assert "09:52:00" in html  # read 4 s before 09:52:04 in the site's zone


def test_relays_are_sentences_with_their_reason(scene: Scene) -> None:
    html = page(scene)
    assert "Humidifier on since 09:51: a dose with 25 s to go." in html
    assert "Cooling off since 09:40: 4.2 °C is below 5.0 °C, where cooling would start." in html


def test_temperatures_are_in_the_keepers_unit(scene: Scene) -> None:
    scene.units = {"temperature": "F"}
    html = page(scene)
    assert digits(html)[0] == "55.6"  # 13.1 °C
    assert "set to 39.2 ± 1.8 °F" in html


def test_a_silent_daemon_leaves_no_digit_and_no_relay_as_live(scene: Scene) -> None:
    scene.clock.move(14 * 60)
    html = page(scene)
    assert digits(html) == [DASH] * 4
    assert "Last good reading 13.1 °C and 75.6 % at 09:52, 14 min ago." in html
    assert html.count(": unknown</li>") == 4
    assert "The controller program has not reported since 09:52 (14 min)" in html
    assert "Relays may be in any state" in html


def test_a_silent_sensor_takes_the_digits_of_its_room(scene: Scene) -> None:
    scene.report(reading_age_s=400.0)
    html = page(scene)
    assert digits(html) == [DASH] * 4
    assert "Closet: no good reading for 7 min." in html
    assert "Humidifier on since 09:51" in html  # the daemon lives: its relays are known


def test_the_air_shown_is_what_control_believes_and_not_one_sensors(scene: Scene) -> None:
    rail = scene.report().rooms["closet"].sensors["rail"]
    assert rail.reading is not None
    top = replace(rail, reading=replace(rail.reading, temperature_c=14.1, humidity_pct=79.6))
    # The mean of two sensors, as control votes.
    air = LiveAir(temperature_c=13.6, humidity_pct=77.6)
    scene.report(closet={"sensors": {"rail": rail, "top": top}, "air": air})
    html = page(scene)
    assert digits(html)[:2] == ["13.6", "77.6"]
    assert "<strong>top</strong> <span data-shown>14.1 °C, 79.6 %</span>" in html


def test_a_fresh_sensor_that_control_does_not_trust_is_not_shown_as_the_air(scene: Scene) -> None:
    scene.report(closet={"air": None, "distrusted": Because("wet-element", {"lasted_s": 7200.0})})
    html = page(scene)
    assert digits(html)[:2] == [DASH, DASH]
    assert "Not trusted: the sensor has been wet for 2 h. Check the sensor and its wire." in html


def test_the_age_is_that_of_a_sensor_behind_the_air(scene: Scene) -> None:
    rail = scene.report().rooms["closet"].sensors["rail"]
    assert rail.reading is not None
    late = replace(
        rail.reading,
        taken_uptime_s=rail.reading.taken_uptime_s - 11.0,
        taken_at=rail.reading.taken_at - timedelta(seconds=11),
    )
    sensors = {
        "rail": replace(rail, reading=late),
        "top": replace(rail, distrusted=Because("wet-element", {"lasted_s": 60.0})),
    }
    scene.report(closet={"sensors": sensors})
    closet = scene.client().get("/api/v1/now").get_json()["rooms"]["closet"]
    assert (closet["temperature"]["age_s"], closet["temperature"]["state"]) == (15.0, "late")


def test_a_value_that_cannot_be_is_not_shown(scene: Scene) -> None:
    scene.report(distrusted=Because("implausible-reading"))
    assert digits(page(scene))[:2] == [DASH, DASH]


def test_a_board_of_another_boot_is_not_live(scene: Scene) -> None:
    scene.report(boot_id="before the power cut")
    assert digits(page(scene)) == [DASH] * 4


def test_without_a_board_the_last_reading_kept_is_told_with_its_day(scene: Scene) -> None:
    (scene.folder / "live.json").unlink()
    scene.clock.move(86_400)
    html = page(scene)
    assert digits(html) == [DASH] * 4
    assert "at Thu 26 Nov 09:50, 24 h ago." in html


def test_a_damaged_board_is_no_board(scene: Scene) -> None:
    (scene.folder / "live.json").write_text('{"boot_id": "this-boot"', encoding="utf-8")
    assert digits(page(scene)) == [DASH] * 4


def test_without_a_database_live_numbers_go_on_and_the_page_says_so(scene: Scene) -> None:
    scene.path.unlink()
    html = page(scene)
    assert digits(html)[0] == "13.1"
    assert "There is no database" in html


def test_a_damaged_database_is_told_in_words(scene: Scene) -> None:
    scene.path.write_bytes(b"not a database" * 100)
    html = page(scene)
    assert digits(html)[0] == "13.1"
    assert "The file is damaged" in html or "the file is damaged" in html


def test_a_daemon_that_never_ran_is_told_as_such(scene: Scene) -> None:
    (scene.folder / "live.json").unlink()
    scene.path.unlink()
    assert "has never reported here" in page(scene)


def test_rows_that_pile_up_in_the_daemon_are_a_trouble(scene: Scene) -> None:
    scene.report(unwritten_rows=5000)
    assert "5000 rows wait in its memory" in page(scene)


def test_the_worst_trouble_stands_first_and_the_others_are_counted(scene: Scene) -> None:
    scene.report(reading_age_s=400.0, unwritten_rows=5000)
    html = page(scene)
    worst = re.search(r'<span id="worst">([^<]*)', html)
    assert worst is not None
    assert worst[1].startswith("Closet: no good reading")
    assert "and 2 more" in html


def test_the_inspection_due_is_shown_with_the_number_of_sticks(scene: Scene) -> None:
    html = page(scene)
    assert "Inspection due since 08:00 today: 8 sticks" in html
    assert "Weigh 8 tagged sticks now" in html


def test_the_next_inspection_is_named_where_none_is_due(scene: Scene) -> None:
    scene.clock.move(-3 * 3600)  # 06:52: the reminder of eight has not come yet
    scene.report()
    db_free = Scene(folder=scene.folder / "other", clock=scene.clock)
    db_free.folder.mkdir()
    db_free.prepare()
    db_free.hang()
    db_free.weigh_yesterday()
    db_free.report()
    assert "Next inspection Thu 26 Nov 08:00" in page(db_free)


def test_nothing_hanging_is_said_and_a_batch_offered(scene: Scene) -> None:
    empty = Scene(folder=scene.folder / "empty", clock=scene.clock)
    empty.folder.mkdir()
    empty.prepare()
    empty.report()
    html = page(empty)
    assert "Nothing is hanging." in html
    assert "Start a batch" in html


def test_pictures_carry_a_sentence_for_those_who_cannot_see_them(scene: Scene) -> None:
    labels = re.findall(r'role="img" aria-label="([^"]*)"', page(scene))
    assert any("The rail. 1 A, supple: 3 tagged, yield 82.6 to 83.3 %" in label for label in labels)
    assert any("Last 24 hours: Temperature" in label for label in labels)


@pytest.mark.parametrize(
    "path",
    ["/", "/inspect", "/batches", "/batches/1", "/login", "/rooms/closet", "/alarms", "/setup"],
)
def test_no_page_judges_the_food(scene: Scene, path: str) -> None:
    words = re.sub(r"<[^>]*>", " ", page(scene, path)).lower()
    assert not re.search(r"\bsafe\b|\bready to eat\b|\bok\b", words)


def test_every_text_passes_through_the_translators_door() -> None:
    assert _("Room") == "Room"
