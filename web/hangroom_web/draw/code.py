"""A QR code for a stick's label, as an SVG. Pure.

In capital letters an address fits the code's alphanumeric mode (ISO/IEC 18004, 7.3.4), which makes
it smaller, so its squares are larger. Level Q restores a quarter of it, for wet and floury cards.
"""

from urllib.parse import quote

from markupsafe import Markup

# ISO/IEC 18004, 6.3.8: four squares of white on every side.
QUIET_SQUARES = 4


def label_address(scheme: str, host: str, tag: str) -> str:
    """Return the short address of a stick in capitals, which every name and our path allow."""
    return f"{scheme}://{host}/s/{quote(tag, safe='')}".upper()


def code(address: str, *, said: str) -> Markup:
    """Return the code with its quiet zone, as large as its place; `said` is what it tells."""
    # Loaded by the first label: a page that draws none has no need of it.
    import segno  # noqa: PLC0415

    made = segno.make(address, error="q", micro=False, boost_error=False)
    drawn = made.svg_inline(
        border=QUIET_SQUARES, omitsize=True, svgclass="code", lineclass=None, light="#fff"
    )
    # Its name and role, for those who do not see it.
    head, rest = drawn.split(" ", 1)
    return Markup(f'{head} role="img" aria-label="{Markup.escape(said)}" {rest}')  # noqa: S704 - ours
