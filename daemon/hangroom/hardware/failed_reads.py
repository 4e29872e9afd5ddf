"""Why a sensor could not be read, from what the libraries and the kernel say of it."""

import errno

from hangroom.hardware.measurement import Fault

# What reading may raise; anything else is a mistake in a program, and ends the child.
# ValueError: the bus library's word for nobody at that address. IndexError: from a bus that gave
# fewer bytes than were asked for. ArithmeticError: from factory figures that cannot be.
READ_ERRORS = (RuntimeError, OSError, ValueError, IndexError, ArithmeticError)


class FailedReadError(RuntimeError):
    """A measurement failed, and its driver knows why."""

    def __init__(self, fault: Fault) -> None:
        super().__init__(str(fault))
        self.fault = fault


# The libraries' errors differ only in their text. Looked for in this order.
_TEXTS = (
    ("checksum", Fault.CHECKSUM),
    ("crc", Fault.CHECKSUM),
    ("unplausible", Fault.OUT_OF_RANGE),
    ("chip id", Fault.WRONG_CHIP),
    ("i2c bus", Fault.NOT_FOUND),
)

# As the kernel's drivers of the two bus controllers use them (i2c-bcm2835 and i2c-designware):
# EREMOTEIO or ENXIO for an address that nobody acknowledges, ETIMEDOUT for a line that is held.
_ERRNOS = {
    errno.ENXIO: Fault.NO_ANSWER,
    errno.EREMOTEIO: Fault.NO_ANSWER,
    errno.ETIMEDOUT: Fault.BUS_STUCK,
    errno.EAGAIN: Fault.BUS_STUCK,
    errno.EBUSY: Fault.IN_USE,
    errno.EACCES: Fault.NOT_ALLOWED,
    errno.EPERM: Fault.NOT_ALLOWED,
    errno.ENOENT: Fault.NOT_FOUND,
    errno.ENODEV: Fault.NOT_FOUND,
    errno.ENODATA: Fault.HALF_FRAME,
}


def reason_for(error: Exception) -> Fault:
    """Sort one of READ_ERRORS into reasons."""
    match error:
        case FailedReadError():
            return error.fault
        case OSError():
            return _ERRNOS.get(error.errno or 0, Fault.BAD_TRANSFER)
        # The bus library's "no device at address" hides what the kernel said: a held line, perhaps.
        case ValueError(__context__=OSError(errno=int() as number)) if number in _ERRNOS:
            return _ERRNOS[number]
        case IndexError():
            return Fault.HALF_FRAME
        case ArithmeticError():
            return Fault.OUT_OF_RANGE
    text = str(error).lower()
    return next((fault for part, fault in _TEXTS if part in text), Fault.NO_ANSWER)
