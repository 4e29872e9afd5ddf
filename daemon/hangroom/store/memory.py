"""What the daemon kept for its next start; it writes this through its journal."""

import json
from typing import Any

from sqlite_utils import Database


def kept(db: Database, what: str) -> Any:  # noqa: ANN401 - whatever JSON can be
    """Return the body last kept under a name, or None where there is none."""
    row = db.execute("select body from control_memory where what = ?", (what,)).fetchone()
    return json.loads(row[0]) if row else None
