"""What went into a batch, its curing sums as frozen, and its casings' hours in low heat. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import timedelta

from hangroom.product.casing import SmokeStage, casing_exposure
from hangroom.product.smoke import TRADE, usual_low_heat_h
from hangroom.store.record.recipe import RecipeLine
from hangroom.store.record.steps import StepKind
from hangroom.store.record.sums import FrozenSums
from hangroom.store.record.whole import BatchRecord
from hangroom.units import Units, say_weight
from hangroom_web.batch.sums_view import SumView, sum_view
from hangroom_web.batch_view.evidence import HEAT, of_group, until_noted
from hangroom_web.batch_view.wording import Wording
from hangroom_web.words import _


@dataclass(frozen=True, slots=True, kw_only=True)
class SumsView:
    """Curing sums as they were frozen: who worked them, who checked them."""

    sums: Sequence[SumView]
    worked: str
    checked: str
    is_checked: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Exposure:
    """Hours of low heat in words; `not_counted` says what could not be summed."""

    said: str
    advice: str
    not_counted: str
    source: str


def sums_views(frozen: Sequence[FrozenSums], wording: Wording) -> list[SumsView]:
    """Return the frozen sums, the newest first."""
    return [
        SumsView(
            sums=[sum_view(one) for one in each.sums],
            worked=_("Worked by {by}, {when}.").format(
                by=each.entered_by or _("nobody named"), when=wording.moment(each.entered_at)
            ),
            checked=_("Checked by {by}, {when}.").format(
                by=each.checked_by, when=wording.moment(each.checked_at)
            )
            if each.checked_at is not None
            else _("Not checked by a second person."),
            is_checked=each.checked_at is not None,
        )
        for each in reversed(frozen)
    ]


def lines_view(lines: Sequence[RecipeLine], units: Units) -> list[dict[str, str]]:
    """Return the recipe line by line: name, what its label or table says, weight, share of all."""
    together_g = sum(line.weight_g for line in lines)
    return [
        {
            "name": line.name,
            "label": _label(line),
            "weight": say_weight(line.weight_g, units),
            "share": f"{100.0 * line.weight_g / together_g:.2f} %" if together_g > 0.0 else "",
        }
        for line in lines
    ]


def exposures(record: BatchRecord) -> list[Exposure]:
    """Return the hours below 180 degF with the trade's advice, once for all groups or for each."""
    letters = [group.letter for group in record.batch.groups] or [""]
    found = {letter: _exposure(record, letter) for letter in letters}
    if len(set(found.values())) == 1:
        found = {"": found[letters[0]]}
    return [
        replace(one, said=_("Group {letter}: {said}").format(letter=letter, said=one.said))
        if letter
        else one
        for letter, one in found.items()
        if one is not None
    ]


def _exposure(record: BatchRecord, letter: str) -> Exposure | None:
    steps = list(until_noted(of_group(record.steps, letter)))
    heated = [step for step, _to_at in steps if step.kind in HEAT]
    counted = [
        (step, SmokeStage(step.set_temperature_c, (to_at - step.from_at) / timedelta(hours=1)))
        for step, to_at in steps
        if step.kind is not StepKind.CHILL
        and step.set_temperature_c is not None
        and to_at is not None
    ]
    if not heated and not counted:
        return None
    found = casing_exposure(
        [stage for _step, stage in counted], usual_h=usual_low_heat_h(record.batch.casing or "")
    )
    missing = len(set(heated) - {step for step, _stage in counted})
    return Exposure(
        said=_("{hours:.1f} h in low heat, below 180 °F (82.2 °C).").format(hours=found.low_heat_h),
        advice=found.advice,
        not_counted=_("Not counted: {count} without a temperature or an end.").format(
            count=_("1 step") if missing == 1 else _("{} steps").format(missing)
        )
        if missing
        else "",
        source=TRADE.standing,
    )


def _label(line: RecipeLine) -> str:
    said = [f"NDB {line.ndb}"] if line.ndb else []
    said += [
        _("{what} {pct:g} %").format(what=what, pct=pct)
        for what, pct in (
            (_("nitrite"), line.nitrite_pct),
            (_("nitrate"), line.nitrate_pct),
            (_("water"), line.water_pct),
            (_("protein"), line.protein_pct),
            (_("fat"), line.fat_pct),
        )
        if pct is not None
    ]
    if line.erythorbate:
        said.append(line.erythorbate)
    return ", ".join(said)
