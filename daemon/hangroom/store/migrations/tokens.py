"""Tokens by which other programs act through the page's interface for them."""

from sqlite_utils import Database

from hangroom.store.migrations.steps import MIGRATIONS, run


@MIGRATIONS()
def m170_api_tokens(db: Database) -> None:
    """Create the page's table of tokens; `hash`: SHA-256 of the token, which itself is not kept."""
    run(
        db,
        """create table api_token (
            id integer primary key,
            key text not null unique,
            name text not null,
            scopes text not null,
            hash text not null unique,
            made_ms integer not null,
            made_by text not null,
            used_ms integer,
            revoked_ms integer,
            revoked_by text
        ) strict""",
    )
