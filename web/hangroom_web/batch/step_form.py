"""The form for one step between stuffing and hanging: begun now, or entered afterwards. Pure."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from hangroom.errors import InputError
from hangroom.product.temperatures import celsius
from hangroom.store.record.steps import Step, StepKind
from hangroom.units import TemperatureUnit, Units, temperature_shown
from hangroom_web.dates import say_moment
from hangroom_web.forms import OTHERWISE, Form, Question
from hangroom_web.words import _

HUMIDITY_PCT = (0.0, 100.0)

STEP_NAMES = {
    StepKind.CASING_DRY: _("casing dry"),
    StepKind.SMOKE: _("smoke"),
    StepKind.COOK: _("cook"),
    StepKind.FINISH: _("finish"),
    StepKind.CHILL: _("chill"),
}

# Sticks are smoked and finished between these, common practice; beyond them the other scale was
# probably meant: 130 degF typed as degC, 60 degC typed as degF.
USUAL_AIR_C = (25.0, 100.0)
HEATED = frozenset({StepKind.SMOKE, StepKind.COOK, StepKind.FINISH})


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where a step can be done and for whom: the settings' rooms, the batch's groups."""

    rooms: Collection[str]
    letters: Collection[str]


def read_step(form: Form, place: Place, *, by: str) -> Step | None:
    """Return the step that a form holds, or None where something is wrong or asked.

    It lasts from `from`, or now, and goes on where no end is typed.
    """
    kind = form.kind("kind", StepKind, needed=True)
    air_c = form.temperature_c("air")
    wet_bulb_c = form.temperature_c("wet-bulb")
    humidity_pct = form.number("humidity", _("humidity in %"), HUMIDITY_PCT)
    group = form.one_of("group", place.letters)
    room = form.one_of("room", place.rooms)
    note = form.note()
    from_at = form.moment("from")
    to_at = form.moment_or_none("to")
    if to_at is not None and not form.has("from"):
        form.refuse(_("Write when it began as well."), "from")
    if to_at is not None and to_at < from_at:
        form.refuse(_("It cannot end before it began. Check both times."), "to")
    if kind in HEATED:
        form.ask("air", other_scale(air_c, form.units))
    if kind is None or not form.sound:
        return None
    try:
        return Step(
            key=form.key,
            entered_at=form.now,
            entered_by=by,
            kind=kind,
            from_at=from_at,
            to_at=to_at,
            group=group,
            set_temperature_c=air_c,
            wet_bulb_c=wet_bulb_c,
            humidity_pct=humidity_pct,
            room=room,
            note=note,
        )
    except InputError as fault:
        form.refuse(str(fault), "wet-bulb" if wet_bulb_c is not None else OTHERWISE)
        return None


def can_end(step: Step, at: datetime, form: Form, name: str) -> bool:
    """Whether a step can end at the moment typed in a field; the form says so where it cannot."""
    if at < step.from_at:
        form.refuse(
            _("{kind} began at {moment}; it cannot end before that.").format(
                kind=STEP_NAMES[step.kind].capitalize(),
                moment=say_moment(step.from_at, form.zone, now=form.now),
            ),
            name,
        )
    return form.sound


def other_scale(air_c: float | None, units: Units) -> Question | None:
    """Return what to ask about a smoker's temperature that fits the other scale better."""
    if air_c is None:
        return None
    lowest_c, highest_c = USUAL_AIR_C
    if lowest_c <= air_c <= highest_c:
        return None
    shown = temperature_shown(air_c, units)
    meant_c = celsius(shown) if units.temperature is TemperatureUnit.CELSIUS else shown
    if not lowest_c <= meant_c <= highest_c:
        return None
    other = "F" if units.temperature is TemperatureUnit.CELSIUS else "C"
    return Question(
        said=_("{shown:g} °{unit} is no usual heat for sticks. Is it {shown:g} °{other}?").format(
            shown=round(shown, 1), unit=units.temperature, other=other
        ),
        instead=f"{temperature_shown(meant_c, units):.1f}",
    )
