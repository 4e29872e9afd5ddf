"""The way from meat to rail, step by step: done, going on, or not noted. Pure."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from hangroom.store.batches import Batch
from hangroom.store.record.steps import Step, StepKind
from hangroom.store.record.whole import BatchRecord
from hangroom.units import Units, say_length, say_temperature, say_weight
from hangroom_web.batch.starting import CASING_NAMES
from hangroom_web.batch.step_form import STEP_NAMES
from hangroom_web.batch.sums_view import say_result
from hangroom_web.batch_view.evidence import step_humidity_pct, until_noted
from hangroom_web.batch_view.wording import Wording
from hangroom_web.words import _, sentence

# A step without an end that began longer ago than this was not ended; it does not still go on.
GOES_ON = timedelta(hours=24)


class State(StrEnum):
    """How far a step is."""

    DONE = "done"
    NOW = "now"
    OPEN = "open"


STATES = {State.DONE: _("done"), State.NOW: _("now"), State.OPEN: _("not noted")}


@dataclass(frozen=True, slots=True, kw_only=True)
class WayStep:
    """One step of the way; `by` did it, '' where nobody is named."""

    title: str
    state: State
    said: Sequence[str] = ()
    by: str = ""

    @property
    def state_said(self) -> str:
        """The state as a word."""
        return STATES[self.state]


def way(record: BatchRecord, wording: Wording) -> list[WayStep]:
    """Return the steps in the order of the making; a usual one that nobody noted stands too."""
    return [
        _mixed(record, wording),
        _stuffed(record.batch, wording),
        *_steps(record.steps, wording),
        *_hung(record, wording),
    ]


def _mixed(record: BatchRecord, wording: Wording) -> WayStep:
    title = _("Mix and cure")
    if not record.recipe:
        return WayStep(title=title, state=State.OPEN)
    together_g = sum(line.weight_g for line in record.recipe)
    said = [_("{weight} mixed").format(weight=say_weight(together_g, wording.units))]
    if record.sums:
        newest = record.sums[-1]
        said.append("; ".join(f"{one.working.what} {say_result(one)}" for one in newest.sums))
        said.append(
            _("worked by {by}, checked by {checked}").format(
                by=newest.entered_by or _("nobody named"),
                checked=newest.checked_by or _("nobody yet"),
            )
        )
    else:
        said.append(_("no curing sums frozen"))
    return WayStep(title=title, state=State.DONE, said=said, by=record.recipe[0].entered_by)


def _stuffed(batch: Batch, wording: Wording) -> WayStep:
    said = []
    if batch.green_weight_g is not None:
        said.append(
            _("green weight {weight}").format(
                weight=say_weight(batch.green_weight_g, wording.units)
            )
        )
    if batch.casing is not None:
        said.append(_("casing {}").format(say_casing(batch, wording.units)))
    if batch.fat_drip_g is not None:
        said.append(
            _("{weight} of fat dripped in the cook").format(
                weight=say_weight(batch.fat_drip_g, wording.units)
            )
        )
    count = sum(group.sticks for group in batch.groups)
    if count:
        said.append(_("1 stick") if count == 1 else _("{} sticks").format(count))
    return WayStep(
        title=_("Stuff"),
        state=State.DONE if said else State.OPEN,
        said=said,
        by=batch.entered_by,
    )


def say_casing(batch: Batch, units: Units) -> str:
    """Return for example 'collagen, 19.0 mm'; '' where it was not noted."""
    if batch.casing is None:
        return ""
    across_mm = batch.casing_diameter_mm
    across = "" if across_mm is None else f", {say_length(across_mm, units)}"
    return f"{CASING_NAMES[batch.casing]}{across}"


def _steps(steps: Sequence[Step], wording: Wording) -> Iterator[WayStep]:
    ends = list(until_noted(steps))
    usual = (StepKind.CASING_DRY, StepKind.SMOKE, StepKind.COOK, StepKind.CHILL)
    noted = {step.kind for step in steps}
    if StepKind.FINISH in noted:
        noted.add(StepKind.COOK)
    missing = [kind for kind in usual if kind not in noted]
    order = list(StepKind)
    for step, to_at in ends:
        while missing and order.index(missing[0]) < order.index(step.kind):
            yield WayStep(title=sentence(STEP_NAMES[missing.pop(0)]), state=State.OPEN)
        yield _step(step, to_at, wording)
    yield from (WayStep(title=sentence(STEP_NAMES[kind]), state=State.OPEN) for kind in missing)


def _step(step: Step, to_at: datetime | None, wording: Wording) -> WayStep:
    title = sentence(STEP_NAMES[step.kind])
    if step.set_temperature_c is not None:
        title = _("{step} at {temperature}").format(
            step=title, temperature=say_temperature(step.set_temperature_c, wording.units)
        )
    goes_on = to_at is None and wording.now - step.from_at < GOES_ON
    if to_at is not None:
        said = [wording.span(step.from_at, to_at)]
        if step.to_at is None:
            said.append(_("its end was not noted, so it counts to the start of the next"))
    elif goes_on:
        said = [_("since {start}").format(start=wording.moment(step.from_at))]
    else:
        said = [_("from {start}; its end was not noted").format(start=wording.moment(step.from_at))]
    humidity_pct = step_humidity_pct(step)
    if step.wet_bulb_c is not None:
        said.append(
            _("wet bulb {temperature}").format(
                temperature=say_temperature(step.wet_bulb_c, wording.units)
            )
        )
    if humidity_pct is not None:
        said.append(_("humidity {pct:.0f} %").format(pct=humidity_pct))
    if step.room is not None:
        said.append(_("in {room}").format(room=wording.room(step.room)))
    if step.group is not None:
        said.append(_("group {}").format(step.group))
    if step.note:
        said.append(step.note)
    return WayStep(
        title=title,
        state=State.NOW if goes_on else State.DONE,
        said=said,
        by=step.entered_by,
    )


def _hung(record: BatchRecord, wording: Wording) -> Iterator[WayStep]:
    if not record.stays:
        yield WayStep(title=_("Hang"), state=State.OPEN)
    for group in record.batch.groups:
        stays = [stay for stay in record.stays if stay.group == group.letter]
        for stay in stays:
            yield WayStep(
                title=_("Hang group {letter} in {room}").format(
                    letter=group.letter, room=wording.room(stay.room)
                ),
                state=State.NOW if stay.to_at is None else State.DONE,
                said=[
                    _("since {start}").format(start=wording.moment(stay.from_at))
                    if stay.to_at is None
                    else wording.span(stay.from_at, stay.to_at)
                ],
                by=stay.entered_by,
            )
        if group.pulled_at is not None:
            yield WayStep(
                title=_("Pull group {}").format(group.letter),
                state=State.DONE,
                said=[wording.moment(group.pulled_at)],
                by=stays[-1].ended_by if stays else "",
            )
