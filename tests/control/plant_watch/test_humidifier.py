"""Doses that do nothing, whatever their size, the room and its leaks."""

import pytest
from control.plant_watch.closet import HUMIDIFIER, Closet

from hangroom.alarm_table.row import AlarmId
from hangroom.control.alarms.delays import Side

INEFFECTIVE = AlarmId.HUMIDIFIER_INEFFECTIVE


def healthy(closet: Closet, *, for_s: float = 6, doses: int = 8) -> Closet:
    closet.live(600)
    closet.runs(HUMIDIFIER, doses, for_s=for_s)
    assert closet.side(INEFFECTIVE) is Side.WITHIN
    return closet


def test_what_a_second_of_a_dose_does_is_learned_from_the_room_itself() -> None:
    closet = healthy(Closet(leaks_per_h=0.3), doses=12)
    # 300 g an hour into a cubic metre are 0.083 g/m3 a second, and next to nothing leaks away.
    assert closet.memory.doses.effect.gain_g_per_m3_per_s == pytest.approx(300 / 3600, rel=0.15)


@pytest.mark.parametrize("for_s", [4, 10, 30])
@pytest.mark.parametrize("fault", ["tank_empty", "relay"])
def test_three_doses_without_effect_are_found_and_two_are_not(for_s: float, fault: str) -> None:
    closet = healthy(Closet())
    closet.tank_empty = True
    # A contact that does not close looks the same: commanded, and nothing comes.
    assert fault in {"tank_empty", "relay"}
    assert closet.runs(HUMIDIFIER, 2, for_s=for_s).raw[INEFFECTIVE].side is Side.WITHIN
    assert closet.runs(HUMIDIFIER, 1, for_s=for_s).raw[INEFFECTIVE].side is Side.BEYOND
