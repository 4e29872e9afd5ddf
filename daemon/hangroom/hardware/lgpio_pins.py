"""gpiozero on lgpio, with two changes that a relay needs.

gpiozero's own pin is first claimed as an input without pull, then as an output at level 0, and
only then set: an active-low relay closes for a moment at each start. And it goes back to being a
floating input when closed, which leaves a relay board to guess. Here the first claim is already
the output at its off level, in one call to the kernel, and closing only lets go.

Importing this module imports lgpio; `factory.lgpio_factory` checks first that it can be used.
"""

import lgpio
from gpiozero.pins.lgpio import LGPIOFactory, LGPIOPin
from gpiozero.pins.local import LocalPiPin


class RelayPin(LGPIOPin):  # type: ignore[misc]  # gpiozero ships no types
    """An lgpio line that is untouched until it is claimed as an output at a given level.

    lgpio's own error class is turned into OSError, so that callers need not import lgpio.
    """

    def __init__(self, factory: LGPIOFactory, info: object) -> None:
        # Past LGPIOPin's constructor on purpose: that one claims the line as an input.
        LocalPiPin.__init__(self, factory, info)
        self._pwm = None
        self._callback = None

    def output_with_state(self, state: bool) -> None:  # noqa: FBT001 - gpiozero's signature
        """Claim the line as an output that starts at this level. Raises OSError."""
        try:
            lgpio.gpio_claim_output(self.factory._handle, self._number, int(state))  # noqa: SLF001
        except lgpio.error as error:
            raise OSError(f"GPIO {self._number} cannot be claimed: {error}") from error

    def close(self) -> None:
        """Let go of the line; nothing is written, so it keeps its level or falls to its pull."""
        if self.factory._handle is not None:  # noqa: SLF001 - gpiozero's pins do the same
            try:
                lgpio.gpio_free(self.factory._handle, self._number)  # noqa: SLF001
            except lgpio.error as error:
                raise OSError(f"GPIO {self._number} cannot be released: {error}") from error

    def _get_state(self) -> object:
        try:
            return super()._get_state()
        except lgpio.error as error:
            raise OSError(f"GPIO {self._number} cannot be read: {error}") from error

    def _set_function(self, value: str) -> None:
        try:
            super()._set_function(value)
        except lgpio.error as error:
            raise OSError(f"GPIO {self._number} cannot be claimed: {error}") from error

    def _set_pull(self, value: str) -> None:
        try:
            super()._set_pull(value)
        except lgpio.error as error:
            raise OSError(f"GPIO {self._number} cannot be pulled {value}: {error}") from error

    def _set_state(self, value: float) -> None:
        try:
            super()._set_state(value)
        except lgpio.error as error:
            raise OSError(f"GPIO {self._number} cannot be set: {error}") from error


class RelayPinFactory(LGPIOFactory):  # type: ignore[misc]  # gpiozero ships no types
    """gpiozero's lgpio factory, handing out relay pins."""

    def __init__(self, chip: int) -> None:
        super().__init__(chip)
        # gpiozero shares one table between all factories; after a re-start within one process it
        # would hand out pins of a chip that has been closed.
        self.pins: dict[object, RelayPin] = {}
        self.pin_class = RelayPin
