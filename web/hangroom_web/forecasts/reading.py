"""What the page reads of forecasts from the database; the one file here that does."""

from collections.abc import Iterable, Mapping
from datetime import UTC, datetime, time

from sqlite_utils import Database

from hangroom.product.drying_priors import PUBLISHED
from hangroom.product.forecast import Beliefs
from hangroom.product.forecast_words import say_learned
from hangroom.product.learning import Kind, recipe_named
from hangroom.store.batches import Group
from hangroom.store.forecasts import kept_before, known_of
from hangroom.store.learned import learned
from hangroom_web.forecasts.foretold import Foretold, foretold
from hangroom_web.site import Site
from hangroom_web.words import _, in_a_sentence


def foretold_of(db: Database, groups: Iterable[Group], site: Site) -> Mapping[int, Foretold]:
    """Return what was foretold of each group that hangs, by the group's number."""
    hanging = [group for group in groups if group.room is not None]
    known, now = known_of(db, (group.number for group in hanging)), site.now()
    return {
        group.number: foretold(
            group,
            known[group.number],
            kept_before(db, group.number, _start_of(now, site)),
            zone=site.zone,
            now=now,
        )
        for group in hanging
    }


def learned_of_room(db: Database, name: str, title: str) -> str:
    """Return what earlier batches taught about a room, in a sentence; '' for nothing."""
    found = learned(db).get((Kind.ROOM, name))
    if found is None:
        return ""
    # What is the room's is how it takes water off; how water moves inside is the recipe's.
    own = Beliefs(
        transfer_kg_per_m2_s_pa=found.beliefs.transfer_kg_per_m2_s_pa,
        diffusivity_m2_per_s=PUBLISHED.diffusivity_m2_per_s,
    )
    said = say_learned(own, PUBLISHED, room=_("the {}").format(in_a_sentence(title)))
    return _learned(said, found.batches)


def learned_of_recipe(db: Database, name: str) -> str:
    """Return what batches of a name taught about their recipe, in a sentence; '' for nothing."""
    found = learned(db).get((Kind.RECIPE, recipe_named(name)))
    if found is None:
        return ""
    own = Beliefs(
        transfer_kg_per_m2_s_pa=PUBLISHED.transfer_kg_per_m2_s_pa,
        diffusivity_m2_per_s=found.beliefs.diffusivity_m2_per_s,
    )
    return _learned(say_learned(own, PUBLISHED), found.batches)


def _learned(said: tuple[str, ...], batches: int) -> str:
    if not said:
        return ""
    of = _("1 batch") if batches == 1 else _("{} batches").format(batches)
    return _("Learned from the weights of {of}: {said}").format(
        of=of, said=in_a_sentence(" ".join(said))
    )


def _start_of(now: datetime, site: Site) -> datetime:
    day = now.astimezone(site.zone).date()
    return datetime.combine(day, time(), tzinfo=site.zone).astimezone(UTC)
