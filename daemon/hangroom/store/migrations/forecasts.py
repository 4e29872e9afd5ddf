"""What the daemon forecast for each group, and what batches taught it about rooms and recipes."""

from sqlite_utils import Database

from hangroom.store.migrations.steps import MIGRATIONS, run


@MIGRATIONS()
def m110_forecasts(db: Database) -> None:
    """Create the daemon's forecasts: a row holds one as JSON, or why there is none."""
    run(
        db,
        """create table forecast (
            id integer primary key,
            group_id integer not null references stick_group(id),
            made_ms integer not null,
            cause text not null
                check (cause in ('start', 'hourly', 'weigh-in', 'stage', 'hung', 'pulled')),
            body text check (body is null or json_valid(body)),
            error text not null default '',
            check ((body is null) = (error <> ''))
        ) strict""",
        "create index forecast_by_group on forecast (group_id, id)",
    )


@MIGRATIONS()
def m111_learned(db: Database) -> None:
    """Create the daemon's beliefs in rooms and recipes, log-normal, as batches taught them."""
    run(
        db,
        """create table learned (
            kind text not null check (kind in ('room', 'recipe')),
            name text not null,
            transfer_ln_mean real not null,
            transfer_ln_sd real not null check (transfer_ln_sd > 0),
            diffusivity_ln_mean real not null,
            diffusivity_ln_sd real not null check (diffusivity_ln_sd > 0),
            batches integer not null check (batches > 0),
            updated_ms integer not null,
            primary key (kind, name)
        ) strict, without rowid""",
    )
