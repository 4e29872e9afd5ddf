"""Relays through gpiozero, on a pin factory that is passed in and never the library's default.

A closed contact is a loan with an end. The keeper of the loans, one thread for all relays, opens
every relay whose loan has run out, also when the control loop hangs. What it cannot outlive is
the whole process being stuck; the service manager's watchdog stands behind that.
"""

import logging
import threading
from contextlib import suppress
from typing import Self

from gpiozero import OutputDevice
from gpiozero.exc import GPIOZeroError
from gpiozero.pins import Factory

from hangroom.errors import HardwareError
from hangroom.ports import Clock

# No loan is longer, whatever is asked: a mistake in one addition must not hold a relay for hours.
LONGEST_LOAN_S = 10.0

_KEEPER_LOOKS_EVERY_S = 0.5

_log = logging.getLogger(__name__)


class GpioRelay:
    """One relay on one GPIO, open from the first moment its pin is driven.

    Raises HardwareError where the pin cannot be claimed.
    """

    def __init__(
        self, *, name: str, pin: int, active_high: bool, factory: Factory, clock: Clock
    ) -> None:
        self.name = name
        self.operations = 0  # times closed since the start of this process
        self._clock = clock
        self._lock = threading.Lock()
        self._until_uptime_s: float | None = None  # end of the loan; None while open
        self._failing = False
        try:
            self._device = OutputDevice(
                pin, active_high=active_high, initial_value=False, pin_factory=factory
            )
        except (GPIOZeroError, OSError) as error:
            raise HardwareError(
                f"The relay '{name}' on GPIO {pin} cannot be driven: {error}. If another program "
                "holds the pin, stop it; if it is a second hangroom daemon, one of them must go."
            ) from error

    def hold_closed(self, *, until_uptime_s: float) -> None:
        """Close, and stay closed at most until that moment, in any case at most LONGEST_LOAN_S.

        A moment that has passed opens instead. Raises HardwareError where the pin cannot be set;
        the relay is then opened as far as it still obeys.
        """
        with self._lock:
            if self._device.closed:
                raise HardwareError(
                    f"The relay '{self.name}' has been closed down; start the daemon again."
                )
            now_s = self._clock.uptime_s()
            if not until_uptime_s > now_s:  # also refuses "not a number"
                self._open()
                return
            newly = self._until_uptime_s is None
            # The loan stands before the contact closes: a failure in between is then still ended.
            self._until_uptime_s = min(until_uptime_s, now_s + LONGEST_LOAN_S)
            try:
                self._device.on()
            except (GPIOZeroError, OSError) as error:
                self._open()
                raise HardwareError(
                    f"The relay '{self.name}' cannot be closed: {error}. It is left open; restart "
                    "the daemon, and check the board if this comes back."
                ) from error
            self._failing = False
            self.operations += newly

    def open(self) -> None:
        """Open now. Safe to call twice; never raises: what fails is logged and tried again."""
        with self._lock:
            self._open()

    def is_closed(self) -> bool:
        """Whether the contact is commanded closed, or could not be opened."""
        return self._until_uptime_s is not None

    def open_if_lapsed(self) -> None:
        """Open if the loan has run out, or if an earlier opening failed. Never raises."""
        with self._lock:
            due_s = self._until_uptime_s
            if due_s is not None and (self._failing or not due_s > self._clock.uptime_s()):
                self._open()

    def close_down(self) -> None:
        """Open, let go of the pin. Safe to call twice; never raises."""
        with self._lock:
            if not self._device.closed:
                self._open()
                with suppress(GPIOZeroError, OSError):
                    self._device.close()

    def _open(self) -> None:
        if self._device.closed:
            return
        try:
            self._device.off()
        except (GPIOZeroError, OSError) as error:
            if not self._failing:
                _log.error("relay %s cannot be opened: %s; trying on", self.name, error)
            self._failing = True
        else:
            self._failing = False
            self._until_uptime_s = None


class LoanKeeper:
    """Opens relays whose loan has run out, from a thread of its own. Use as a context manager.

    Leaving the context opens every relay and lets go of the pins.
    """

    def __init__(self, relays: list[GpioRelay]) -> None:
        self._relays = relays
        self._ending = threading.Event()
        self._thread = threading.Thread(target=self._keep, name="loan keeper", daemon=True)

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_exception: object) -> None:
        self._ending.set()
        for relay in self._relays:
            relay.close_down()
        self._thread.join()

    def _keep(self) -> None:
        while not self._ending.wait(_KEEPER_LOOKS_EVERY_S):
            for relay in self._relays:
                relay.open_if_lapsed()
