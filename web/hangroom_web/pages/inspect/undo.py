"""Which entry of a stick can still be taken back with one tap."""

from datetime import datetime

from sqlite_utils import Database

from hangroom.store.weigh_ins import stored_as
from hangroom_web.look import DueStick
from hangroom_web.pages.inspect.cards import UNDO_WITHIN


def undoable(db: Database, one: DueStick, stored: str = "", *, now: datetime) -> str:
    """Return the key of the entry that the card shows, '' where it is older than ten minutes."""
    if one.skipped is not None:
        return one.skipped.key if now - one.skipped.entered_at <= UNDO_WITHIN else ""
    keys = {look.key for look in one.stick.weigh_ins}
    key = stored if stored in keys else one.stick.weigh_ins[-1].key if one.done else ""
    known = stored_as(db, key) if key else None
    return key if known is not None and now - known.entered_at <= UNDO_WITHIN else ""
