"""The daemon's job rolls readings up by itself, at its start and after each quarter of an hour."""

import time as clocks
from datetime import UTC, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from apscheduler.schedulers.background import BackgroundScheduler

from hangroom.jobs import Jobs, Looking
from hangroom.store.database import connect, prepare_database
from hangroom.store.journal import Journal
from hangroom.terms import AirReading

NOW = datetime(2026, 11, 26, 14, 52, 4, tzinfo=UTC)


def read_for_two_hours(path: Path) -> None:
    journal = Journal(path)
    journal.start({"closet": ["rail"]}, boot_id="b", version="0", now=NOW - timedelta(hours=2))
    for minutes in range(120):
        reading = AirReading(
            taken_at=NOW - timedelta(minutes=120 - minutes),
            taken_uptime_s=60.0 * minutes,
            temperature_c=13.0,
            humidity_pct=97.0 if minutes == 33 else 76.0,
        )
        journal.note_reading("closet", "rail", reading, seen_uptime_s=60.0 * minutes)
    journal.flush(now=NOW)
    journal.close()


def test_what_was_read_before_the_start_is_rolled_up_at_once(tmp_path: Path) -> None:
    path = prepare_database(tmp_path)
    read_for_two_hours(path)
    made: list[BackgroundScheduler] = []

    def scheduler(**options: object) -> BackgroundScheduler:
        made.append(BackgroundScheduler(**options))
        return made[-1]

    jobs = Jobs(
        path,
        looking=Looking(at=(time(8),), zone=ZoneInfo("UTC")),
        now=lambda: NOW,
        hangs=lambda _what: None,
        scheduler=scheduler,
    )
    jobs.start()
    try:
        # Two minutes after each quarter of an hour: by then the journal has written its last row.
        fields = {field.name: str(field) for field in made[0].get_job("roll-ups").trigger.fields}
        assert (fields["hour"], fields["minute"]) == ("*", "2-59/15")
        db = connect(path)
        highest: list[tuple[float]] = []
        by = clocks.monotonic() + 30
        while not highest and clocks.monotonic() < by:
            highest = db.execute(
                "select highest_pct from air_rollup where long_s = 900 order by starts_ms"
            ).fetchall()
            clocks.sleep(0.05)
        db.close()
    finally:
        jobs.stop()
    # From 12:52 to 14:45 in quarters from 12:45 on; the spike was read at 13:25.
    assert [pct for (pct,) in highest] == [76.0, 76.0, 97.0, *[76.0] * 5]
