"""The bell at the rooms, through the real loop and alarm desk, with a bell that nobody hears."""

from collections.abc import Callable
from dataclasses import replace

import pytest
from loop.alarm_house import HIGH, MOIST, SETTLED_S, ask, run
from loop.fakes import EXHAUST, FINE, HUMIDIFIER, PLAN, SOAKED, TICK_S, FakeJournal, House

from hangroom.alarm_desk.bell import BY_BUTTON, RINGS_FOR_S, BellDesk
from hangroom.alarm_desk.desk import AlarmDesk
from hangroom.alarm_table.ringing import Ring
from hangroom.alarm_table.row import AlarmId, Priority
from hangroom.alarm_table.words import Event
from hangroom.ports import Bell, Clock
from hangroom.simulation.bell import SimulatedBell
from hangroom.store.requests import Kind

NewHouse = Callable[..., House]
Belled = tuple[House, SimulatedBell]
BLIND_S = 180.0  # readings count for 30 s; the alarm of high priority comes 120 s later


@pytest.fixture
def belled(new_house: NewHouse) -> Callable[[Priority], Belled]:
    """A house with a bell that tells of that priority and above, settled in."""

    def make(least: Priority) -> Belled:
        bells: list[SimulatedBell] = []

        def alarms(clock: Clock) -> AlarmDesk:
            bells.append(SimulatedBell(clock))
            desk = BellDesk(bells[0], least=least)
            return AlarmDesk([PLAN.name], clock=clock, journal=notes, bell=desk)

        notes = FakeJournal([])
        house = new_house(journal=notes, alarms=alarms)
        house.notes = notes
        run(house, SETTLED_S)
        for one in unacknowledged(house):
            ask(house, Kind.ALARM_ACKNOWLEDGE, alarm=str(one))
        return house, bells[0]

    return make


def unacknowledged(house: House) -> list[AlarmId]:
    return [a.alarm for a in house.boards[-1].rooms["closet"].alarms if not a.acknowledged]


def test_a_lost_sensor_sounds_and_the_button_acknowledges_it_by_its_name(
    belled: Callable[[Priority], Belled],
) -> None:
    house, bell = belled(Priority.HIGH)
    assert bell.sounds() is Ring.NOTHING
    run(house, BLIND_S, None)
    assert AlarmId.SENSOR_STALE in unacknowledged(house)
    assert bell.sounds() is Ring.BUZZER
    told = house.boards[-1].bell
    assert told is not None
    assert told.ring is Ring.BUZZER
    bell.press()
    house.tick(None)
    assert bell.sounds() is Ring.NOTHING
    acts = [(e.alarm, e.event, e.by) for _, e in house.notes.alarms if e.by == BY_BUTTON]
    assert acts == [(AlarmId.SENSOR_STALE, Event.ACKNOWLEDGED, BY_BUTTON)]
    run(house, BLIND_S, None)  # still on, acknowledged: silent
    assert bell.sounds() is Ring.NOTHING


def test_the_page_silences_it_as_well(belled: Callable[[Priority], Belled]) -> None:
    house, bell = belled(Priority.HIGH)
    run(house, BLIND_S, None)
    assert bell.sounds() is Ring.BUZZER
    ask(house, Kind.ALARM_ACKNOWLEDGE, alarm=str(AlarmId.SENSOR_STALE))
    house.tick(None)
    assert bell.sounds() is Ring.NOTHING


def test_a_press_acknowledges_nothing_that_the_bell_does_not_tell_of(
    belled: Callable[[Priority], Belled],
) -> None:
    house, bell = belled(Priority.HIGH)
    run(house, 400.0, MOIST)
    assert HIGH in unacknowledged(house)  # humidity high, of medium priority
    assert bell.sounds() is Ring.NOTHING
    bell.press()
    house.tick(MOIST)
    assert HIGH in unacknowledged(house)


def test_with_a_lower_least_the_lamp_tells_of_it_without_a_sound(
    belled: Callable[[Priority], Belled],
) -> None:
    house, bell = belled(Priority.MEDIUM)
    run(house, 400.0, MOIST)
    assert bell.sounds() is Ring.LAMP
    bell.press()
    house.tick(MOIST)
    assert bell.sounds() is Ring.NOTHING
    assert HIGH not in unacknowledged(house)


def test_a_press_before_an_alarm_came_up_leaves_it_unacknowledged(
    belled: Callable[[Priority], Belled],
) -> None:
    """Nobody can have heard what rings only from this tick on."""
    house, bell = belled(Priority.HIGH)
    while AlarmId.SENSOR_STALE not in unacknowledged(house):
        bell.press()
        house.tick(None)
    assert bell.sounds() is Ring.BUZZER


def test_a_loop_that_stops_falls_silent(belled: Callable[[Priority], Belled]) -> None:
    house, bell = belled(Priority.HIGH)
    run(house, BLIND_S, None)
    assert bell.sounds() is Ring.BUZZER
    house.clock.wait_until(house.clock.uptime_s() + RINGS_FOR_S + TICK_S)
    assert bell.sounds() is Ring.NOTHING


class DeadBell:
    """A bell whose pins have gone."""

    def ring(self, ring: Ring, *, until_uptime_s: float) -> None:
        del ring, until_uptime_s

    def take_presses(self) -> int:
        return 0

    def fault(self) -> str:
        return "It fails (no such device)."

    def close_down(self) -> None:
        pass


def test_with_and_without_a_bell_and_with_a_dead_one_control_does_the_same(
    new_house: NewHouse,
) -> None:
    def commands(bell: Callable[[Clock], Bell] | None) -> list[tuple[float, object, bool]]:
        notes = FakeJournal([])

        def alarms(clock: Clock) -> AlarmDesk:
            desk = BellDesk(bell(clock), least=Priority.LOW) if bell else None
            return AlarmDesk([PLAN.name], clock=clock, journal=notes, bell=desk)

        house = new_house(journal=notes, alarms=alarms)
        for air, for_s in ((FINE, 60.0), (None, 120.0), ((13.0, 60.0), 200.0), (SOAKED, 200.0)):
            run(house, for_s, air)
        if bell is not None:
            shown = house.boards[-1].bell
            assert shown is not None
        return [(at_s, command.relay, command.closed) for at_s, command in notes.commands]

    plain = commands(None)
    assert {relay for _, relay, closed in plain if closed} >= {HUMIDIFIER, EXHAUST}
    assert commands(lambda _clock: DeadBell()) == plain
    assert commands(SimulatedBell) == plain


def test_the_board_says_what_is_wrong_with_it(new_house: NewHouse) -> None:
    house = new_house(
        alarms=lambda clock: AlarmDesk(
            [PLAN.name],
            clock=clock,
            journal=FakeJournal([]),
            bell=BellDesk(DeadBell(), least=Priority.HIGH),
        )
    )
    house.tick(FINE)
    told = house.boards[-1].bell
    assert told is not None
    assert told.fault == "It fails (no such device)."
    assert replace(told, fault="").ring is Ring.NOTHING
