"""The process that reads one DHT22: `python -m hangroom.hardware.dht22_child DRIVER PIN`.

A user-space driver for this sensor can hang for ever, so it runs where it can be killed. Each
line on standard input asks for one measurement; the answer is one line of JSON. The end of the
input ends the process.
"""

import json
import os
import signal
import sys
from collections.abc import Callable
from importlib import import_module
from pkgutil import resolve_name

from hangroom.hardware.clock import SystemClock
from hangroom.hardware.measurement import Fault

# The parent kills a child that does not answer in time. This is for a child whose parent is
# gone: it must not go on holding the pin.
_ORPHAN_ENDS_AFTER_S = 15

ADAFRUIT = "hangroom.hardware.dht22_child:open_adafruit"


def open_adafruit(pin: int) -> Callable[[], tuple[float, float]]:
    """Prepare the library's driver on a GPIO; the result measures (degC, %RH) once per call.

    A measurement that fails raises RuntimeError.
    """
    adafruit_dht = import_module("adafruit_dht")
    gpio = getattr(import_module("board"), f"D{pin}")

    def measure() -> tuple[float, float]:
        # A fresh driver object each time: a used one hands out its previous values, without an
        # error, when it is read within two seconds of a failed measurement. Without pulseio there
        # is no helper program to lose and no signal handler to be replaced.
        sensor = adafruit_dht.DHT22(gpio, use_pulseio=False)
        sensor.measure()
        return sensor.temperature, sensor.humidity

    return measure


def reason_for(error: RuntimeError) -> Fault:
    """Sort the library's errors, which differ only in their text, into reasons."""
    text = str(error).lower()
    if "checksum" in text:
        return Fault.CHECKSUM
    if "unplausible" in text:
        return Fault.OUT_OF_RANGE
    return Fault.NO_ANSWER


def main(driver: str, pin: str) -> int:
    """Answer questions until the input ends."""
    # Ctrl-C in a terminal reaches the whole group; when to end is the parent's to say.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    # Whatever a library prints must not be taken for an answer: it goes to the journal.
    answers = os.fdopen(os.dup(sys.stdout.fileno()), "w", buffering=1)
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())

    def say(answer: dict[str, object]) -> None:
        answers.write(json.dumps(answer) + "\n")

    clock = SystemClock()
    try:
        measure = resolve_name(driver)(int(pin))
    except (ImportError, AttributeError, NotImplementedError, RuntimeError, OSError) as error:
        sys.stderr.write(f"The DHT22 on GPIO {pin} cannot be read: {error}\n")
        return 1
    say({"ready": True})
    for _question in sys.stdin:
        signal.alarm(_ORPHAN_ENDS_AFTER_S)
        try:
            temperature_c, humidity_pct = measure()
        except RuntimeError as error:
            say({"fault": reason_for(error)})
        else:
            say(
                {
                    "temperature_c": temperature_c,
                    "humidity_pct": humidity_pct,
                    "taken_uptime_s": clock.uptime_s(),
                }
            )
        signal.alarm(0)
    return 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
