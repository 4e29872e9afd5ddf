"""A relay is only watched until it is proved: everything is decided of it, nothing is switched.

Whoever wires a house for the first time has a plug in the wrong socket or a level the wrong way
round now and then. So a relay stays open until a person has asked for a few seconds of it and has
said that the right thing ran. Being a safety off, it cuts short whatever run is under way.
"""

from collections.abc import Container

from hangroom.control.wish import safe_off
from hangroom.terms import Override, RelayKind

NOT_PROVED = safe_off("not-proved")


def only_watched(
    relay: RelayKind, unproved: Container[RelayKind], override: Override | None
) -> bool:
    """Return whether a relay must stay open; `override`: the one in force, None for none.

    An unproved relay closes for a trial and for nothing else.
    """
    tried = override is not None and override.trial and override.closed
    return relay in unproved and not tried
