"""The air outside through the loop: looked at once a tick, gone by, noted and shown."""

from collections.abc import Callable
from dataclasses import replace

from loop.fakes import EXHAUST, FINE, HUMIDIFIER, PLAN, House

from hangroom.store.live import LiveAir
from hangroom.terms import AirOutside

# At 13 degC and 84 % the room holds some 9.5 g/m3, the first of these 3.4 and the other 17.3.
TOO_HUMID = (13.0, 84.0)
DRIER, MOISTER = (2.0, 60.0), (24.0, 80.0)


def said(house: House) -> str:
    return house.boards[-1].rooms["closet"].relays[EXHAUST].because.code


def test_the_fan_airs_while_it_is_drier_outside_and_not_while_it_is_moister(
    new_house: Callable[..., House],
) -> None:
    house = new_house(with_outside=True)
    house.outside.measures(DRIER)
    house.tick(TOO_HUMID)
    assert EXHAUST in house.closed
    # A sensor that leaps is believed only once it has said so twice.
    for _ in range(2):
        house.outside.measures(MOISTER)
        house.tick(TOO_HUMID)
    assert EXHAUST not in house.closed
    assert said(house) == "outside-too-moist"


def test_the_board_shows_the_air_outside_and_the_journal_keeps_each_reading_once(
    new_house: Callable[..., House],
) -> None:
    house = new_house(with_outside=True)
    first = house.outside.measures(DRIER)
    house.tick(FINE)
    house.tick(FINE)
    assert house.boards[-1].outside == LiveAir(temperature_c=2.0, humidity_pct=60.0)
    assert [reading for reading in house.notes.readings if reading is first] == [first]


def test_a_sensor_outside_that_has_not_measured_yet_gates_nothing(
    new_house: Callable[..., House],
) -> None:
    house = new_house(with_outside=True)
    house.tick(TOO_HUMID)
    assert EXHAUST in house.closed
    assert house.boards[-1].outside is None


def test_a_reading_from_outside_is_none_after_five_minutes_and_the_estimate_takes_its_place(
    new_house: Callable[..., House],
) -> None:
    estimate = AirOutside(temperature_c=25.0, humidity_pct=85.0)
    house = new_house(with_outside=True, plans=(replace(PLAN, outside_estimate=estimate),))
    house.outside.measures(DRIER)
    house.tick(TOO_HUMID)
    assert EXHAUST in house.closed
    house.clock.wait_until(house.clock.uptime_s() + 290.0)
    house.tick(TOO_HUMID)
    assert house.boards[-1].outside == LiveAir(temperature_c=2.0, humidity_pct=60.0)
    house.clock.wait_until(house.clock.uptime_s() + 10.0)
    house.tick(TOO_HUMID)
    assert EXHAUST not in house.closed
    assert house.boards[-1].outside == LiveAir(temperature_c=25.0, humidity_pct=85.0)


def test_an_impossible_reading_from_outside_is_none(new_house: Callable[..., House]) -> None:
    house = new_house(with_outside=True)
    house.outside.measures((0.0, 0.0))
    house.tick(TOO_HUMID)
    assert EXHAUST in house.closed
    assert house.boards[-1].outside is None


def test_a_house_without_sensors_outside_has_no_gate(house: House) -> None:
    house.tick(TOO_HUMID)
    assert EXHAUST in house.closed
    assert HUMIDIFIER not in house.closed
    assert house.boards[-1].outside is None
