"""What one part of control would like a relay to do, before interlocks and guards are asked."""

from dataclasses import dataclass

from hangroom.terms import Because


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """A wanted position with its reason; `safety` marks an off that may break a minimum run."""

    closed: bool
    because: Because
    safety: bool = False


def on(code: str, **figures: float) -> Wish:
    """Return the wish to close, with a code of `hangroom.reasons` and its figures."""
    return Wish(closed=True, because=Because(code, figures))


def off(code: str, **figures: float) -> Wish:
    """Return the wish to open; a minimum run may still hold it back."""
    return Wish(closed=False, because=Because(code, figures))


def safe_off(code: str, **figures: float) -> Wish:
    """Return the wish to open that nothing may hold back."""
    return Wish(closed=False, because=Because(code, figures), safety=True)


def blind_off(because: Because) -> Wish:
    """Return the off of a relay whose air is not known, for the reason it is not."""
    return Wish(closed=False, because=because, safety=True)
