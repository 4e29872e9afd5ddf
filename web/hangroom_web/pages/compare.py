"""Groups side by side, and the finishes that were tasted."""

from flask import Blueprint, render_template, request
from sqlite_utils import Database

from hangroom.store.batch_facts import GroupName
from hangroom.store.batches import batches_in_short
from hangroom.store.record.finish import TastedGroup, hung_air, tasted_groups
from hangroom.store.record.whole import batch_record
from hangroom_web.batch_view.compare import Compared, compare, compared
from hangroom_web.batch_view.sources import wording_of
from hangroom_web.batch_view.whole import say_finish
from hangroom_web.batch_view.wording import Wording
from hangroom_web.site import records, site
from hangroom_web.whole import whole_in
from hangroom_web.words import _

compare_pages = Blueprint("compare", __name__)

# Offered to choose from: the groups of so many of the newest batches, and those asked for.
BATCHES_OFFERED = 8
MOST_COMPARED = 6


@compare_pages.get("/batches/compare")
def side_by_side() -> str:
    """Show the groups that `group` names, such as 3-B, side by side, and those to choose from."""
    wording = wording_of(site())
    asked = list(dict.fromkeys(request.args.getlist("group")))[:MOST_COMPARED]
    with records() as db:
        tasted = {each.name: each for each in tasted_groups(db)}
        groups = [
            found for word in asked if (found := _compared(db, word, tasted, wording)) is not None
        ]
        offered = _offered(db, asked)
    return render_template(
        "compare.html",
        comparison=compare(groups, wording) if groups else None,
        offered=offered,
        tasted=[
            {
                "batch": name.batch,
                "word": f"{name.batch}-{name.letter}",
                "title": _("Batch {number} {letter}, {finish}").format(
                    number=name.batch, letter=name.letter, finish=each.finish
                ),
                "said": ", ".join(say_finish(each.profile, wording)),
                "words": each.profile.words,
            }
            for name, each in tasted.items()
        ],
    )


def _compared(
    db: Database, word: str, tasted: dict[GroupName, TastedGroup], wording: Wording
) -> Compared | None:
    """Return the group of a word; None where there is none, or it never hung."""
    number, _dash, letter = word.partition("-")
    batch = whole_in(number)
    record = None if batch is None else batch_record(db, batch)
    group = next((g for g in record.batch.groups if g.letter == letter), None) if record else None
    if record is None or group is None:
        return None
    name = GroupName(batch=record.batch.number, letter=letter)
    found = tasted.get(name)
    return compared(
        record,
        group,
        tasted=found.profile if found else None,
        hung=hung_air(db, name, until=found.profile.tasted_at if found else wording.now),
        wording=wording,
    )


def _offered(db: Database, asked: list[str]) -> list[dict[str, object]]:
    offered = []
    for place, batch in enumerate(batches_in_short(db)):
        for group in batch.groups:
            word = f"{batch.number}-{group.letter}"
            if word in asked or (place < BATCHES_OFFERED and group.hung_at is not None):
                offered.append(
                    {
                        "word": word,
                        "said": _("{number} {letter}, {finish}").format(
                            number=batch.number, letter=group.letter, finish=group.finish
                        ),
                        "chosen": word in asked,
                    }
                )
    return offered
