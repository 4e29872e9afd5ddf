"""What the page says of hours above 41 degF (5 degC), and of a room that is warmer.

Source of the limit: FDA Food Code 2009-2022, 3-501.16 and table B of 1-201.10(B): a stick that is
not acid and hangs unpackaged needs temperature control above water activity 0.88.
"""

from datetime import timedelta

import pytest
from web.scenario import HUNG_AT, START, Scene

from hangroom.store.database import connect
from hangroom.store.journal import Journal
from hangroom.store.record.entries import add_entry
from hangroom.store.record.looks import Measurement
from hangroom.terms import AirReading


def page(scene: Scene, number: int) -> str:
    return scene.client().get(f"/batches/{number}").get_data(as_text=True)


def measured(scene: Scene, letter: str, *, aw: float | None, ph: float | None) -> None:
    db = connect(scene.path)
    add_entry(
        db,
        1,
        Measurement(
            key=f"{letter} measured",
            entered_at=START,
            entered_by="Ada",
            group=letter,
            taken_at=HUNG_AT,
            aw=aw,
            ph=ph,
            instrument="invented",
        ),
    )
    db.close()


def test_a_closet_warmer_than_41_degf_is_said_to_be_outside_published_guidance(
    scene: Scene,
) -> None:
    said = page(scene, 1)
    assert "Above 5 °C (41 °F) for 21.9 h while it hung" in said
    assert "water activity and pH not measured" in said
    assert "Published guidance does not support" in said
    assert "What would change it:" in said
    assert "0.88" in said
    assert "Or a room at 41 °F (5.0 °C) and colder." in said
    assert "Source: FDA Food Code 2009 to 2022, 1-201.10(B)" in said
    assert "Source(" not in said


def test_it_is_said_once_for_groups_that_hang_in_the_same_air(scene: Scene) -> None:
    said = page(scene, 1)
    assert said.count('class="statement"') == 1
    assert "Groups A and B, hanging at" in said


@pytest.mark.parametrize(
    ("aw", "ph", "asks"),
    [
        pytest.param(0.87, 6.0, False, id="dry enough at any pH"),
        pytest.param(0.89, 6.0, True, id="not acid, and at 0.89 no cell is free"),
        pytest.param(0.91, 4.5, False, id="acid enough at 0.91"),
        pytest.param(None, 6.0, True, id="pH alone above 4.2 settles nothing"),
    ],
)
def test_only_a_measurement_takes_the_statement_away(
    scene: Scene, *, aw: float | None, ph: float | None, asks: bool
) -> None:
    for letter in "AB":
        measured(scene, letter, aw=aw, ph=ph)
    assert ('class="statement"' in page(scene, 1)) == asks


def test_a_cold_fridge_has_no_statement(scene: Scene) -> None:
    said = page(scene, 2)
    assert "Published guidance does not support" not in said
    assert (
        "Above 5 °C (41 °F): no reading shows it, but for 26.9 h of its time there is none" in said
    )


def test_one_warm_reading_among_ten_thousand_cold_ones_is_told(scene: Scene) -> None:
    journal = Journal(scene.path)
    journal.start({"fridge": ["shelf"]}, boot_id="b", version="0", now=START)
    # A second after a cold one, so that both fall into the same stretch of time.
    at = START - timedelta(hours=5) + timedelta(seconds=1)
    reading = AirReading(taken_at=at, taken_uptime_s=0.0, temperature_c=9.0, humidity_pct=80.0)
    journal.note_reading("fridge", "shelf", reading, seen_uptime_s=0.0)
    journal.flush(now=START)
    journal.close()
    said = page(scene, 2)
    assert "Above 5 °C (41 °F) for" in said
    assert "no reading shows it" not in said


def test_nothing_on_the_page_is_called_safe(scene: Scene) -> None:
    for number in (1, 2):
        assert "safe" not in page(scene, number).lower()
