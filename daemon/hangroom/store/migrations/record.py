"""The batch's record: who entered what and when, recipe, sums, steps, series, looks, profiles.

All of these tables are the page's. Every entry has a `key` that is the same in every database it
is copied to, says who entered it and when, and is struck out rather than deleted. What a field
held before a correction stays in `edit`.
"""

from sqlite_utils import Database

from hangroom.store.migrations.steps import MIGRATIONS, run

# What every entry of a batch begins and ends with; `group_id` null: the whole batch.
_ENTRY = """
    id integer primary key,
    key text not null unique,
    batch_id integer not null references batch(id),
"""
_ENTERED = """
    entered_ms integer not null,
    entered_by text not null,
    struck_ms integer
"""


@MIGRATIONS()
def m101_keys_and_who(db: Database) -> None:
    """Give the first tables keys, who entered a row, and what the whole record asks for besides."""
    for table in ("batch", "stick_group", "stick", "hang"):
        run(
            db,
            f"alter table {table} add column key text not null default ''",
            f"update {table} set key = lower(hex(randomblob(16)))",  # noqa: S608 - names of ours
            f"create unique index {table}_by_key on {table} (key)",
        )
    for table, entered in (("batch", "started_ms"), ("hang", "from_ms"), ("weigh_in", "taken_ms")):
        run(
            db,
            f"alter table {table} add column entered_ms integer not null default 0",
            f"update {table} set entered_ms = {entered}",  # noqa: S608 - names of ours
            f"alter table {table} add column entered_by text not null default ''",
        )
    run(
        db,
        # Entered is: who hung it; this is who took it down.
        "alter table hang add column ended_by text not null default ''",
        "alter table hang add column struck_ms integer",
        "alter table weigh_in add column struck_ms integer",
        # What was found on the surface; null: not looked at, which is not the same as nothing.
        "alter table weigh_in add column surface text"
        " check (surface is null or json_valid(surface))",
        "alter table batch add column green_weight_g real check (green_weight_g > 0)",
        "alter table batch add column fat_drip_g real check (fat_drip_g >= 0)",
        "alter table batch add column casing text",
        "alter table batch add column casing_diameter_mm real check (casing_diameter_mm > 0)",
        "alter table stick add column cooked_weight_g real check (cooked_weight_g > 0)",
        # "As dry as batch 3, group B".
        "alter table stick_group add column like_key text"
        " references stick_group(key) deferrable initially deferred",
        "create index stick_by_group on stick (group_id)",
        "create index hang_by_group on hang (group_id, from_ms)",
    )


@MIGRATIONS()
def m102_recipe_and_sums(db: Database) -> None:
    """Create what went into a batch, and the curing sums as they were worked and checked."""
    run(
        db,
        f"""create table recipe_line ({_ENTRY}
            place integer not null,
            kind text not null,
            name text not null,
            weight_g real not null check (weight_g >= 0),
            ndb text,
            erythorbate text,
            water_pct real check (water_pct between 0 and 100),
            protein_pct real check (protein_pct between 0 and 100),
            fat_pct real check (fat_pct between 0 and 100),
            ash_pct real check (ash_pct between 0 and 100),
            sodium_mg_per_100g real check (sodium_mg_per_100g >= 0),
            poultry integer check (poultry in (0, 1)),
            nitrite_pct real check (nitrite_pct > 0 and nitrite_pct <= 100),
            nitrate_pct real check (nitrate_pct > 0 and nitrate_pct <= 100),
            {_ENTERED}
        ) strict""",
        "create index recipe_line_by_batch on recipe_line (batch_id)",
        # Entered is: worked by. A sum is its result, the formula in words and its inputs.
        f"""create table frozen_sums ({_ENTRY}
            sums text not null check (json_valid(sums)),
            checked_ms integer,
            checked_by text,
            {_ENTERED},
            check ((checked_ms is null) = (checked_by is null))
        ) strict""",
        "create index frozen_sums_by_batch on frozen_sums (batch_id)",
    )


@MIGRATIONS()
def m103_steps_and_series(db: Database) -> None:
    """Create what was done to a batch before it hung, and its internal temperatures."""
    run(
        db,
        f"""create table step ({_ENTRY}
            group_id integer references stick_group(id),
            kind text not null,
            from_ms integer not null,
            to_ms integer check (to_ms is null or to_ms >= from_ms),
            set_temperature_c real,
            wet_bulb_c real,
            humidity_pct real check (humidity_pct between 0 and 100),
            room text,
            note text not null,
            {_ENTERED}
        ) strict""",
        "create index step_by_batch on step (batch_id)",
        f"""create table series ({_ENTRY}
            group_id integer references stick_group(id),
            kind text not null,
            probe text not null,
            origin text not null,
            note text not null,
            {_ENTERED}
        ) strict""",
        "create index series_by_batch on series (batch_id)",
        """create table series_point (
            series_id integer not null references series(id),
            at_ms integer not null,
            temperature_c real not null,
            primary key (series_id, at_ms)
        ) strict, without rowid""",
    )


@MIGRATIONS()
def m104_measurements_looks_photos(db: Database) -> None:
    """Create what was measured of a group, looks without a scale, and photos."""
    run(
        db,
        f"""create table measurement ({_ENTRY}
            group_id integer not null references stick_group(id),
            taken_ms integer not null,
            aw real check (aw > 0 and aw <= 1),
            ph real check (ph between 0 and 14),
            instrument text not null,
            note text not null,
            {_ENTERED},
            check (aw is not null or ph is not null)
        ) strict""",
        "create index measurement_by_batch on measurement (batch_id)",
        f"""create table look ({_ENTRY}
            group_id integer not null references stick_group(id),
            taken_ms integer not null,
            surface text check (surface is null or json_valid(surface)),
            squeeze integer check (squeeze between 1 and 5),
            wrinkle_mm real check (wrinkle_mm >= 0),
            note text not null,
            {_ENTERED}
        ) strict""",
        "create index look_by_batch on look (batch_id)",
        # The file lies in the store's folder under the name of its sum.
        f"""create table photo ({_ENTRY}
            group_id integer references stick_group(id),
            taken_ms integer not null,
            sha256 text not null check (length(sha256) = 64),
            media text not null,
            size integer not null check (size > 0),
            caption text not null,
            of_key text,
            {_ENTERED}
        ) strict""",
        "create index photo_by_batch on photo (batch_id)",
    )


@MIGRATIONS()
def m105_finish_profiles(db: Database) -> None:
    """Create what a group was like when it was tasted, to be asked for again."""
    run(
        db,
        f"""create table finish_profile ({_ENTRY}
            group_id integer not null references stick_group(id),
            tasted_ms integer not null,
            rating integer check (rating between 1 and 5),
            words text not null,
            yield_pct real check (yield_pct > 0),
            squeeze integer check (squeeze between 1 and 5),
            hung_h real check (hung_h >= 0),
            air_temperature_c real,
            air_humidity_pct real check (air_humidity_pct between 0 and 100),
            air_known_h real check (air_known_h >= 0),
            {_ENTERED}
        ) strict""",
        "create index finish_profile_by_batch on finish_profile (batch_id)",
    )


@MIGRATIONS()
def m106_edits(db: Database) -> None:
    """Create what was corrected: the fields of one entry, as they were and as they became."""
    run(
        db,
        f"""create table edit ({_ENTRY}
            entry text not null,
            entry_key text not null,
            old text not null check (json_valid(old)),
            new text not null check (json_valid(new)),
            why text not null,
            entered_ms integer not null,
            entered_by text not null
        ) strict""",
        "create index edit_by_batch on edit (batch_id)",
    )
