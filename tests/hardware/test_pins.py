import pytest
from gpiozero.pins.mock import MockFactory

from hangroom.pins import PINS, check_pin, free_pins


def test_header_positions_agree_with_gpiozeros_board_data() -> None:
    header = MockFactory(revision="a02082").board_info.headers["J8"]
    theirs = {
        int(pin.name.removeprefix("GPIO")): number
        for number, pin in header.pins.items()
        if pin.name.startswith("GPIO")
    }
    assert {bcm: pin.header for bcm, pin in PINS.items()} == theirs


# Refused for any relay: the identity bus of add-on boards, the I2C bus with its fixed resistors,
# the serial console. Raspberry Pi documentation, GPIO chapter.
@pytest.mark.parametrize("bcm", [0, 1, 2, 3, 14, 15])
@pytest.mark.parametrize("active_high", [True, False])
def test_reserved_pins_carry_no_relay(bcm: int, *, active_high: bool) -> None:
    fault = check_pin(bcm, active_high=active_high)
    assert fault is not None
    assert f"GPIO {bcm} cannot carry" in fault
    assert "use one of" in fault


# BCM2835 ARM Peripherals, table 6-31: GPIO 0-8 pull up at reset, GPIO 9-27 down.
@pytest.mark.parametrize("bcm", [4, 5, 6, 7, 8])
def test_a_pin_pulled_up_at_reset_carries_no_active_high_relay(bcm: int) -> None:
    fault = check_pin(bcm, active_high=True)
    assert fault is not None
    assert "pulled up at reset" in fault
    assert check_pin(bcm, active_high=False) is None


@pytest.mark.parametrize("bcm", sorted(set(range(9, 28)) - {14, 15}))
def test_every_other_pin_carries_either_kind(bcm: int) -> None:
    assert check_pin(bcm, active_high=True) is None
    assert check_pin(bcm, active_high=False) is None


@pytest.mark.parametrize("bcm", [-1, 28, 40])
def test_a_pin_that_is_not_on_the_header_is_refused(bcm: int) -> None:
    assert check_pin(bcm, active_high=True) == (
        f"GPIO {bcm} does not exist; the header has GPIO 0 to 27"
    )


@pytest.mark.parametrize("active_high", [True, False])
def test_the_pins_advised_are_allowed_and_enough_for_two_relays(*, active_high: bool) -> None:
    advised = free_pins(active_high=active_high)
    assert len(advised) >= 2
    assert all(check_pin(bcm, active_high=active_high) is None for bcm in advised)
