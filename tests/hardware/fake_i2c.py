"""An I2C bus and the sensors on it, byte by byte, for the real drivers to talk to."""

import errno
import os
from typing import Any

# Sensirion's data sheets (SHT3x-DIS, SHT4x), checksum calculation: CRC-8, polynomial 0x31,
# initialisation 0xFF, no final XOR; their example, 0xBEEF gives 0x92, is checked in the tests.
SHT_POLYNOMIAL, SHT_START = 0x31, 0xFF


def crc8(data: bytes) -> int:
    """Divide bit by bit, as one would on paper."""
    remainder = SHT_START
    for bit in (byte >> place & 1 for byte in data for place in range(7, -1, -1)):
        overflow = (remainder >> 7) ^ bit
        remainder = (remainder << 1 & 0xFF) ^ (SHT_POLYNOMIAL if overflow else 0)
    return remainder


def sht_frame(temperature: int, humidity: int) -> bytes:
    """Two words with a checksum each, as both families send them."""
    words = (word.to_bytes(2, "big") for word in (temperature, humidity))
    return b"".join(word + bytes([crc8(word)]) for word in words)


class FakeSht31:
    """Commands of two bytes (SHT3x-DIS data sheet, tables 9 to 17); gives the frames in turn."""

    def __init__(self, *frames: bytes) -> None:
        self.frames = list(frames)
        self.status = 0x0000
        self.commands: list[int] = []

    def write(self, data: bytes) -> None:
        if data:
            self.commands.append(int.from_bytes(data, "big"))

    def read(self, count: int) -> bytes:
        if self.commands[-1:] == [0xF32D]:
            word = self.status.to_bytes(2, "big")
            return (word + bytes([crc8(word)]))[:count]
        return (self.frames.pop(0) if len(self.frames) > 1 else self.frames[0])[:count]


class FakeSht45(FakeSht31):
    """Commands of one byte (SHT4x data sheet, table 8)."""


class FakeBme280:
    """Registers (BME280 data sheet, section 5.3); `samples` are measured in turn.

    The factory figures for temperature are those of the worked example in Bosch's BMP280 data
    sheet, section 3.12; those for humidity are invented.
    """

    T1, T2, T3 = 27504, 26435, -1000
    H1, H2, H3, H4, H5, H6 = 75, 362, 0, 311, 50, 30

    def __init__(self, *samples: tuple[int, int]) -> None:
        self.samples = list(samples)
        self.registers = bytearray(256)
        self.at = 0
        self.measured = 0
        self.registers[0xD0] = 0x60
        self.registers[0x88:0x8E] = b"".join(
            value.to_bytes(2, "little", signed=value < 0) for value in (self.T1, self.T2, self.T3)
        )
        self.registers[0xA1] = self.H1
        self.registers[0xE1:0xE3] = self.H2.to_bytes(2, "little")
        self.registers[0xE3] = self.H3
        self.registers[0xE4] = self.H4 >> 4
        self.registers[0xE5] = (self.H5 & 0xF) << 4 | self.H4 & 0xF
        self.registers[0xE6] = self.H5 >> 4
        self.registers[0xE7] = self.H6
        self._reset()

    def _reset(self) -> None:
        self.registers[0xF7:0xFF] = bytes.fromhex("8000008000008000")

    def write(self, data: bytes) -> None:
        if len(data) == 1:
            self.at = data[0]
        elif data:
            self.registers[data[0]] = data[1]
            if data == b"\xe0\xb6":
                self._reset()
            if data[0] == 0xF4 and data[1] & 3 == 1:
                self.measured += 1
                sample = self.samples.pop(0) if len(self.samples) > 1 else self.samples[0]
                self.registers[0xFA:0xFD] = (sample[0] << 4).to_bytes(3, "big")
                self.registers[0xFD:0xFF] = sample[1].to_bytes(2, "big")

    def read(self, count: int) -> bytes:
        return bytes(self.registers[self.at : self.at + count])


class FakeBus:
    """A bus with at most one device; `fails` with that errno, `short` by so many bytes."""

    def __init__(self, address: int = 0x44, device: object = None) -> None:
        self.address = address
        self.device: Any = device  # one of those above; the tests reach into it
        self.fails = 0
        self.short = 0
        self.stuck_at: int | None = None  # every byte reads as this
        self._locked = False

    def try_lock(self) -> bool:
        free, self._locked = not self._locked, True
        return free

    def unlock(self) -> None:
        self._locked = False

    def writeto(self, address: int, data: bytes, *, start: int = 0, end: int | None = None) -> None:
        self._answering(address).write(bytes(data[start:end]))

    def readfrom_into(
        self, address: int, data: bytearray, *, start: int = 0, end: int | None = None
    ) -> None:
        end = len(data) if end is None else end
        got = self._answering(address).read(end - start)
        if self.stuck_at is not None:
            got = bytes([self.stuck_at]) * (end - start)
        got = got[: len(got) - self.short]
        for place in range(end - start):
            data[start + place] = got[place]

    def _answering(self, address: int) -> Any:  # noqa: ANN401 - one of those above
        if self.fails:
            raise OSError(self.fails, os.strerror(self.fails))
        if self.device is None or address != self.address:
            raise OSError(errno.EREMOTEIO, os.strerror(errno.EREMOTEIO))
        return self.device
