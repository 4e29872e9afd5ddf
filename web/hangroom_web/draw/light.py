"""The mark of a light: its shape tells it as well as its colour does."""

from collections.abc import Mapping

from markupsafe import Markup

from hangroom.product.drying_lights import Light

_SHAPES: Mapping[Light, str] = {
    Light.GREEN: '<circle cx="9" cy="9" r="7.5"/>',
    Light.AMBER: '<path d="M9 1.5L17 16.5H1Z"/>',
    Light.RED: '<path d="M1.5 1.5H16.5V16.5H1.5Z"/>',
}


def light_mark(light: Light) -> Markup:
    """Return a disc for green, a triangle for amber, a square for red; the words stand beside."""
    return Markup('<svg class="light {}" viewBox="0 0 18 18" aria-hidden="true">{}</svg>').format(
        light,
        Markup(_SHAPES[light]),  # noqa: S704 - this file's own text
    )
