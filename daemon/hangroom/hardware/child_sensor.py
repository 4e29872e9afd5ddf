"""An air sensor of any kind: a thread here asks, a child process there reads pin, bus or file."""

import logging
import threading
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import timedelta

from hangroom.hardware.child import Child, EndedError, SilentError
from hangroom.hardware.measurement import PARENTS_OWN, Fault, Measurement, understand
from hangroom.ports import Clock
from hangroom.sensor_kinds import SensorKind
from hangroom.terms import AirReading

_log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pace:
    """How often a sensor is read and how long anything may take, in seconds.

    `rest_s`: the shortest pause between two reads. After it one failed read is tried again; if that
    fails too, it is read as often as ever.
    """

    read_every_s: float = 6.0
    rest_s: float = 2.1
    answer_within_s: float = 5.0
    start_within_s: float = 30.0
    longest_back_off_s: float = 60.0


class ChildSensor:
    """One sensor at one place. Reading starts at once, in the background.

    `driver` names, as "module:function", what the child opens it with; `place` is what that is
    given: a pin (BCM number), or an I2C bus and an address.
    """

    def __init__(
        self,
        *,
        name: str,
        kind: SensorKind,
        driver: str,
        place: tuple[int, ...],
        clock: Clock,
        pace: Pace | None = None,
    ) -> None:
        self._name = name
        self._kind = kind
        self._arguments = (driver, *map(str, place))
        self._clock = clock
        self._pace = pace or Pace()
        self._latest: AirReading | None = None
        # Every reason from the start, so that the mapping never changes size under a reader.
        self._faults = {str(reason): 0 for reason in Fault}
        self._ending = threading.Event()
        self._child: Child | None = None
        self._stuck: Child | None = None
        self._child_lock = threading.Lock()
        self._thread = threading.Thread(
            target=self._keep_reading, name=f"sensor {name}", daemon=True
        )
        self._thread.start()

    @property
    def name(self) -> str:
        """The keeper's name for it."""
        return self._name

    def latest(self) -> AirReading | None:
        """The newest successful measurement, or None while there has been none."""
        return self._latest

    def faults(self) -> Mapping[str, int]:
        """How many measurements failed so far, by reason."""
        return dict(self._faults)

    def close(self) -> None:
        """Stop reading and end the child, whatever it is doing. Safe to call twice."""
        self._ending.set()
        with self._child_lock:
            if self._child is not None:
                self._child.kill()
        self._thread.join()

    def _keep_reading(self) -> None:
        pace = self._pace
        every_s = max(pace.read_every_s, pace.rest_s)
        back_off_s = every_s
        failed = False
        while not self._ending.is_set():
            outcome = self._measure()
            pause_s = every_s
            if isinstance(outcome, Measurement):
                self._latest = self._stamp(outcome)
                back_off_s = every_s
                failed = False
            else:
                self._faults[outcome] += 1
                if self._child is None:
                    pause_s = back_off_s
                    back_off_s = min(2 * back_off_s, pace.longest_back_off_s)
                elif not failed:
                    pause_s = pace.rest_s
                failed = True
            self._ending.wait(pause_s)
        self._drop_child()

    def _measure(self) -> Measurement | Fault:
        """Ask the child once. One that hangs, dies or lies is killed; the next call starts anew."""
        outcome: Measurement | Fault
        try:
            child = self._child or self._start_child()
            asked_uptime_s = self._clock.uptime_s()
            answer = child.ask(self._pace.answer_within_s)
            outcome = understand(
                answer,
                self._kind,
                asked_uptime_s=asked_uptime_s,
                answered_uptime_s=self._clock.uptime_s(),
            )
        except SilentError:
            outcome = Fault.TIMEOUT
        except (EndedError, OSError):  # OSError: no child could be started
            outcome = Fault.CHILD_DIED
        if outcome in PARENTS_OWN:
            self._drop_child()
            if not self._ending.is_set():
                _log.warning("sensor %s: child process ended, reason %s", self._name, outcome)
        return outcome

    def _start_child(self) -> Child:
        with self._child_lock:
            if self._ending.is_set():
                raise EndedError
            # One that is stuck inside the kernel outlives its killing; a second would join it.
            if self._stuck is not None and not self._stuck.has_ended():
                raise SilentError
            self._child = Child("hangroom.hardware.sensor_child", *self._arguments)
        self._child.listen(self._pace.start_within_s)
        return self._child

    def _drop_child(self) -> None:
        with self._child_lock:
            if self._child is not None:
                self._child.close()
                self._stuck = None if self._child.has_ended() else self._child
                self._child = None

    def _stamp(self, measured: Measurement) -> AirReading:
        age = timedelta(seconds=self._clock.uptime_s() - measured.taken_uptime_s)
        return AirReading(
            taken_at=self._clock.now() - age,
            taken_uptime_s=measured.taken_uptime_s,
            temperature_c=measured.temperature_c,
            humidity_pct=measured.humidity_pct,
        )
