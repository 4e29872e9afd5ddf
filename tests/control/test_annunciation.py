"""What is told at the rooms: by priority and state, never of what was acknowledged."""

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hangroom.alarm_table.ringing import Ring
from hangroom.alarm_table.row import AlarmId, Priority
from hangroom.control.alarms.annunciation import (
    BOUNCES_FOR_S,
    Button,
    Waiting,
    button_seen,
    ring_for,
    told_at_the_rooms,
)

HIGH, MEDIUM, LOW = Priority.HIGH, Priority.MEDIUM, Priority.LOW


def waits(priority: Priority, *, active: bool = True) -> Waiting:
    return Waiting(
        scope="room closet", alarm=AlarmId.HUMIDITY_HIGH, priority=priority, active=active
    )


@pytest.mark.parametrize(
    ("waiting", "least", "ring"),
    [
        ([], HIGH, Ring.NOTHING),
        ([waits(HIGH)], HIGH, Ring.BUZZER),
        ([waits(HIGH, active=False)], HIGH, Ring.LAMP),  # over, and still to be acknowledged
        ([waits(MEDIUM), waits(LOW)], HIGH, Ring.NOTHING),
        ([waits(MEDIUM)], MEDIUM, Ring.LAMP),
        ([waits(LOW)], MEDIUM, Ring.NOTHING),
        ([waits(LOW)], LOW, Ring.LAMP),
        ([waits(LOW), waits(HIGH), waits(MEDIUM)], LOW, Ring.BUZZER),
        ([waits(MEDIUM), waits(HIGH, active=False)], LOW, Ring.LAMP),
    ],
)
def test_only_an_urgent_alarm_that_is_on_is_heard(
    waiting: list[Waiting], least: Priority, ring: Ring
) -> None:
    assert ring_for(told_at_the_rooms(waiting, least=least)) is ring


@given(st.lists(st.tuples(st.sampled_from(Priority), st.booleans()), max_size=6))
def test_more_alarms_never_make_it_quieter(alarms: list[tuple[Priority, bool]]) -> None:
    order = list(Ring)
    waiting = [waits(priority, active=active) for priority, active in alarms]
    loudness = [order.index(ring_for(waiting[:count])) for count in range(len(waiting) + 1)]
    assert loudness == sorted(loudness)


@given(st.lists(st.tuples(st.booleans(), st.sampled_from((0.004, 0.012, 0.04, 1.0))), max_size=60))
def test_between_two_presses_the_button_was_let_go(looks: list[tuple[bool, float]]) -> None:
    """Whatever the contact does: a press needs it down, and up before, each longer than a bounce."""
    button, at_s = Button(since_uptime_s=0.0), 0.0
    changed_s, contact_was, released = 0.0, True, False
    for contact, wait_s in looks:
        at_s += wait_s
        if contact != contact_was:
            changed_s, contact_was = at_s, contact
        button, pressed = button_seen(button, contact=contact, uptime_s=at_s)
        held = at_s - changed_s >= BOUNCES_FOR_S
        if pressed:
            assert contact
            assert held
            assert released
            released = False
        released = released or (not contact and held)


def test_what_is_shorter_than_a_bounce_is_no_press() -> None:
    button, at_s = Button(since_uptime_s=0.0, down=False), 10.0
    for contact, wait_s in ((True, 0.0), (True, BOUNCES_FOR_S / 2), (False, 0.0), (True, 1.0)):
        at_s += wait_s
        button, pressed = button_seen(button, contact=contact, uptime_s=at_s)
        assert not pressed
    _, pressed = button_seen(button, contact=True, uptime_s=at_s + 2 * BOUNCES_FOR_S)
    assert pressed


def test_every_priority_and_state_is_covered() -> None:
    for priority, active in product(Priority, (True, False)):
        assert ring_for([waits(priority, active=active)]) is not Ring.NOTHING
