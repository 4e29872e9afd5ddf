"""Groups that were tasted, as targets for another: "as dry as batch 3, group B"."""

from collections.abc import Mapping
from dataclasses import replace

from sqlite_utils import Database

from hangroom.errors import InputError
from hangroom.product.composition import Makeup
from hangroom.product.profiles import FinishProfile, LikeTarget, as_dry_as
from hangroom.product.yields import Base, BaseWeights, Yield
from hangroom.store.batch_facts import GroupName
from hangroom.store.batches import batch_id_of
from hangroom.store.record.entries import entries_of
from hangroom.store.record.finish import TastedGroup, tasted_groups
from hangroom.store.record.recipe import RecipeLine, as_recipe
from hangroom_web.batch.starting import Liked
from hangroom_web.words import _


def liked_groups(db: Database, green: Makeup | None = None) -> Mapping[str, Liked]:
    """Return the groups that were tasted and weighed, newest first, by the word of a form.

    `green` is the makeup of the batch that is to become like one of them, None while unknown.
    """
    liked = {}
    for tasted in tasted_groups(db):
        target = like_target(db, tasted, green)
        if target is not None:
            liked[f"{tasted.name.batch}-{tasted.name.letter}"] = Liked(
                name=tasted.name,
                said=_("batch {number}, group {letter}: {finish}{rating}").format(
                    number=tasted.name.batch,
                    letter=tasted.name.letter,
                    finish=tasted.finish,
                    rating=_rated(tasted.profile.rating),
                ),
                target_pct=round(100.0 * target.kept.ratio, 1),
            )
    return liked


def like_target(db: Database, tasted: TastedGroup, green: Makeup | None) -> LikeTarget | None:
    """Return the target that makes a batch as dry as a tasted group; None where none can be told.

    Without a recipe on one side, or with one that does not go with the weights, it goes by yield.
    """
    yield_pct = tasted.profile.yield_pct
    if yield_pct is None:
        return None
    profile = FinishProfile(
        name=say_group(tasted.name),
        kept=Yield(ratio=yield_pct / 100.0, base=Base.GREEN),
        weights=BaseWeights(),
        green=green_makeup(db, tasted.name.batch),
    )
    try:
        return as_dry_as(profile, green)
    except InputError:
        return as_dry_as(replace(profile, green=None), None)


def green_makeup(db: Database, batch_number: int) -> Makeup | None:
    """Return what a batch's recipe makes; None where it has none yet or its lines do not add up."""
    try:
        recipe = as_recipe(entries_of(db, RecipeLine, batch_id_of(db, batch_number)))
    except InputError:
        return None
    return recipe.green if recipe else None


def say_group(name: GroupName) -> str:
    """Return for example 'batch 3, group B'."""
    return _("batch {number}, group {letter}").format(number=name.batch, letter=name.letter)


def _rated(rating: int | None) -> str:
    return "" if rating is None else _(", rated {rating} of 5").format(rating=rating)
