"""What comes next for a batch, as links: the one most likely first."""

from collections.abc import Sequence
from dataclasses import dataclass

from flask import Blueprint, url_for

from hangroom.store.batches import Batch, batch_id_of
from hangroom.store.record.entries import entries_of
from hangroom.store.record.finish import FinishProfile
from hangroom.store.record.recipe import RecipeLine
from hangroom.store.record.steps import Step
from hangroom.store.record.sums import FrozenSums
from hangroom_web.batch.step_form import STEP_NAMES
from hangroom_web.site import records, site
from hangroom_web.words import _

action_pages = Blueprint("actions", __name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class Action:
    """One thing that can be entered; `likely`: it is what a batch like this usually waits for."""

    said: str
    href: str
    likely: bool = False


@action_pages.app_context_processor
def _given() -> dict[str, object]:
    return {"batch_actions": batch_actions}


def batch_actions(found: Batch) -> Sequence[Action]:
    """Return what can be entered for a batch; those likely next come first."""
    with records() as db:
        batch_id = batch_id_of(db, found.number)
        has_recipe = bool(entries_of(db, RecipeLine, batch_id))
        sums = entries_of(db, FrozenSums, batch_id)
        steps = entries_of(db, Step, batch_id)
        tasted = {profile.group for profile in entries_of(db, FinishProfile, batch_id)}

    def action(
        said: str, part: str, *, likely: bool = False, letter: str | None = None, at: str = ""
    ) -> Action:
        page = f"batches.{part}"
        href = url_for(page, number=found.number, letter=letter, _anchor=at or None)
        return Action(said=said, href=href, likely=likely)

    lasting = next((step for step in reversed(steps) if step.to_at is None), None)
    hung = any(group.hung_at or group.pulled_at for group in found.groups)
    waits = any(not group.hung_at and not group.pulled_at for group in found.groups)
    unchecked = bool(sums) and sums[-1].checked_by is None
    actions = [
        action(
            _("Recipe and curing sums") if has_recipe else _("Enter the recipe"),
            "recipe.recipe",
            likely=not has_recipe and not hung,
        ),
        action(
            _("Steps: {step} is under way").format(step=STEP_NAMES[lasting.kind])
            if lasting
            else _("Steps at the smoker"),
            "steps.steps",
            likely=lasting is not None or (has_recipe and not hung and not steps),
        ),
        action(
            _("Hang, move, pull") if found.groups else _("Add a group of sticks"),
            "hanging.groups",
            likely=(waits and bool(steps) and lasting is None) or not found.groups,
        ),
        action(_("Measured aw and pH"), "measuring.measurements"),
        action(_("Photos"), "photos.photos"),
        action(_("Labels to print"), "labels.labels"),
        action(_("Correct something"), "correcting.entries"),
    ]
    if unchecked:
        check = _("Second person: check the sums")
        actions.append(action(check, "recipe.recipe", likely=True, at="check"))
    actions += [
        action(
            _("Taste group {letter}").format(letter=group.letter),
            "tasting.taste",
            likely=True,
            letter=group.letter,
        )
        for group in found.groups
        if group.pulled_at and group.letter not in tasted
    ]
    actions += [
        Action(
            said=_("Plan when it is ready, {room}").format(room=table.title),
            href=url_for("plans.plan", name=name),
        )
        for name, table in site().settings.room.items()
        if table.humidity and any(group.room == name for group in found.groups)
    ]
    return sorted(actions, key=lambda one: not one.likely)
