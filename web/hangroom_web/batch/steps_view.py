"""How far a batch is on its way from stuffing to the rail, and what usually comes next. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from hangroom.product.smoke import TRADE, USUAL_STEPS, UsualStep
from hangroom.product.temperatures import celsius, fahrenheit
from hangroom.store.batch_facts import CasingKind
from hangroom.store.record.steps import Step, StepKind
from hangroom.units import Units, say_duration, say_temperature, temperature_shown
from hangroom_web.batch.step_form import STEP_NAMES
from hangroom_web.dates import say_moment
from hangroom_web.words import _

SAME_AIR_F = 5.0
# What ends a step that goes by the clock alone.
AN_HOUR = "an hour"
DEFAULT_CASING = CasingKind.COLLAGEN


@dataclass(frozen=True, slots=True, kw_only=True)
class StepView:
    """One step as it is shown; `since_s`: how long it has gone on, None where it has ended."""

    key: str
    name: str
    air: str
    when: str
    more: str
    since_s: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class UsualView:
    """One usual step: what a form for it holds, and what is said of it."""

    kind: StepKind
    said: str
    lasts: str
    air: str
    is_next: bool


def step_view(step: Step, *, units: Units, zone: ZoneInfo, now: datetime) -> StepView:
    """Put a step into words."""
    from_said = say_moment(step.from_at, zone, now=now)
    if step.to_at is None:
        when = _("since {moment}").format(moment=from_said)
    else:
        lasted_s = (step.to_at - step.from_at).total_seconds()
        when = _("{begun} to {ended}, {lasted}").format(
            begun=from_said,
            ended=say_moment(step.to_at, zone, now=now),
            lasted=say_duration(lasted_s),
        )
    return StepView(
        key=step.key,
        name=STEP_NAMES[step.kind],
        air=""
        if step.set_temperature_c is None
        else say_temperature(step.set_temperature_c, units),
        when=when,
        more=_more(step, units),
        since_s=None if step.to_at else max(0.0, (now - step.from_at).total_seconds()),
    )


def _more(step: Step, units: Units) -> str:
    told = []
    if step.wet_bulb_c is not None:
        wet_bulb = say_temperature(step.wet_bulb_c, units)
        told.append(_("wet bulb {temperature}").format(temperature=wet_bulb))
    if step.humidity_pct is not None:
        told.append(_("humidity {humidity:g} %").format(humidity=step.humidity_pct))
    if step.group is not None:
        told.append(_("group {letter}").format(letter=step.group))
    if step.note:
        told.append(step.note)
    return ", ".join(told)


def usual_views(
    steps: Sequence[Step], casing: CasingKind | None, *, units: Units
) -> list[UsualView]:
    """Return the usual way for a casing, as for collagen where it has none of its own."""
    usual = _usual(casing)
    place = _next_place(usual, steps)
    return [
        UsualView(
            kind=_kind(step),
            said=_say_usual(step, units),
            lasts=_say_lasts(step),
            air="" if step.air_f is None else _air(step.air_f, units),
            is_next=number == place,
        )
        for number, step in enumerate(usual)
    ]


def says_where_from(casing: CasingKind | None) -> str:
    """Say whose usual way it is, and that nobody published it."""
    known = casing in USUAL_STEPS
    name = casing if known and casing else DEFAULT_CASING
    said = _("As for {casing} casings; {standing}.").format(casing=name, standing=TRADE.standing)
    return said if known else _("{said} This batch's casing is not said.").format(said=said)


def _usual(casing: CasingKind | None) -> Sequence[UsualStep]:
    return USUAL_STEPS.get(casing or DEFAULT_CASING, USUAL_STEPS[DEFAULT_CASING])


def _next_place(usual: Sequence[UsualStep], steps: Sequence[Step]) -> int:
    """Return the place after the usual step that the newest one is like."""
    if not steps:
        return 0
    newest = steps[-1]
    kinds = [number for number, step in enumerate(usual) if _kind(step) is newest.kind]
    if not kinds:
        return next(number for number, step in enumerate(usual) if _kind(step) is StepKind.FINISH)
    air_c = newest.set_temperature_c
    alike = [
        number
        for number in kinds
        if air_c is None or usual[number].air_f is None or _alike(usual[number], air_c)
    ]
    return (alike or kinds)[-1] + 1


def _alike(usual: UsualStep, air_c: float) -> bool:
    return usual.air_f is not None and abs(fahrenheit(air_c) - usual.air_f) <= SAME_AIR_F


def _air(air_f: int, units: Units) -> str:
    return f"{temperature_shown(celsius(air_f), units):.1f}".removesuffix(".0")


def _say_usual(step: UsualStep, units: Units) -> str:
    name = STEP_NAMES[_kind(step)]
    if step.air_f is None:
        return name
    return _("{name} at {air} °{unit}").format(
        name=name, air=_air(step.air_f, units), unit=units.temperature
    )


def _say_lasts(step: UsualStep) -> str:
    until = _("until {until}").format(until=step.until)
    if step.shortest_h is None or step.longest_h is None:
        return until
    if step.shortest_h == step.longest_h:
        hours = _("{hours:g} h").format(hours=step.longest_h)
    else:
        hours = _("{least:g} to {most:g} h").format(least=step.shortest_h, most=step.longest_h)
    return hours if step.until == AN_HOUR else f"{hours}, {until}"


def _kind(step: UsualStep) -> StepKind:
    return StepKind(step.kind)
