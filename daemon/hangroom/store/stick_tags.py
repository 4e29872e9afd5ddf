"""Finding a stick by what stands on its tag. Owns no table."""

from sqlite_utils import Database


def sticks_tagged(db: Database, tag: str) -> list[tuple[str, int]]:
    """Return tag and batch number of the sticks that bear it, capitals or not.

    The one written the same way comes first, then the newest batch.
    """
    rows = db.execute(
        "select tag, number from stick join stick_group on stick_group.id = group_id"
        " join batch on batch.id = batch_id"
    ).fetchall()
    # Compared here, because SQLite folds no letters but English ones.
    alike = [(known, number) for known, number in rows if known.casefold() == tag.casefold()]
    return sorted(alike, key=lambda one: (one[0] != tag, -one[1]))
