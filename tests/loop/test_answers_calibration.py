"""Salt checks from the page: every one is kept, and they come to a calibration.

The humidities over the salts are Greenspan's (1977) at 20 degC: NaCl 75.48 and KCl
85.11 %RH.
"""

import pytest
from loop.asking import PLANS, Desk

from hangroom.store.requests import Kind, Word
from hangroom.terms import Calibration

NACL_PCT, KCL_PCT = 75.48, 85.11
OVER_NACL: dict[str, Word] = {
    "sensor": "rail",
    "salt": "NaCl",
    "read_pct": 73.0,
    "temperature_c": 20.0,
}


def true_pct(made: Calibration, read_pct: float) -> float:
    return made.gain_ratio * read_pct + made.offset_pct


def test_one_check_gives_an_offset(desk: Desk) -> None:
    said = desk.applied(Kind.CALIBRATION, **OVER_NACL)
    assert "73.0 %" in said
    assert "75.5 %" in said
    made = desk.plans["closet"].calibrations["rail"]
    assert true_pct(made, 73.0) == pytest.approx(NACL_PCT, abs=0.01)
    assert true_pct(made, 60.0) == pytest.approx(60.0 + NACL_PCT - 73.0, abs=0.01)
    assert made.checked_at == desk.clock.now()
    ((kind, room, figures, words),) = desk.events()
    assert (kind, room) == ("calibrated", "closet")
    assert words == {"by": "keeper", "sensor": "rail", "salt": "NaCl"}
    assert (figures["read_pct"], figures["temperature_c"]) == (73.0, 20.0)


def test_two_checks_over_different_salts_give_a_line_through_both(desk: Desk) -> None:
    desk.applied(Kind.CALIBRATION, **OVER_NACL)
    desk.applied(Kind.CALIBRATION, **(OVER_NACL | {"salt": "KCl", "read_pct": 81.0}))
    made = desk.plans["closet"].calibrations["rail"]
    assert true_pct(made, 73.0) == pytest.approx(NACL_PCT, abs=0.01)
    assert true_pct(made, 81.0) == pytest.approx(KCL_PCT, abs=0.01)
    assert desk.restart()["closet"].calibrations["rail"].gain_ratio == pytest.approx(
        made.gain_ratio
    )
    rows = desk.page.execute("select room, sensor, salt, read_pct, checked_by from salt_check")
    assert rows.fetchall() == [
        ("closet", "rail", "NaCl", 73.0, "keeper"),
        ("closet", "rail", "KCl", 81.0, "keeper"),
    ]


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"sensor": "cellar"}, "no sensor 'cellar'"),
        ({"sensor": "shelf"}, "no sensor 'shelf'"),  # it hangs in the fridge
        ({"sensor": 7}, "nothing under 'sensor'"),
        ({"salt": "sugar"}, "must be one of: LiCl"),
        ({"read_pct": "73"}, "no 'read_pct'"),
        ({"read_pct": 40.0}, "some hours more"),
        ({"temperature_c": None}, "no 'temperature_c'"),
        ({"temperature_c": 80.0}, "0 to 50"),
    ],
)
def test_a_check_that_does_not_hold_is_refused_with_the_reason_and_not_kept(
    desk: Desk, change: dict[str, Word], says: str
) -> None:
    assert says in desk.refused(Kind.CALIBRATION, **(OVER_NACL | change))
    assert desk.page["salt_check"].count == 0
    assert desk.restart() == PLANS


def test_a_calibration_is_forgotten_and_its_checks_stay_in_the_record(desk: Desk) -> None:
    desk.applied(Kind.CALIBRATION, **OVER_NACL)
    desk.applied(Kind.CALIBRATION, **(OVER_NACL | {"sensor": "floor"}))
    desk.applied(Kind.CALIBRATION_FORGET, sensor="rail")
    assert set(desk.plans["closet"].calibrations) == {"floor"}
    assert set(desk.restart()["closet"].calibrations) == {"floor"}
    assert desk.page["salt_check"].count == 2
    assert "no calibration" in desk.refused(Kind.CALIBRATION_FORGET, sensor="rail")
    # What comes after counts by itself, without the forgotten ones.
    desk.applied(Kind.CALIBRATION, **(OVER_NACL | {"salt": "KCl", "read_pct": 81.0}))
    assert desk.plans["closet"].calibrations["rail"].gain_ratio == 1.0
