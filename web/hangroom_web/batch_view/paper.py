"""The sheet of paper that a record is printed on, as CSS. Pure."""

from collections.abc import Mapping
from types import MappingProxyType

from hangroom_web.words import _

# CSS Paged Media's names of the sizes, and what the page calls them.
PAPERS: Mapping[str, str] = MappingProxyType({"A4": "A4", "letter": _("Letter")})

PLAIN_SIGNS = frozenset(" .,:()-")


def paper_asked(query: Mapping[str, str]) -> str:
    """Return the size that a page was asked for, the first one where none is known."""
    asked = query.get("paper", "")
    return asked if asked in PAPERS else next(iter(PAPERS))


def page_rules(paper: str, *, top_left: str, top_right: str, bottom_left: str) -> str:
    """Return the rules for a page: its size, and what every sheet bears in its margins."""
    boxes = {
        "top-left": css_string(top_left),
        "top-right": css_string(top_right),
        "bottom-left": css_string(bottom_left),
        "bottom-right": "counter(page) ' / ' counter(pages)",
    }
    inside = "\n".join(
        f"@{box} {{ content: {content}; font: 8pt system-ui, sans-serif; color: #000; }}"
        for box, content in boxes.items()
    )
    return f"@page {{ size: {paper}; margin: 20mm 15mm 18mm;\n{inside}\n}}\n"


def css_string(words: str) -> str:
    """Return words as a CSS string; all but plain letters, digits and signs by their number."""
    return '"{}"'.format(
        "".join(
            letter
            if letter.isascii() and (letter.isalnum() or letter in PLAIN_SIGNS)
            else f"\\{ord(letter):x} "
            for letter in words
        )
    )
