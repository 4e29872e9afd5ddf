"""Everything that can go wrong in a way the keeper can mend.

One root, few leaves. Each message says what happened, what it means and what to do. A mistake
in the program itself stays a plain Python error and is allowed to end the process: the relays
open on the way out and the service manager starts it again.
"""


class HangroomError(Exception):
    """Something the keeper can act on; the message says what to do."""


class SettingsError(HangroomError):
    """The settings cannot be used; `faults` lists every one found, each with its remedy."""

    def __init__(self, faults: list[str]) -> None:
        super().__init__("\n".join(faults))
        self.faults = faults


class InputError(HangroomError):
    """What was typed or handed in cannot be used as it stands; nothing was stored."""


class StoreError(HangroomError):
    """The database cannot be read or written; control goes on without it."""


class HardwareError(HangroomError):
    """A pin, a bus or a library for them cannot be used; no relay is driven."""
