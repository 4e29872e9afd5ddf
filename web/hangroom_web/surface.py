"""What hands, eyes and nose find on a stick: read from a form, said in words. Pure."""

from collections.abc import Collection, Mapping

from hangroom.errors import InputError
from hangroom.store.batch_facts import SurfaceFinding
from hangroom_web.forms import Form
from hangroom_web.words import _

NOTHING = "nothing"
SURFACES = {
    SurfaceFinding.MOULD: _("mould"),
    SurfaceFinding.SLIME: _("slime"),
    SurfaceFinding.OFF_SMELL: _("off smell"),
    SurfaceFinding.DRIP: _("drip"),
    SurfaceFinding.INSECTS: _("insects"),
}
SURFACE_CHOICES = [
    (NOTHING, _("nothing found")),
    *((kind, name) for kind, name in SURFACES.items()),
]


def form_surface(form: Form) -> frozenset[SurfaceFinding] | None:
    """Return what was found on the surface: empty for nothing, None where nobody looked."""
    try:
        return read_surface(form.typed)
    except InputError as fault:
        form.refuse(str(fault), "surface")
        return None


def read_surface(typed: Mapping[str, str]) -> frozenset[SurfaceFinding] | None:
    """Do the same from fields `surface-...`; InputError for nothing and something at once."""
    found = frozenset(kind for kind in SURFACES if typed.get(f"surface-{kind}"))
    nothing = bool(typed.get(f"surface-{NOTHING}"))
    if nothing and found:
        raise InputError(_("Either nothing was found, or something was. Choose one."))
    return found if found or nothing else None


def say_surface(surface: Collection[SurfaceFinding] | None) -> str:
    """Return for example 'found: mould, drip', 'nothing found', or '' where nobody looked."""
    if surface is None:
        return ""
    if not surface:
        return _("nothing found")
    return _("found: {what}").format(what=", ".join(SURFACES[kind] for kind in sorted(surface)))
