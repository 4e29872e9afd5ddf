"""Every string a person reads passes through `_`, so that a translation has one door to come in."""


def _(text: str) -> str:
    """Return the text in the keeper's language; English is the only one so far."""
    return text


def sentence(text: str) -> str:
    """Return the text with a capital in front, and all else as it is."""
    return text[:1].upper() + text[1:]


def in_a_sentence(text: str) -> str:
    """Return the text with a small letter in front, and all else as it is."""
    return text[:1].lower() + text[1:]
