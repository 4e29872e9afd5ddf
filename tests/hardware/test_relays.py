import math
import time
from collections.abc import Callable, Iterator

import pytest
from gpiozero import Device
from gpiozero.pins.mock import MockFactory
from hardware.made_pins import FakeClock, StubbornPin

from hangroom.errors import HardwareError
from hangroom.hardware.clock import SystemClock
from hangroom.hardware.relays import LONGEST_LOAN_S, GpioRelay, LoanKeeper
from hangroom.ports import Relay

PIN = 17


@pytest.fixture
def clock() -> FakeClock:
    return FakeClock()


@pytest.fixture
def factory() -> MockFactory:
    return MockFactory(revision="a02082", pin_class=StubbornPin)


@pytest.fixture(params=[True, False], ids=["active-high", "active-low"])
def active_high(request: pytest.FixtureRequest) -> bool:
    return bool(request.param)


@pytest.fixture
def relay(clock: FakeClock, factory: MockFactory, *, active_high: bool) -> Iterator[GpioRelay]:
    relay = GpioRelay(name="mist", pin=PIN, active_high=active_high, factory=factory, clock=clock)
    yield relay
    factory.pin(PIN).broken = False
    relay.close_down()


@pytest.fixture
def contact_closed(factory: MockFactory, *, active_high: bool) -> Callable[[], bool]:
    """Whether the pin is really driven to the closed level, seen from outside the relay."""

    def look() -> bool:
        pin = factory.pin(PIN)
        return bool(pin.function == "output" and pin.state == active_high)

    return look


def test_a_relay_fits_the_port(relay: GpioRelay) -> None:
    def is_open(port: Relay) -> bool:
        return not port.is_closed()

    assert is_open(relay)


def test_the_pin_is_driven_open_from_the_start(
    relay: GpioRelay, factory: MockFactory, contact_closed: Callable[[], bool]
) -> None:
    assert factory.pin(PIN).function == "output"
    assert not contact_closed()
    assert not relay.is_closed()
    assert relay.operations == 0


def test_holding_closes_and_opening_opens(
    relay: GpioRelay, clock: FakeClock, contact_closed: Callable[[], bool]
) -> None:
    relay.hold_closed(until_uptime_s=clock.at_s + 5)
    assert contact_closed()
    assert relay.is_closed()
    relay.open()
    relay.open()
    assert not contact_closed()
    assert not relay.is_closed()


def test_a_loan_that_is_not_renewed_lapses(
    relay: GpioRelay, clock: FakeClock, contact_closed: Callable[[], bool]
) -> None:
    relay.hold_closed(until_uptime_s=clock.at_s + 5)
    clock.at_s += 4.9
    relay.open_if_lapsed()
    assert contact_closed()
    clock.at_s += 0.1
    relay.open_if_lapsed()
    assert not contact_closed()


def test_a_loan_that_is_renewed_goes_on_and_counts_as_one_operation(
    relay: GpioRelay, clock: FakeClock, contact_closed: Callable[[], bool]
) -> None:
    for _ in range(20):
        relay.hold_closed(until_uptime_s=clock.at_s + 5)
        clock.at_s += 2
        relay.open_if_lapsed()
        assert contact_closed()
    assert relay.operations == 1
    relay.open()
    relay.hold_closed(until_uptime_s=clock.at_s + 5)
    assert relay.operations == 2


@pytest.mark.parametrize("until_s", [math.inf, 1e9])
def test_no_loan_is_longer_than_the_longest(
    relay: GpioRelay, clock: FakeClock, contact_closed: Callable[[], bool], until_s: float
) -> None:
    relay.hold_closed(until_uptime_s=until_s)
    clock.at_s += LONGEST_LOAN_S
    relay.open_if_lapsed()
    assert not contact_closed()


@pytest.mark.parametrize("until_s", [1000.0, 999.0, -1.0, math.nan])
def test_a_loan_that_has_already_ended_opens(
    relay: GpioRelay, contact_closed: Callable[[], bool], until_s: float
) -> None:
    relay.hold_closed(until_uptime_s=1004.0)
    relay.hold_closed(until_uptime_s=until_s)
    assert not contact_closed()
    assert not relay.is_closed()


def test_closing_down_opens_first_and_can_be_repeated(
    relay: GpioRelay, factory: MockFactory, clock: FakeClock, *, active_high: bool
) -> None:
    relay.hold_closed(until_uptime_s=clock.at_s + 5)
    pin = factory.pin(PIN)
    pin.clear_states()
    relay.close_down()
    relay.close_down()
    relay.open()
    assert [state.state for state in pin.states] == [active_high, not active_high]
    assert pin.function == "input"
    assert not relay.is_closed()
    with pytest.raises(HardwareError, match="has been closed down"):
        relay.hold_closed(until_uptime_s=clock.at_s + 5)


def test_a_relay_that_cannot_be_opened_says_so_once_and_is_tried_again(
    relay: GpioRelay,
    factory: MockFactory,
    clock: FakeClock,
    contact_closed: Callable[[], bool],
    caplog: pytest.LogCaptureFixture,
) -> None:
    relay.hold_closed(until_uptime_s=clock.at_s + 5)
    factory.pin(PIN).broken = True
    relay.open()
    relay.open_if_lapsed()
    assert relay.is_closed()
    assert [record.getMessage() for record in caplog.records] == [
        "relay mist cannot be opened: no such device; trying on"
    ]
    factory.pin(PIN).broken = False
    relay.open_if_lapsed()
    assert not relay.is_closed()
    assert not contact_closed()


def test_a_relay_that_cannot_be_closed_raises_and_stays_open(
    relay: GpioRelay, factory: MockFactory, clock: FakeClock, contact_closed: Callable[[], bool]
) -> None:
    factory.pin(PIN).broken = True
    with pytest.raises(HardwareError, match="'mist' cannot be closed"):
        relay.hold_closed(until_uptime_s=clock.at_s + 5)
    factory.pin(PIN).broken = False
    relay.open_if_lapsed()
    assert not contact_closed()
    assert not relay.is_closed()


def test_a_second_relay_on_the_same_pin_is_refused(
    relay: GpioRelay, factory: MockFactory, clock: FakeClock
) -> None:
    with pytest.raises(HardwareError, match=f"'fan' on GPIO {PIN} cannot be driven"):
        GpioRelay(name="fan", pin=PIN, active_high=True, factory=factory, clock=clock)
    assert not relay.is_closed()


def test_the_librarys_global_pin_factory_is_never_made(relay: GpioRelay) -> None:
    assert not relay.is_closed()
    assert Device.pin_factory is None


def test_the_loan_keeper_opens_within_a_second_while_nobody_else_does_anything(
    factory: MockFactory,
) -> None:
    clock = SystemClock()
    relays = [
        GpioRelay(name=f"relay {pin}", pin=pin, active_high=True, factory=factory, clock=clock)
        for pin in (22, 23)
    ]
    with LoanKeeper(relays):
        until_s = clock.uptime_s() + 0.2
        for relay in relays:
            relay.hold_closed(until_uptime_s=until_s)
        while any(relay.is_closed() for relay in relays):
            assert clock.uptime_s() < until_s + 1.0
            time.sleep(0.01)
        assert clock.uptime_s() >= until_s
        assert not factory.pin(22).state
        relays[0].hold_closed(until_uptime_s=clock.uptime_s() + 9)
    assert not any(relay.is_closed() for relay in relays)
    assert factory.pin(22).function == "input"
