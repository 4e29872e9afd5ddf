"""What a step is made with."""

from sqlite_utils import Database, Migrations

MIGRATIONS = Migrations("hangroom")


def run(db: Database, *statements: str) -> None:
    """Execute statements in order."""
    for statement in statements:
        db.execute(statement)
