"""Drivers for a sensor's child process that behave as badly as real ones have.

Each is named in a test as "scripted:NAME"; the child finds this file through PYTHONPATH.
"""

import json
import os
import sys
import time
from array import array
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

Measure = Callable[[], tuple[float, float]]


def good(_pin: int) -> Measure:
    return lambda: (14.0, 78.0)


def hangs(_pin: int) -> Measure:
    def measure() -> tuple[float, float]:
        while True:
            time.sleep(60)

    return measure


def hangs_as_an_orphan(pin: int) -> Measure:
    vars(sys.modules["__main__"])["_ORPHAN_ENDS_AFTER_S"] = 1  # a test cannot wait for the real one
    return hangs(pin)


def hangs_while_starting(_pin: int) -> Measure:
    while True:
        time.sleep(60)


def dies(_pin: int) -> Measure:
    def measure() -> tuple[float, float]:
        os._exit(7)

    return measure


def cannot_start(pin: int) -> Measure:
    raise RuntimeError(f"no such pin {pin}")


def checksum_fails(_pin: int) -> Measure:
    def measure() -> tuple[float, float]:
        raise RuntimeError("Checksum did not validate. Try again.")

    return measure


def unplugged(_pin: int) -> Measure:
    def measure() -> tuple[float, float]:
        raise RuntimeError("DHT sensor not found, check wiring")

    return measure


def all_zero(_pin: int) -> Measure:
    return lambda: (0.0, 0.0)


def clone(_pin: int) -> Measure:
    return lambda: (-3275.8, 60.0)


def babbles(_pin: int) -> Measure:
    def measure() -> tuple[float, float]:
        sys.stdout.write("WARNING: pulses [12, 54]\n")
        os.write(1, b"and more\n")
        return (14.0, 78.0)

    return measure


def lies(_pin: int) -> Measure:
    return lambda: (None, "damp")  # type: ignore[return-value]  # that is the lie


def plays_frames(pin: int) -> Measure:
    """The real library, given pulses to decode in place of a pin: the frames of SCRIPTED_FRAMES.

    The last frame is repeated for ever.
    """
    import adafruit_dht  # noqa: PLC0415 - only this driver needs it

    from hangroom.hardware.dht22_library import open_dht22  # noqa: PLC0415

    frames = [array("H", pulses) for pulses in json.loads(os.environ["SCRIPTED_FRAMES"])]

    def next_frame(_sensor: object) -> "array[int]":
        return frames.pop(0) if len(frames) > 1 else frames[0]

    adafruit_dht.DHT22._get_pulses_bitbang = next_frame
    adafruit_dht.DHT22._get_pulses_pulseio = None  # must never be used
    sys.modules["board"] = ModuleType("board")
    setattr(sys.modules["board"], f"D{pin}", object())
    return open_dht22(pin)


def kernel_dht11(pin: int) -> Measure:
    """The kernel's files in the tree of SCRIPTED_ROOT."""
    from hangroom.hardware import kernel_files  # noqa: PLC0415

    return kernel_files.open_dht11(pin, Path(os.environ["SCRIPTED_ROOT"]))


def kernel_sht3x(bus: int, address: int) -> Measure:
    """The kernel's files in the tree of SCRIPTED_ROOT."""
    from hangroom.hardware import kernel_files  # noqa: PLC0415

    return kernel_files.open_sht3x(bus, address, Path(os.environ["SCRIPTED_ROOT"]))


def sht31_on_a_bus(bus: int, address: int) -> Measure:
    """The real driver on a bus of bytes."""
    from hardware.fake_i2c import FakeBus, FakeSht31, sht_frame  # noqa: PLC0415

    from hangroom.hardware import i2c_library  # noqa: PLC0415

    wire = FakeBus(address, FakeSht31(sht_frame(21720, 50003)))
    return i2c_library.open_sht31(bus, address, lambda _number: wire)


def sht31_on_a_locked_bus(bus: int, address: int) -> Measure:
    from hardware.fake_i2c import FakeBus, FakeSht31, sht_frame  # noqa: PLC0415

    from hangroom.hardware import i2c_library  # noqa: PLC0415

    wire = FakeBus(address, FakeSht31(sht_frame(21720, 50003)))
    assert wire.try_lock()
    return i2c_library.open_sht31(bus, address, lambda _number: wire)


def bme280_always_busy(bus: int, address: int) -> Measure:
    """Its status register says for ever that it is measuring."""
    from hardware.fake_i2c import FakeBme280, FakeBus  # noqa: PLC0415

    from hangroom.hardware import i2c_library  # noqa: PLC0415

    wire = FakeBus(address, FakeBme280((519888, 26500)))
    wire.device.registers[0xF3] = 0x08
    return i2c_library.open_bme280(bus, address, lambda _number: wire)


def fails_every_second_time(_pin: int) -> Measure:
    """Count up, so that each value can be told from every other."""
    calls = 0

    def measure() -> tuple[float, float]:
        nonlocal calls
        calls += 1
        if calls % 2 == 0:
            raise RuntimeError("A full buffer was not returned. Try again.")
        return (10.0 + calls, 78.0)

    return measure


def good_until_marked(pin: int) -> Measure:
    """Measure dry air until the file SCRIPTED_MARK is there, then do as SCRIPTED_BAD does."""
    mark, bad = Path(os.environ["SCRIPTED_MARK"]), globals()[os.environ["SCRIPTED_BAD"]]
    calls = 0
    turned: Measure | None = None

    def measure() -> tuple[float, float]:
        nonlocal calls, turned
        calls += 1
        if not mark.exists():
            return 13.0, 60.0 + calls % 7 / 10
        turned = turned or bad(pin)
        mark.with_suffix(".broke").touch()
        return turned()

    return measure


def hangs_once_then_works(_pin: int) -> Measure:
    mark = Path(os.environ["SCRIPTED_MARK"])
    if mark.exists():
        return good(_pin)
    mark.touch()
    return hangs(_pin)


def notes_its_times(_pin: int) -> Measure:
    """Fail each time, and write down when it was asked."""

    def measure() -> tuple[float, float]:
        with Path(os.environ["SCRIPTED_MARK"]).open("a") as file:
            file.write(f"{time.monotonic()}\n")
        raise RuntimeError("DHT sensor not found, check wiring")

    return measure


if __name__ == "__main__":  # a child that talks without an end
    while True:
        sys.stdout.write("x" * 1000)
