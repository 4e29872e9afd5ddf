"""Buzzer, lamp and acknowledge button through gpiozero, in a thread of their own.

The button is looked at and not listened to: the library's callbacks come from a thread of lgpio's,
one more that can hang, and a contact that is read 25 times a second misses no hand. It is read that
often only while something rings, for only then is there anything to acknowledge. Whatever fails
here is said and tried again; it reaches neither the loop nor a relay.
"""

import logging
import threading
from collections.abc import Mapping
from contextlib import suppress
from typing import Self

from gpiozero import InputDevice, OutputDevice
from gpiozero.exc import GPIOZeroError
from gpiozero.pins import Factory

from hangroom.alarm_table.ringing import BUZZER_BEATS, LAMP_BEATS, Beat, Ring
from hangroom.control.alarms.annunciation import Button, button_seen
from hangroom.errors import HardwareError
from hangroom.ports import Clock
from hangroom.terms import Wiring

LOOKS_EVERY_S = 0.04
RESTS_FOR_S = 1.0  # between two looks while it is silent; they tell a button that is stuck

_log = logging.getLogger(__name__)


class GpioBell:
    """The bell on its pins, silent from the first moment. Use as a context manager.

    `button` is the BCM number of a contact to ground. Raises HardwareError where a pin cannot be
    claimed; what was claimed is let go.
    """

    def __init__(
        self,
        *,
        buzzer: Wiring | None,
        lamp: Wiring | None,
        button: int | None,
        factory: Factory,
        clock: Clock,
    ) -> None:
        self._clock = clock
        self._lock = threading.Lock()
        self._ring, self._began_s, self._until_s = Ring.NOTHING, 0.0, 0.0
        self._presses = 0
        self._fault = ""
        self._outputs: list[tuple[OutputDevice, Mapping[Ring, Beat]]] = []
        self._contact: InputDevice | None = None
        self._button = Button(since_uptime_s=clock.uptime_s())
        self._ending = False
        self._wake = threading.Event()
        self._thread = threading.Thread(target=self._run, name="bell", daemon=True)
        try:
            for wiring, beats in ((buzzer, BUZZER_BEATS), (lamp, LAMP_BEATS)):
                if wiring is not None:
                    self._outputs.append((_output(wiring, factory), beats))
            if button is not None:
                self._contact = InputDevice(button, pull_up=True, pin_factory=factory)
        except (GPIOZeroError, OSError) as error:
            self._let_go()
            raise HardwareError(
                f"The bell cannot be driven: {error}. If another program holds one of its pins, "
                "stop it. Rooms and alarms go on without it."
            ) from error

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_exception: object) -> None:
        self.close_down()

    def ring(self, ring: Ring, *, until_uptime_s: float) -> None:
        """Ring like that until that moment at most. Never raises."""
        with self._lock:
            if ring is not self._ring:
                now_s = self._clock.uptime_s()
                if self._ring is Ring.NOTHING:
                    # A hand that is on the button already cannot have heard it.
                    self._button = Button(since_uptime_s=now_s)
                self._ring, self._began_s = ring, now_s
                self._wake.set()
            self._until_s = until_uptime_s

    def take_presses(self) -> int:
        """Return how often the button was pressed since this was last asked."""
        with self._lock:
            presses, self._presses = self._presses, 0
        return presses

    def fault(self) -> str:
        """Return what is wrong with it, in words; '' for nothing."""
        if self._thread.ident is not None and not self._thread.is_alive() and not self._ending:
            return "It has failed for good, so no alarm is heard; see the log. Restart the daemon."
        if self._contact is not None and self._button.is_stuck(uptime_s=self._clock.uptime_s()):
            return (
                "The button has been down for a while, so it acknowledges nothing. Free it, or "
                "check its wire to ground."
            )
        return self._fault

    def close_down(self) -> None:
        """Fall silent and let go of the pins. Safe to call twice; never raises."""
        self._ending = True
        self._wake.set()
        if self._thread.is_alive():
            self._thread.join()
        self._let_go()

    def _run(self) -> None:
        try:
            while not self._ending:
                self._wake.wait(RESTS_FOR_S if self._ring is Ring.NOTHING else LOOKS_EVERY_S)
                self._wake.clear()
                self.look()
        finally:
            # Whatever ends it: nobody is left to end a ring.
            self._fall_silent()

    def look(self) -> None:
        """Do one round: sound what is due, look at the button. Never raises."""
        uptime_s = self._clock.uptime_s()
        with self._lock:
            ring = self._ring if uptime_s < self._until_s else Ring.NOTHING
            began_s = self._began_s
        faults = []
        for device, beats in self._outputs:
            try:
                _set(device, on=_is_on(beats.get(ring), uptime_s - began_s))
            except (GPIOZeroError, OSError) as error:
                faults.append(str(error))
        try:
            self._look_at_the_button(uptime_s)
        except (GPIOZeroError, OSError) as error:
            faults.append(str(error))
        self._say("; ".join(faults))

    def _look_at_the_button(self, uptime_s: float) -> None:
        if self._contact is None:
            return
        contact = bool(self._contact.is_active)
        with self._lock:
            self._button, pressed = button_seen(self._button, contact=contact, uptime_s=uptime_s)
            self._presses += pressed

    def _say(self, fault: str) -> None:
        if fault and not self._fault:
            _log.error("the bell fails: %s; trying on", fault)
        self._fault = fault and (
            f"It fails ({fault}), so an alarm may not be heard. Check its wires, then restart "
            "the daemon."
        )

    def _fall_silent(self) -> None:
        for device, _beats in self._outputs:
            if not device.closed:
                with suppress(GPIOZeroError, OSError):
                    device.off()

    def _let_go(self) -> None:
        self._fall_silent()
        for device, _beats in self._outputs:
            if not device.closed:
                with suppress(GPIOZeroError, OSError):
                    device.close()
        if self._contact is not None:
            with suppress(GPIOZeroError, OSError):
                self._contact.close()


class NoBell:
    """Stands in where the bell cannot be had: the rooms go on, and Setup says why."""

    def __init__(self, why: str) -> None:
        self._why = why

    def ring(self, ring: Ring, *, until_uptime_s: float) -> None:
        """Do nothing."""

    def take_presses(self) -> int:
        """Return that nobody pressed."""
        return 0

    def fault(self) -> str:
        """Return why there is no bell."""
        return self._why

    def close_down(self) -> None:
        """Do nothing."""


def _output(wiring: Wiring, factory: Factory) -> OutputDevice:
    return OutputDevice(
        wiring.pin, active_high=wiring.active_high, initial_value=False, pin_factory=factory
    )


def _is_on(beat: Beat | None, since_s: float) -> bool:
    return beat is not None and beat.is_on(since_s)


def _set(device: OutputDevice, *, on: bool) -> None:
    if bool(device.value) != on:
        (device.on if on else device.off)()
