"""The forms for what was measured of a group, what was seen of it, and how it tasted. Pure."""

from collections.abc import Collection

from hangroom.errors import InputError
from hangroom.store.record.looks import Look, Measurement
from hangroom_web.entries import SQUEEZES, WRINKLES_MM
from hangroom_web.forms import Form, Question
from hangroom_web.surface import form_surface
from hangroom_web.words import _

LONGEST_INSTRUMENT = 80
LONGEST_WORDS = 500
SQUEEZE_CHOICES = frozenset(str(squeeze) for squeeze in SQUEEZES)

# What such figures can be of meat; what lies beyond is a slip of the point where a factor mends it.
AW = (0.3, 1.0)
PH = (3.5, 8.0)
ANY_NUMBER = (0.0, 10_000.0)


def read_measurement(form: Form, letters: Collection[str], *, by: str) -> Measurement | None:
    """Return the measurement that a form holds, or None where something is wrong or asked."""
    group = form.one_of("group", letters, needed=True)
    aw = form.number("aw", _("water activity"), ANY_NUMBER)
    ph = form.number("ph", _("pH"), ANY_NUMBER)
    _ask_point(form, "aw", aw, AW)
    _ask_point(form, "ph", ph, PH)
    if aw is None and ph is None and not form.faults:
        form.refuse(_("Enter a water activity, a pH, or both."), "aw")
    instrument = form.line(
        "instrument", needed=_("Say with what it was measured."), longest=LONGEST_INSTRUMENT
    )
    taken_at, note = form.moment("taken"), form.note()
    if group is None or not form.sound:
        return None
    try:
        return Measurement(
            key=form.key,
            entered_at=form.now,
            entered_by=by,
            group=group,
            taken_at=taken_at,
            aw=aw,
            ph=ph,
            instrument=instrument,
            note=note,
        )
    except InputError as fault:
        form.refuse(str(fault), "ph" if aw is None else "aw")
        return None


def _ask_point(form: Form, name: str, figure: float | None, within: tuple[float, float]) -> None:
    lowest, highest = within
    if figure is None or lowest <= figure <= highest:
        return
    for factor in (0.01, 0.1, 10.0):
        if lowest <= figure * factor <= highest:
            meant = f"{figure * factor:.3g}"
            form.ask(
                name,
                Question(
                    said=_("{figure:g} is no usual figure of meat. Did you mean {meant}?").format(
                        figure=figure, meant=meant
                    ),
                    instead=meant,
                    may_keep=False,
                ),
            )
            return


def read_look(form: Form, letter: str, *, by: str) -> Look | None:
    """Return the look without a scale that a form holds, or None where something is wrong."""
    squeeze = form.one_of("squeeze", SQUEEZE_CHOICES)
    depths_mm = {f"{depth_mm:g}": depth_mm for depth_mm in WRINKLES_MM}
    depth = form.one_of("wrinkle", depths_mm)
    surface = form_surface(form)
    note, taken_at = form.note(), form.moment("taken")
    if not form.sound:
        return None
    try:
        return Look(
            key=form.key,
            entered_at=form.now,
            entered_by=by,
            group=letter,
            taken_at=taken_at,
            surface=surface,
            squeeze=int(squeeze) if squeeze else None,
            wrinkle_mm=depths_mm[depth] if depth else None,
            note=note,
        )
    except InputError as fault:
        form.refuse(str(fault), "surface")
        return None
