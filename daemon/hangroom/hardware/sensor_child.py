"""The process that reads one sensor: `python -m hangroom.hardware.sensor_child DRIVER PLACE...`.

A library can hang for ever and a file of the kernel's can block, so both are read where that can
be killed. Each line on standard input asks for one measurement; the answer is one line of JSON. The
end of the input ends the process.
"""

import json
import os
import signal
import sys
from collections.abc import Callable
from pkgutil import resolve_name

from hangroom.hardware.clock import SystemClock
from hangroom.hardware.failed_reads import READ_ERRORS, reason_for

# Measures once per call: degC, %RH. What fails raises one of READ_ERRORS.
Measure = Callable[[], tuple[float, float]]

# The parent kills a child that does not answer in time. This is for a child whose parent is
# gone: it must not go on holding the pin.
_ORPHAN_ENDS_AFTER_S = 15


def main(driver: str, *place: str) -> int:
    """Answer questions until the input ends. `driver`, 'module:function', opens the sensor there.

    `place`: a pin, or a bus and an address, as whole numbers.
    """
    # Ctrl-C in a terminal reaches the whole group; when to end is the parent's to say.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    # Whatever a library prints must not be taken for an answer: it goes to the journal.
    answers = os.fdopen(os.dup(sys.stdout.fileno()), "w", buffering=1)
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())

    def say(answer: dict[str, object]) -> None:
        answers.write(json.dumps(answer) + "\n")

    clock = SystemClock()
    try:
        measure: Measure = resolve_name(driver)(*(int(part) for part in place))
    except (ImportError, AttributeError, NotImplementedError, RuntimeError, OSError) as error:
        where = f"GPIO {place[0]}" if len(place) == 1 else f"I2C bus and address {' '.join(place)}"
        library = isinstance(error, ImportError)
        sys.stderr.write(
            f"The sensor on {where} cannot be read: {error}."
            + (" Install its library (README, Sensors)." if library else "")
            + "\n"
        )
        return 1
    say({"ready": True})
    for _question in sys.stdin:
        signal.alarm(_ORPHAN_ENDS_AFTER_S)
        try:
            temperature_c, humidity_pct = measure()
        except READ_ERRORS as error:
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
