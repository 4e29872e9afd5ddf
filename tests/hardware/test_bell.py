"""The bell on gpiozero's mock pins, and on a stand-in that records every call to lgpio."""

import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from types import ModuleType

import pytest
from gpiozero.pins.mock import MockFactory
from hardware.made_pins import FakeClock, StubbornPin

from hangroom.alarm_table.ringing import BUZZER_BEATS, LAMP_BEATS, Ring
from hangroom.cli import main
from hangroom.cli.real_rooms import real_bell
from hangroom.control.alarms.annunciation import BOUNCES_FOR_S, STUCK_AFTER_S
from hangroom.errors import HardwareError
from hangroom.hardware.bell import LOOKS_EVERY_S, GpioBell
from hangroom.hardware.clock import SystemClock
from hangroom.hardware.factory import lgpio_factory
from hangroom.settings import check_settings
from hangroom.terms import Wiring

BUZZER, LAMP, BUTTON = 24, 25, 26


class TwoWayPin(StubbornPin):
    """One that fails to be read as well, and remembers the last level it was driven to."""

    driven: bool | None = None

    def _set_state(self, value: float) -> None:
        super()._set_state(value)
        self.driven = bool(value)

    def _get_state(self) -> float:
        if self.broken:
            raise OSError("no such device")
        return float(super()._get_state())


@dataclass
class Room:
    """A bell without its thread: each look is asked for, so that the test owns the time."""

    factory: MockFactory
    bell: GpioBell
    clock: FakeClock = field(default_factory=FakeClock)

    def let_pass(self, for_s: float) -> list[tuple[float, bool, bool]]:
        """Look as often as the thread would; return when buzzer and lamp were on."""
        seen = []
        for _ in range(round(for_s / LOOKS_EVERY_S)):
            self.bell.look()
            seen.append((self.clock.at_s, self.is_on(BUZZER), self.is_on(LAMP)))
            self.clock.at_s += LOOKS_EVERY_S
        return seen

    def is_on(self, pin: int) -> bool:
        """Whether the pin is driven high, seen from outside the bell."""
        driven = self.factory.pin(pin)
        return bool(driven.function == "output" and driven._state)

    def hold_button(self, *, down: bool) -> None:
        contact = self.factory.pin(BUTTON)
        contact.drive_low() if down else contact.drive_high()


@pytest.fixture
def room() -> Iterator[Room]:
    factory = MockFactory(revision="a02082", pin_class=TwoWayPin)
    clock = FakeClock()
    bell = GpioBell(
        buzzer=Wiring(pin=BUZZER, active_high=True),
        lamp=Wiring(pin=LAMP, active_high=True),
        button=BUTTON,
        factory=factory,
        clock=clock,
    )
    yield Room(factory=factory, bell=bell, clock=clock)
    for pin in (BUZZER, LAMP, BUTTON):
        factory.pin(pin).broken = False
    bell.close_down()


def test_it_is_silent_until_it_is_asked(room: Room) -> None:
    assert not any(buzzer or lamp for _, buzzer, lamp in room.let_pass(5.0))


def test_an_urgent_alarm_beeps_and_blinks_at_the_rates_of_the_table(room: Room) -> None:
    room.bell.ring(Ring.BUZZER, until_uptime_s=room.clock.at_s + 60)
    seen = room.let_pass(20.0)
    buzzer, lamp = [row[1] for row in seen], [row[2] for row in seen]
    assert sum(buzzer) / len(seen) == pytest.approx(0.25, abs=0.03)  # 0.5 s of 2
    assert sum(lamp) / len(seen) == pytest.approx(0.5, abs=0.03)
    assert _turned_on(buzzer) == 10  # every 2 s
    assert _turned_on(lamp) == 40  # 2 Hz


def test_what_is_less_urgent_blinks_slowly_and_makes_no_sound(room: Room) -> None:
    room.bell.ring(Ring.LAMP, until_uptime_s=room.clock.at_s + 60)
    seen = room.let_pass(20.0)
    assert not any(buzzer for _, buzzer, _ in seen)
    assert _turned_on([lamp for _, _, lamp in seen]) == 10


def test_the_lamp_s_rates_lie_in_the_ranges_named(room: Room) -> None:
    del room
    hertz = {ring: 1 / (beat.on_s + beat.off_s) for ring, beat in LAMP_BEATS.items()}
    assert 1.4 <= hertz[Ring.BUZZER] <= 2.8
    assert 0.4 <= hertz[Ring.LAMP] <= 0.8
    assert set(BUZZER_BEATS) == {Ring.BUZZER}


def test_a_ring_that_nobody_asks_for_again_ends(room: Room) -> None:
    room.bell.ring(Ring.BUZZER, until_uptime_s=room.clock.at_s + 10)
    seen = room.let_pass(20.0)
    end_s = seen[0][0] + 10
    assert any(buzzer for at_s, buzzer, _ in seen if at_s > end_s - 2.1)
    assert not any(buzzer or lamp for at_s, buzzer, lamp in seen if at_s >= end_s)


def test_a_press_counts_once_however_long_it_is_held(room: Room) -> None:
    room.hold_button(down=False)
    room.let_pass(0.2)
    room.hold_button(down=True)
    room.let_pass(8.0)
    assert room.bell.take_presses() == 1
    assert room.bell.take_presses() == 0
    room.hold_button(down=False)
    room.let_pass(0.2)
    assert room.bell.take_presses() == 0
    room.hold_button(down=True)
    room.let_pass(0.2)
    assert room.bell.take_presses() == 1


def test_a_contact_that_bounces_is_one_press(room: Room) -> None:
    room.hold_button(down=False)
    room.let_pass(0.2)
    for down in (True, False, True, False, True):
        room.hold_button(down=down)
        room.bell.look()
        room.clock.at_s += BOUNCES_FOR_S / 6
    assert room.bell.take_presses() == 0
    room.let_pass(0.2)
    assert room.bell.take_presses() == 1


def test_a_button_that_is_stuck_from_the_start_acknowledges_nothing_and_is_named(
    room: Room,
) -> None:
    room.hold_button(down=True)
    room.let_pass(STUCK_AFTER_S + 1)
    assert room.bell.take_presses() == 0
    assert "The button has been down for a while" in room.bell.fault()
    room.hold_button(down=False)
    room.let_pass(0.2)
    assert room.bell.fault() == ""


def test_a_hand_that_is_on_the_button_when_it_begins_to_ring_has_heard_nothing(room: Room) -> None:
    room.hold_button(down=False)
    room.let_pass(0.2)
    room.hold_button(down=True)
    room.bell.look()
    room.bell.ring(Ring.BUZZER, until_uptime_s=room.clock.at_s + 60)
    room.let_pass(1.0)
    assert room.bell.take_presses() == 0
    for down in (False, True):
        room.hold_button(down=down)
        room.let_pass(0.2)
    assert room.bell.take_presses() == 1


def test_a_pin_that_fails_is_said_once_tried_on_and_raises_nothing(
    room: Room, caplog: pytest.LogCaptureFixture
) -> None:
    room.bell.ring(Ring.BUZZER, until_uptime_s=room.clock.at_s + 600)
    for pin in (BUZZER, BUTTON):
        room.factory.pin(pin).broken = True
    seen = room.let_pass(5.0)
    assert any(lamp for _, _, lamp in seen)  # what is whole goes on
    assert "It fails (no such device; no such device)" in room.bell.fault()
    assert len(caplog.records) == 1
    for pin in (BUZZER, BUTTON):
        room.factory.pin(pin).broken = False
    assert any(buzzer for _, buzzer, _ in room.let_pass(5.0))
    assert room.bell.fault() == ""


def test_a_pin_that_another_holds_is_explained_and_the_others_are_let_go(room: Room) -> None:
    free = Wiring(pin=22, active_high=True)
    with pytest.raises(HardwareError, match="The bell cannot be driven"):
        GpioBell(
            buzzer=free,
            lamp=Wiring(pin=LAMP, active_high=True),
            button=None,
            factory=room.factory,
            clock=room.clock,
        )
    GpioBell(
        buzzer=free, lamp=None, button=None, factory=room.factory, clock=room.clock
    ).close_down()


def test_it_rings_in_its_own_thread_and_is_off_when_the_daemon_ends_in_any_way() -> None:
    factory, clock = MockFactory(revision="a02082", pin_class=TwoWayPin), SystemClock()
    bell = GpioBell(
        buzzer=Wiring(pin=BUZZER, active_high=False),
        lamp=None,
        button=BUTTON,
        factory=factory,
        clock=clock,
    )

    def crash() -> None:
        with bell:
            bell.ring(Ring.BUZZER, until_uptime_s=clock.uptime_s() + 60)
            _wait_for(lambda: factory.pin(BUZZER).driven is False)  # active low: it sounds
            raise RuntimeError("a mistake in the program")

    with pytest.raises(RuntimeError):
        crash()
    assert factory.pin(BUZZER).driven is True  # switched off
    assert factory.pin(BUZZER).function == "input"  # and let go
    bell.close_down()


@pytest.mark.filterwarnings("ignore::pytest.PytestUnhandledThreadExceptionWarning")
def test_a_mistake_in_its_thread_ends_the_bell_alone_and_is_said(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    factory, clock = MockFactory(revision="a02082", pin_class=TwoWayPin), SystemClock()
    bell = GpioBell(
        buzzer=Wiring(pin=BUZZER, active_high=True),
        lamp=None,
        button=None,
        factory=factory,
        clock=clock,
    )

    def mistake() -> None:
        raise AttributeError("nobody foresaw this")

    with bell:
        bell.ring(Ring.BUZZER, until_uptime_s=clock.uptime_s() + 60)
        _wait_for(lambda: factory.pin(BUZZER).driven is True)
        monkeypatch.setattr(bell, "look", mistake)
        _wait_for(lambda: "failed for good" in bell.fault())
        assert factory.pin(BUZZER).driven is False  # nobody is left who would end the ring
        bell.ring(Ring.LAMP, until_uptime_s=clock.uptime_s() + 60)
        assert bell.take_presses() == 0
    assert factory.pin(BUZZER).function == "input"


SETTINGS = {
    "room": {"closet": {"title": "Closet", "sensor": {"rail": {"kind": "dht22", "pin": 4}}}},
    "bell": {"buzzer": {"pin": BUZZER}, "button": {"pin": BUTTON}},
}


def test_a_bell_that_cannot_be_had_stops_no_daemon_and_says_why(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def no_chip() -> MockFactory:
        raise HardwareError("No GPIO chip of a Raspberry Pi header was found.")

    monkeypatch.setattr("hangroom.cli.real_rooms.lgpio_factory", no_chip)
    with real_bell(check_settings(SETTINGS, source="t"), SystemClock()) as bell:
        assert bell is not None
        bell.ring(Ring.BUZZER, until_uptime_s=1e9)
        assert bell.take_presses() == 0
        assert bell.fault() == "No GPIO chip of a Raspberry Pi header was found."
        bell.close_down()
    assert [record.getMessage() for record in caplog.records] == [
        "No GPIO chip of a Raspberry Pi header was found."
    ]


def test_the_settings_bell_is_opened_and_let_go(monkeypatch: pytest.MonkeyPatch) -> None:
    factory = MockFactory(revision="a02082", pin_class=TwoWayPin)
    monkeypatch.setattr("hangroom.cli.real_rooms.lgpio_factory", lambda: factory)
    clock = SystemClock()
    with real_bell(check_settings(SETTINGS, source="t"), clock) as bell:
        assert bell is not None
        bell.ring(Ring.BUZZER, until_uptime_s=clock.uptime_s() + 60)
        _wait_for(lambda: factory.pin(BUZZER).driven is True)
    assert factory.pin(BUZZER).driven is False
    with real_bell(check_settings({"room": SETTINGS["room"]}, source="t"), clock) as none:
        assert none is None


class FakeLgpio(ModuleType):
    """The part of lgpio that a bell touches, with lgpio's own signatures."""

    BOTH_EDGES, RISING_EDGE, FALLING_EDGE = 3, 1, 2
    SET_PULL_NONE, SET_PULL_UP, SET_PULL_DOWN = 128, 32, 64
    error = type("error", (Exception,), {})

    def __init__(self) -> None:
        super().__init__("lgpio")
        self.calls: list[tuple[object, ...]] = []
        self.modes: dict[int, int] = {}
        self.gone = False

    def gpiochip_open(self, chip: int) -> int:
        return chip

    def gpiochip_close(self, _handle: int) -> int:
        return 0

    def gpio_get_chip_info(self, _handle: int) -> list[int | str]:
        return [0, 54, "gpiochip0", "pinctrl-bcm2835"]

    def gpio_claim_input(self, _handle: int, gpio: int, flags: int = 0) -> int:
        self.calls.append(("input", gpio, flags))
        self.modes[gpio] = {0: 0, 32: 32, 64: 64, 128: 128}[flags]
        return 0

    def gpio_claim_output(self, _handle: int, gpio: int, level: int = 0, flags: int = 0) -> int:
        self.calls.append(("output", gpio, level, flags))
        self.modes[gpio] = 2
        return 0

    def gpio_get_mode(self, _handle: int, gpio: int) -> int:
        return self.modes.get(gpio, 0)

    def gpio_write(self, _handle: int, gpio: int, level: int) -> int:
        self.calls.append(("write", gpio, int(level)))
        return 0

    def gpio_read(self, _handle: int, gpio: int) -> int:
        if self.gone:
            raise self.error("GPIO not allocated")
        return int(self.modes[gpio] == 32)  # nobody presses: the pull-up holds it high

    def gpio_free(self, _handle: int, gpio: int) -> int:
        self.calls.append(("free", gpio))
        return 0


@pytest.fixture
def lgpio(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[FakeLgpio]:
    fake, holders = FakeLgpio(), ("gpiozero.pins.lgpio", "hangroom.hardware.lgpio_pins")
    monkeypatch.setenv("LG_WD", str(tmp_path))
    for name in holders:
        monkeypatch.delitem(sys.modules, name, raising=False)
    monkeypatch.setitem(sys.modules, "lgpio", fake)
    monkeypatch.setattr("gpiozero.pins.local.get_pi_revision", lambda: 0xA02082)
    yield fake
    for name in holders:
        sys.modules.pop(name, None)


@pytest.fixture
def devices(tmp_path: Path) -> Path:
    (tmp_path / "gpiochip0").touch()
    return tmp_path


def test_on_the_header_it_is_claimed_off_and_its_button_is_pulled_up_and_only_read(
    lgpio: FakeLgpio, devices: Path
) -> None:
    bell = GpioBell(
        buzzer=Wiring(pin=BUZZER, active_high=True),
        lamp=Wiring(pin=5, active_high=False),
        button=BUTTON,
        factory=lgpio_factory(devices),
        clock=FakeClock(),
    )
    assert [call for call in lgpio.calls if call[0] == "output"] == [
        ("output", BUZZER, 0, 0),
        ("output", 5, 1, 0),
    ]
    assert lgpio.calls[-1] == ("input", BUTTON, lgpio.SET_PULL_UP)
    bell.look()
    assert bell.fault() == ""
    lgpio.gone = True
    bell.look()
    assert "GPIO 26 cannot be read: GPIO not allocated" in bell.fault()
    bell.close_down()
    assert {("free", BUZZER), ("free", 5), ("free", BUTTON)} <= set(lgpio.calls)


def test_the_safe_command_silences_it_too(
    lgpio: FakeLgpio, tmp_path: Path, capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch, devices: Path,
) -> None:  # fmt: skip
    settings = tmp_path / "hangroom.toml"
    settings.write_text(
        "[bell.buzzer]\npin = 24\n[bell.lamp]\npin = 5\nactive_high = false\n[bell.button]\npin = 26\n"
        '[room.closet.relay.fan]\nkind = "fan"\npin = 27\n'
    )
    monkeypatch.setattr("hangroom.hardware.off_script.header_chip", lambda *_: 0)
    del devices
    assert main(["safe", "--settings", str(settings)]) == 0
    assert set(lgpio.calls) == {("output", 27, 0, 0), ("output", 24, 0, 0), ("output", 5, 1, 0)}
    assert capsys.readouterr().out == "1 relays are off. The bell is silent.\n"


def _turned_on(seen: list[bool]) -> int:
    return sum(now and not before for before, now in zip([False, *seen], seen, strict=False))


def _wait_for(what: Callable[[], bool]) -> None:
    give_up_s = time.monotonic() + 20
    while not what():
        assert time.monotonic() < give_up_s
        time.sleep(0.01)
