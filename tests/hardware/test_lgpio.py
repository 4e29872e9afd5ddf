"""The lgpio path, against a stand-in that records every call to the library.

What the kernel does with those calls was tried on an emulated board; here is checked that the
right calls, and no others, are made.
"""

import sys
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

import pytest

from hangroom.errors import HardwareError
from hangroom.hardware.factory import lgpio_factory
from hangroom.hardware.off_script import relays_off
from hangroom.hardware.relays import GpioRelay

LOADED_WITH_LGPIO = ("gpiozero.pins.lgpio", "hangroom.hardware.lgpio_pins")


class FakeError(Exception):
    """As in lgpio: a direct child of Exception."""


class FakeLgpio(ModuleType):
    """The part of lgpio that a relay touches, with lgpio's own signatures."""

    BOTH_EDGES, RISING_EDGE, FALLING_EDGE = 3, 1, 2
    SET_PULL_NONE, SET_PULL_UP, SET_PULL_DOWN = 128, 32, 64
    error = FakeError

    def __init__(self, labels: dict[int, str]) -> None:
        super().__init__("lgpio")
        self.labels = labels
        self.calls: list[tuple[str | int, ...]] = []
        self.busy: set[int] = set()
        self.outputs: set[int] = set()
        self.open_handles: set[int] = set()

    def gpiochip_open(self, chip: int) -> int:
        if chip not in self.labels:
            raise FakeError("can not open gpiochip")
        self.open_handles.add(chip)
        return chip

    def gpiochip_close(self, handle: int) -> int:
        self.open_handles.remove(handle)
        return 0

    def gpio_get_chip_info(self, handle: int) -> list[int | str]:
        return [0, 54, f"gpiochip{handle}", self.labels[handle]]

    def gpio_claim_input(self, _handle: int, gpio: int, flags: int = 0) -> int:
        self.calls.append(("input", gpio, flags))
        return 0

    def gpio_claim_output(self, handle: int, gpio: int, level: int = 0, flags: int = 0) -> int:
        assert handle in self.open_handles
        if gpio in self.busy:
            raise FakeError("GPIO busy")
        self.calls.append(("output", gpio, level, flags))
        self.outputs.add(gpio)
        return 0

    def gpio_get_mode(self, _handle: int, gpio: int) -> int:
        return 2 if gpio in self.outputs else 0

    def gpio_write(self, _handle: int, gpio: int, level: int) -> int:
        if gpio in self.busy:
            raise FakeError("GPIO not allocated")
        self.calls.append(("write", gpio, int(level)))
        return 0

    def gpio_free(self, _handle: int, gpio: int) -> int:
        self.calls.append(("free", gpio))
        return 0


class StillClock:
    def uptime_s(self) -> float:
        return 0.0


@pytest.fixture
def devices(tmp_path: Path) -> Path:
    folder = tmp_path / "dev"
    folder.mkdir()
    for name in ("gpiochip0", "gpiochip4", "gpiochip10", "gpiomem"):
        (folder / name).touch()
    return folder


@pytest.fixture
def install(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator["type[FakeLgpio]"]:
    """Forget every module that holds on to lgpio, before and after."""
    monkeypatch.setenv("LG_WD", str(tmp_path))
    for name in LOADED_WITH_LGPIO:
        monkeypatch.delitem(sys.modules, name, raising=False)
    yield FakeLgpio
    for name in LOADED_WITH_LGPIO:
        sys.modules.pop(name, None)


@pytest.fixture
def lgpio(install: type[FakeLgpio], monkeypatch: pytest.MonkeyPatch) -> FakeLgpio:
    fake = install({0: "raspberrypi-exp-gpio", 4: "pinctrl-bcm2835", 10: "brcmvirt-gpio"})
    monkeypatch.setitem(sys.modules, "lgpio", fake)
    # As on a board; elsewhere gpiozero refuses for want of a revision.
    monkeypatch.setattr("gpiozero.pins.local.get_pi_revision", lambda: 0xA02082)
    return fake


def a_relay(devices: Path, *, pin: int, active_high: bool) -> GpioRelay:
    return GpioRelay(
        name="mist",
        pin=pin,
        active_high=active_high,
        factory=lgpio_factory(devices),
        clock=StillClock(),  # type: ignore[arg-type]  # only its uptime is asked for
    )


@pytest.mark.parametrize(("active_high", "off", "on"), [(True, 0, 1), (False, 1, 0)])
def test_the_first_thing_done_to_a_line_is_to_claim_it_at_its_off_level(
    lgpio: FakeLgpio, devices: Path, *, active_high: bool, off: int, on: int
) -> None:
    relay = a_relay(devices, pin=5, active_high=active_high)
    assert lgpio.calls == [("output", 5, off, 0)]
    relay.hold_closed(until_uptime_s=5.0)
    assert lgpio.calls[1:] == [("write", 5, on)]
    relay.close_down()
    assert lgpio.calls[2:] == [("write", 5, off), ("free", 5)]


def test_gpiozeros_own_pin_would_close_an_active_low_relay_for_a_moment(
    lgpio: FakeLgpio, devices: Path
) -> None:
    """Why the subclass is there; when this fails, gpiozero has mended it and it can go."""
    factory = lgpio_factory(devices)
    from gpiozero import OutputDevice  # noqa: PLC0415 - after the stand-in is in place
    from gpiozero.pins.lgpio import LGPIOPin  # noqa: PLC0415

    factory.pin_class = LGPIOPin
    with OutputDevice(6, active_high=False, initial_value=False, pin_factory=factory):
        assert lgpio.calls == [("input", 6, 128), ("output", 6, 0, 0), ("write", 6, 1)]


def test_the_chip_is_chosen_by_its_label_and_not_by_its_number(
    lgpio: FakeLgpio, devices: Path
) -> None:
    assert lgpio_factory(devices).chip == 4
    assert lgpio.open_handles == {4}


def test_a_busy_line_is_explained(lgpio: FakeLgpio, devices: Path) -> None:
    lgpio.busy = {22}
    with pytest.raises(HardwareError, match=r"GPIO 22 cannot be driven: .*GPIO busy.*stop it"):
        a_relay(devices, pin=22, active_high=True)


def test_a_line_that_fails_while_open_raises_no_error_of_lgpios_own(
    lgpio: FakeLgpio, devices: Path
) -> None:
    relay = a_relay(devices, pin=23, active_high=True)
    lgpio.busy = {23}
    with pytest.raises(HardwareError, match="cannot be closed: GPIO 23 cannot be set"):
        relay.hold_closed(until_uptime_s=5.0)
    relay.open()
    relay.close_down()


def test_without_a_header_chip_the_ones_seen_are_named(lgpio: FakeLgpio, devices: Path) -> None:
    lgpio.labels = {0: "gpio-mockup-A", 4: "gpio-sim"}
    with pytest.raises(HardwareError, match=r"gpiochip0: gpio-mockup-A; gpiochip4: gpio-sim; gpio"):
        lgpio_factory(devices)
    assert not lgpio.open_handles


def test_without_any_chip_the_keeper_is_told_what_to_try(lgpio: FakeLgpio, tmp_path: Path) -> None:
    with pytest.raises(HardwareError, match=r"no chip at all.*hangroom demo"):
        lgpio_factory(tmp_path)
    assert not lgpio.calls


def test_a_missing_lgpio_is_refused_and_nothing_else_is_tried(
    install: type[FakeLgpio], devices: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert install
    monkeypatch.setitem(sys.modules, "lgpio", None)  # import then raises ImportError
    with pytest.raises(HardwareError, match="apt install python3-lgpio"):
        lgpio_factory(devices)


def test_the_empty_stub_of_lgpio_is_told_from_the_real_thing(
    install: type[FakeLgpio], devices: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert install
    monkeypatch.setitem(sys.modules, "lgpio", ModuleType("lgpio"))
    with pytest.raises(HardwareError, match=r"empty stub.*pip uninstall lgpio"):
        lgpio_factory(devices)


def test_a_working_folder_that_cannot_be_written_is_named(
    install: type[FakeLgpio], devices: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert install
    monkeypatch.setenv("LG_WD", "/nowhere/at/all")
    with pytest.raises(HardwareError, match=r"cannot write to /nowhere/at/all.*Set LG_WD"):
        lgpio_factory(devices)


def test_the_off_path_claims_every_relay_at_its_off_level(lgpio: FakeLgpio, devices: Path) -> None:
    relays_off([(17, True), (5, False)], devices)
    assert lgpio.calls == [("output", 17, 0, 0), ("output", 5, 1, 0)]
    assert not lgpio.open_handles


def test_the_off_path_goes_on_past_a_pin_that_fails_and_names_it(
    lgpio: FakeLgpio, devices: Path
) -> None:
    lgpio.busy = {17}
    with pytest.raises(HardwareError, match=r"Not switched off: GPIO 17 \(GPIO busy\)"):
        relays_off([(17, True), (22, True)], devices)
    assert lgpio.calls == [("output", 22, 0, 0)]
    assert not lgpio.open_handles


def test_the_off_path_loads_nothing_heavy() -> None:
    import subprocess  # noqa: PLC0415 - only this test starts a process

    loaded = subprocess.run(
        [
            sys.executable,
            "-c",
            "import sys, hangroom.hardware.off_script; print(*sys.modules, sep='\\n')",
        ],
        check=True,
        capture_output=True,
        text=True,
    ).stdout.split()
    heavy = {"gpiozero", "pydantic", "sqlite3", "sqlite_utils", "apscheduler", "flask", "lgpio"}
    assert heavy.isdisjoint(loaded)
