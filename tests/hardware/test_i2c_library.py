"""SHT31, SHT45 and BME280 through their real drivers, on a bus of recorded and broken bytes."""

import errno
from collections.abc import Callable
from pathlib import Path

import adafruit_sht4x
import adafruit_sht31d
import pytest
from hardware.fake_i2c import FakeBme280, FakeBus, FakeSht31, FakeSht45, crc8, sht_frame
from hardware.sensing import IMPATIENT, QUICK, Open, failed_by, wait_for

from hangroom.hardware import i2c_library
from hangroom.hardware.failed_reads import READ_ERRORS, reason_for
from hangroom.hardware.measurement import Fault
from hangroom.hardware.sensor_child import Measure

# Words as the sensors send them. Data sheets: T = -45 + 175 S / (2^16 - 1) for both families,
# RH = 100 S / (2^16 - 1) for the SHT3x and -6 + 125 S / (2^16 - 1) for the SHT4x.
TEMPERATURE_WORD = 21720
SHT31_HUMIDITY_WORD, SHT45_HUMIDITY_WORD = 50003, 43150
FRAME_31 = sht_frame(TEMPERATURE_WORD, SHT31_HUMIDITY_WORD)
FRAME_45 = sht_frame(TEMPERATURE_WORD, SHT45_HUMIDITY_WORD)
SAMPLE = (519888, 26500)


def sht31() -> tuple[FakeBus, Measure]:
    bus = FakeBus(0x44, FakeSht31(FRAME_31))
    return bus, i2c_library.open_sht31(1, 0x44, lambda _number: bus)


def sht45() -> tuple[FakeBus, Measure]:
    bus = FakeBus(0x44, FakeSht45(FRAME_45))
    return bus, i2c_library.open_sht45(1, 0x44, lambda _number: bus)


def bme280(*samples: tuple[int, int]) -> tuple[FakeBus, Measure]:
    bus = FakeBus(0x76, FakeBme280(*(samples or (SAMPLE,))))
    return bus, i2c_library.open_bme280(1, 0x76, lambda _number: bus)


EVERY = [sht31, sht45, bme280]
Make = Callable[[], tuple[FakeBus, Measure]]


def fault_of(measure: Measure) -> Fault:
    with pytest.raises(READ_ERRORS) as caught:
        measure()
    return reason_for(caught.value)


def test_the_data_sheets_own_checksum() -> None:
    """SHT3x-DIS data sheet, section 4.12, and SHT4x data sheet, section 4.4: 0xBEEF gives 0x92."""
    assert crc8(b"\xbe\xef") == 0x92
    assert adafruit_sht31d._crc(b"\xbe\xef") == 0x92  # what the drivers go by
    assert adafruit_sht4x.SHT4x._crc8(b"\xbe\xef") == 0x92


def test_an_sht31_reads_as_its_data_sheet_says() -> None:
    _, measure = sht31()
    assert measure() == pytest.approx((-45 + 175 * 21720 / 65535, 100 * 50003 / 65535))


def test_an_sht45_reads_as_its_data_sheet_says() -> None:
    _, measure = sht45()
    assert measure() == pytest.approx((-45 + 175 * 21720 / 65535, -6 + 125 * 43150 / 65535))


def humidity_by_the_data_sheet(adc: int, t_fine: int) -> float:
    """BME280 data sheet, section 4.2.3: the compensation in 32-bit integers, Q22.10 %RH."""
    one = FakeBme280
    v = t_fine - 76800
    v = (((adc << 14) - (one.H4 << 20) - (one.H5 * v) + 16384) >> 15) * (
        (
            (((((v * one.H6) >> 10) * (((v * one.H3) >> 11) + 32768)) >> 10) + 2097152) * one.H2
            + 8192
        )
        >> 14
    )
    v -= ((((v >> 15) * (v >> 15)) >> 7) * one.H1) >> 4
    return (min(max(v, 0), 419430400) >> 12) / 1024


def test_a_bme280_reads_as_the_data_sheets_say() -> None:
    """BMP280 data sheet, section 3.12, worked example: 519888 is 25.08 degC, t_fine 128422."""
    _, measure = bme280()
    temperature_c, humidity_pct = measure()
    assert round(temperature_c, 2) == 25.08
    assert 20 < humidity_pct < 90
    assert humidity_pct == pytest.approx(humidity_by_the_data_sheet(SAMPLE[1], 128422), abs=0.05)


@pytest.mark.parametrize("place", range(48))
@pytest.mark.parametrize("make", [sht31, sht45])
def test_no_frame_with_a_flipped_bit_is_believed(make: Make, place: int) -> None:
    bus, measure = make()
    measure()
    frame = int.from_bytes(bus.device.frames[0], "big") ^ 1 << place
    bus.device.frames = [frame.to_bytes(6, "big")]
    assert fault_of(measure) is Fault.CHECKSUM


@pytest.mark.parametrize("stuck_at", [0x00, 0xFF])
@pytest.mark.parametrize("make", [sht31, sht45])
def test_a_line_that_is_held_makes_no_frame_of_an_sht(make: Make, stuck_at: int) -> None:
    """All zeros and all ones have wrong checksums; an SHT31's status is looked at before."""
    bus, measure = make()
    measure()
    bus.stuck_at = stuck_at
    in_status = make is sht31 and stuck_at == 0xFF
    assert fault_of(measure) is (Fault.ALL_ONES if in_status else Fault.CHECKSUM)


def test_a_line_held_low_is_no_value_of_a_bme280() -> None:
    bus, measure = bme280()
    measure()
    bus.stuck_at = 0x00
    assert fault_of(measure) is Fault.ALL_ZERO
    assert fault_of(measure) is Fault.WRONG_CHIP  # as it is now set up anew


@pytest.mark.parametrize(
    ("raw", "fault"),
    [
        (bytes(8), Fault.ALL_ZERO),
        (b"\xff" * 8, Fault.ALL_ONES),
        (bytes.fromhex("5555558000006784"), Fault.NOT_MEASURED),  # section 5.4.7: 0x80000
        (bytes.fromhex("5555557eed008000"), Fault.NOT_MEASURED),  # section 5.4.8: 0x8000
    ],
)
def test_registers_of_a_bme280_that_nothing_was_measured_into(raw: bytes, fault: Fault) -> None:
    with pytest.raises(READ_ERRORS) as caught:
        i2c_library._check_raw(raw)
    assert reason_for(caught.value) is fault


def test_a_bme280_whose_humidity_is_left_out_is_not_measured() -> None:
    bus, measure = bme280()
    measure()
    bus.device.samples = [(519888, 0x8000)]
    assert fault_of(measure) is Fault.NOT_MEASURED


def test_the_first_sample_of_a_bme280_is_thrown_away() -> None:
    _, measure = bme280((0x80000, 0x8000), (0x80000, 0x8000), SAMPLE)
    assert round(measure()[0], 2) == 25.08


def test_a_bme280_whose_factory_figures_came_over_wrong_is_not_gone_by() -> None:
    """They have no checksum, are read once, and bend every value from then on."""
    bus, measure = bme280()

    class OneBitWrongOnce(FakeBme280):
        wrong = True

        def read(self, count: int) -> bytes:
            got = super().read(count)
            if self.at == 0x88 and self.wrong:
                self.wrong = False
                return bytes([got[0], got[1] ^ 0x04]) + got[2:]
            return got

    bus.device = OneBitWrongOnce(SAMPLE)
    assert fault_of(measure) is Fault.DISAGREES
    assert round(measure()[0], 2) == 25.08


def test_a_bmp280_in_its_place_is_another_chip() -> None:
    """BMP280 data sheet, register id: 0x58; it measures no humidity."""
    bus, measure = bme280()
    bus.device.registers[0xD0] = 0x58
    assert fault_of(measure) is Fault.WRONG_CHIP


def test_an_sht31_that_heats_itself_is_not_gone_by_and_is_reset() -> None:
    """SHT3x-DIS data sheet, status register: bit 13, heater on; soft reset 0x30A2 ends it."""
    bus, measure = sht31()
    measure()
    bus.device.status = 0x2000
    assert fault_of(measure) is Fault.HEATER_ON
    bus.device.status = 0x0010  # reset detected
    bus.device.commands.clear()
    measure()
    assert 0x30A2 in bus.device.commands


@pytest.mark.parametrize(
    ("number", "fault"),
    [
        (errno.EREMOTEIO, Fault.NO_ANSWER),
        (errno.ENXIO, Fault.NO_ANSWER),
        (errno.ETIMEDOUT, Fault.BUS_STUCK),
        (errno.EAGAIN, Fault.BUS_STUCK),
        (errno.EBUSY, Fault.IN_USE),
        (errno.EIO, Fault.BAD_TRANSFER),
    ],
)
@pytest.mark.parametrize("make", EVERY)
def test_the_buss_errors_have_names_and_it_recovers(make: Make, number: int, fault: Fault) -> None:
    bus, measure = make()
    before = measure()
    bus.fails = number
    assert fault_of(measure) is fault
    bus.fails = 0
    assert measure() == before


@pytest.mark.parametrize(
    ("number", "fault"),
    [
        (errno.EREMOTEIO, Fault.NO_ANSWER),
        (errno.ETIMEDOUT, Fault.BUS_STUCK),
        (errno.EBUSY, Fault.IN_USE),  # the kernel's driver holds the address
    ],
)
@pytest.mark.parametrize("make", EVERY)
def test_the_same_at_the_very_first_read(make: Make, number: int, fault: Fault) -> None:
    bus, measure = make()
    bus.fails = number
    assert fault_of(measure) is fault


@pytest.mark.parametrize("make", EVERY)
def test_unplugged_it_is_silent_and_back_again_it_speaks(make: Make) -> None:
    bus, measure = make()
    before = measure()
    device, bus.device = bus.device, None
    assert [fault_of(measure) for _ in range(3)] == [Fault.NO_ANSWER] * 3
    bus.device = device
    assert measure() == before


def test_a_sensor_that_stays_away_opens_no_bus_for_each_try() -> None:
    """A night of tries must not use up the files that a process may have open."""
    opened: list[FakeBus] = []

    def open_bus(_number: int) -> FakeBus:
        opened.append(FakeBus())
        return opened[-1]

    measure = i2c_library.open_sht31(1, 0x44, open_bus)
    assert [fault_of(measure) for _ in range(50)] == [Fault.NO_ANSWER] * 50
    assert len(opened) == 1
    opened[0].fails = errno.ENODEV  # now the bus itself has gone
    assert fault_of(measure) is Fault.NOT_FOUND
    assert fault_of(measure) is Fault.NO_ANSWER
    assert len(opened) == 2


@pytest.mark.parametrize("make", EVERY)
def test_half_a_frame(make: Make) -> None:
    bus, measure = make()
    measure()
    bus.short = 1
    assert fault_of(measure) is Fault.HALF_FRAME


def test_a_bus_that_the_machine_does_not_have() -> None:
    """On a Pi: I2C is not switched on."""
    assert not Path("/dev/i2c-99").exists()
    assert fault_of(i2c_library.open_sht31(99, 0x44)) is Fault.NOT_FOUND


def test_the_real_bus_fits_what_the_drivers_ask_for(monkeypatch: pytest.MonkeyPatch) -> None:
    """Blinka's own bus class, with bytes in place of /dev/i2c-1."""
    sent: list[tuple[int, bytes]] = []

    class Wire:
        def __init__(self, number: int) -> None:
            assert number == 1

        def write_bytes(self, address: int, data: bytes) -> None:
            sent.append((address, bytes(data)))

        def read_bytes(self, address: int, count: int) -> bytes:
            assert address == 0x44
            return FRAME_45[:count]

    monkeypatch.setattr("Adafruit_PureIO.smbus.SMBus", Wire)
    measure = i2c_library.open_sht45(1, 0x44)
    assert measure()[0] == pytest.approx(-45 + 175 * 21720 / 65535)
    assert sent[-1] == (0x44, b"\xfd")  # SHT4x data sheet: high precision, no heater


@pytest.mark.parametrize(
    ("driver", "kind", "reason"),
    [
        ("sht31_on_a_bus", "sht31", ""),
        ("bme280_always_busy", "bme280", "timeout"),
        ("sht31_on_a_locked_bus", "sht31", "timeout"),
    ],
)
def test_a_driver_that_waits_for_ever_costs_a_child_and_nothing_else(
    open_sensor: Open, driver: str, kind: str, reason: str
) -> None:
    """The BME280's driver waits for its status, every driver for the bus, without an end."""
    sensor = open_sensor(driver, IMPATIENT if reason else QUICK, kind=kind)
    if not reason:
        wait_for(lambda: sensor.latest() is not None)
        return
    wait_for(lambda: sensor.faults()[reason] >= 1)
    assert sensor.latest() is None
    assert failed_by(sensor) == {reason}
