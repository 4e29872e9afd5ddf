"""What the kernel's files of a sensor say, and every way in which they can say nothing."""

import errno
import os
from collections.abc import Callable
from math import isfinite
from pathlib import Path

import pytest
from hardware.fake_sys import BME280_RAW
from hardware.kernel_made import (
    BELOW_IIO,
    EVERY,
    VALUES,
    Make,
    bme280,
    dht11,
    fault_of,
    humidity_file,
    sht3x,
    sht4x,
)
from hypothesis import example, given
from hypothesis import strategies as st

from hangroom.hardware import kernel_files
from hangroom.hardware.failed_reads import READ_ERRORS, reason_for
from hangroom.hardware.measurement import Fault


def test_values_are_thousandths_of_a_degree_and_of_a_percent(tmp_path: Path) -> None:
    """hwmon/sht3x.rst: 'the value for 31.5 degrees celsius is 31500'."""
    folder, measure = sht3x(tmp_path)
    (folder / "temp1_input").write_text("31500\n")
    assert measure() == (31.5, 76.31)


@pytest.mark.parametrize("make", EVERY)
def test_each_driver_is_read(tmp_path: Path, make: Make) -> None:
    _, measure = make(tmp_path)
    assert measure() in {(13.24, 76.31), (13.2, 76.3)}


def test_raw_values_are_offset_first_and_scaled_then(tmp_path: Path) -> None:
    """ABI/testing/sysfs-bus-iio: the offset 'to be added to' the raw value 'prior to scaling'."""
    folder, measure = bme280(tmp_path, BME280_RAW)
    assert measure() == pytest.approx((13.24, 76.31), abs=0.001)
    (folder / "in_temp_offset").write_text("100\n")
    assert measure()[0] == pytest.approx((1324 + 100) * 10 / 1000)


def test_a_raw_value_without_a_scale_is_none(tmp_path: Path) -> None:
    folder, measure = bme280(tmp_path, BME280_RAW)
    (folder / "in_temp_scale").unlink()
    assert fault_of(measure) is Fault.NOT_FOUND


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        (b"", Fault.HALF_FRAME),
        (b"763", Fault.HALF_FRAME),
        (b"-\n", Fault.NO_NUMBER),
        (b"nan\n", Fault.NO_NUMBER),
        (b"7e4\n", Fault.NO_NUMBER),
        (b"0x12\n", Fault.NO_NUMBER),
        (b"76310\n76310\n", Fault.NO_NUMBER),
        (b"\xff\xff\xff\n", Fault.NO_NUMBER),
        ("७६३१०\n".encode(), Fault.NO_NUMBER),
        (b" 76310\n", Fault.NO_NUMBER),
    ],
)
@pytest.mark.parametrize("make", EVERY)
def test_text_that_is_no_number_or_only_half_of_one(
    tmp_path: Path, make: Make, text: bytes, fault: Fault
) -> None:
    folder, measure = make(tmp_path)
    humidity_file(folder).write_bytes(text)
    assert fault_of(measure) is fault


class Text:
    """A file that holds these bytes."""

    def __init__(self, held: bytes) -> None:
        self.held = held

    def read_bytes(self) -> bytes:
        return self.held


@given(held=st.one_of(st.binary(max_size=30), st.from_regex(rb"[-0-9.eEnaif \n]{0,12}\n?")))
@example(held=b"9" * 400 + b"\n")
def test_whatever_a_file_holds_is_a_number_written_out_or_a_named_fault(held: bytes) -> None:
    number: float | Fault
    try:
        number = kernel_files._number(Text(held))  # type: ignore[arg-type]  # all that it asks for
    except READ_ERRORS as error:
        number = reason_for(error)
    if isinstance(number, Fault):
        assert number in {Fault.HALF_FRAME, Fault.NO_NUMBER}
    else:
        assert isfinite(number)
        assert held.removesuffix(b"\n").strip(b"-0123456789.") == b""


@pytest.fixture
def fails_with(monkeypatch: pytest.MonkeyPatch) -> Callable[[int], None]:
    """Let every file of values fail as the kernel lets it."""
    real = Path.read_bytes

    def make_fail(number: int) -> None:
        def read(file: Path) -> bytes:
            if file.name in VALUES:
                raise OSError(number, os.strerror(number), str(file))
            return real(file)

        monkeypatch.setattr(Path, "read_bytes", read)

    return make_fail


# dht11.c: -EIO for a frame out of step or with a wrong sum, -ETIMEDOUT for too few edges. The bus
# controllers: -EREMOTEIO (i2c-bcm2835) or -ENXIO where nobody acknowledges, -ETIMEDOUT for a bus
# that is held. sht4x.c: -ENODATA for a short answer. bmp280-core.c: -EIO for a value not measured.
@pytest.mark.parametrize(
    ("make", "number", "fault"),
    [
        (dht11, errno.EIO, Fault.CHECKSUM),
        (dht11, errno.ETIMEDOUT, Fault.NO_ANSWER),
        (dht11, errno.ENODEV, Fault.NOT_FOUND),
        (sht3x, errno.EREMOTEIO, Fault.NO_ANSWER),
        (sht3x, errno.ENXIO, Fault.NO_ANSWER),
        (sht3x, errno.ETIMEDOUT, Fault.BUS_STUCK),
        (sht3x, errno.EIO, Fault.BAD_TRANSFER),
        (sht4x, errno.ENODATA, Fault.HALF_FRAME),
        (sht4x, errno.EIO, Fault.BAD_TRANSFER),
        (bme280, errno.EIO, Fault.BAD_TRANSFER),
        (bme280, errno.ETIMEDOUT, Fault.BUS_STUCK),
        (bme280, errno.EACCES, Fault.NOT_ALLOWED),
    ],
)
def test_the_kernels_errors_have_names(
    tmp_path: Path, fails_with: Callable[[int], None], make: Make, number: int, fault: Fault
) -> None:
    _, measure = make(tmp_path)
    fails_with(number)
    assert fault_of(measure) is fault


@pytest.fixture
def successive(monkeypatch: pytest.MonkeyPatch) -> Callable[[Path, list[str]], None]:
    """Let a file give one text after another, the last one for ever."""
    real = Path.read_bytes
    scripts: dict[Path, list[str]] = {}

    def read(file: Path) -> bytes:
        texts = scripts.get(file)
        if texts is None:
            return real(file)
        return (texts.pop(0) if len(texts) > 1 else texts[0]).encode()

    monkeypatch.setattr(Path, "read_bytes", read)

    def script(file: Path, texts: list[str]) -> None:
        scripts[file.parent.resolve() / file.name] = texts
        scripts[file] = texts

    return script


def test_the_bme280s_first_sample_is_thrown_away(
    tmp_path: Path, successive: Callable[[Path, list[str]], None]
) -> None:
    _, measure = bme280(tmp_path)
    found = tmp_path / "bus/i2c/devices/1-0076" / BELOW_IIO
    successive(found / "in_humidityrelative_input", ["0\n", "76310\n"])
    assert measure() == (13.24, 76.31)


def test_a_bme280_that_was_gone_begins_anew(
    tmp_path: Path, successive: Callable[[Path, list[str]], None]
) -> None:
    _, measure = bme280(tmp_path)
    found = tmp_path / "bus/i2c/devices/1-0076" / BELOW_IIO
    successive(
        found / "in_humidityrelative_input", ["1\n", "76310\n", "", "2\n", "76000\n", "75000\n"]
    )
    assert measure() == (13.24, 76.31)
    assert fault_of(measure) is Fault.HALF_FRAME
    assert measure() == (13.24, 76.0)
    assert measure() == (13.24, 75.0)


def test_an_sht3x_must_say_the_same_twice_as_its_driver_checks_no_checksum(
    tmp_path: Path, successive: Callable[[Path, list[str]], None]
) -> None:
    """One bit of 16 384 in a humidity's word: 25 %RH."""
    _, measure = sht3x(tmp_path)
    found = tmp_path / "bus/i2c/devices/1-0044/hwmon/hwmon3"
    successive(found / "humidity1_input", ["76310\n", "51310\n", "51310\n", "76310\n", "76390\n"])
    assert fault_of(measure) is Fault.DISAGREES
    assert fault_of(measure) is Fault.DISAGREES
    assert measure() == (13.24, 76.39)


@pytest.mark.parametrize("make", [sht3x, sht4x])
def test_nothing_is_measured_while_the_sensor_heats_itself(tmp_path: Path, make: Make) -> None:
    """hwmon/sht3x.rst, heater_enable: 1 is turned on; sht4x.c shows it in the same file."""
    folder, measure = make(tmp_path)
    (folder / "heater_enable").write_text("1\n")
    assert fault_of(measure) is Fault.HEATER_ON
    (folder / "heater_enable").write_text("0\n")
    assert measure() == (13.24, 76.31)


def test_an_older_sht4x_driver_has_no_heater(tmp_path: Path) -> None:
    folder, measure = sht4x(tmp_path)
    assert not (folder / "heater_enable").exists()
    assert measure() == (13.24, 76.31)


@pytest.mark.parametrize(("text", "humidity_pct"), [("103100\n", 100.0), ("-2100\n", 0.0)])
def test_what_the_sht4x_reports_beyond_its_scale_is_cut_off(
    tmp_path: Path, text: str, humidity_pct: float
) -> None:
    """SHT4x data sheet, conversion: values beyond 0 to 100 %RH may be cropped."""
    folder, measure = sht4x(tmp_path)
    (folder / "humidity1_input").write_text(text)
    assert measure() == (13.24, humidity_pct)
