"""A year of daily looks through the daemon's own jobs: one reminder for each day that is due.

Which days those are, and at which moment, is worked out here from the zone's own hours alone: the
whole year is read off the wall clock in steps of a quarter of an hour.
"""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from functools import partial
from itertools import count
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from jobs.fake_time import LATE, FakeHouse, FakeTime, read_the_clock

from hangroom.jobs import Jobs, Looking
from hangroom.store.batches import NewGroup, NewStick, add_batch, batches, pull_group
from hangroom.store.database import connect, prepare_database
from hangroom.store.moments import from_ms
from hangroom.store.weigh_ins import NewWeighIn, add_weigh_in

QUARTER = timedelta(minutes=15)
HOUR = timedelta(hours=1)
# A thread's lateness, once for each of two waits.
SOON = 4 * LATE


def due_moments(zone: ZoneInfo, at: time) -> dict[date, datetime]:
    """Return when the wall clock first shows `at` on each day of 2026, or what it skips to."""
    seen: dict[date, datetime] = {}
    moment = datetime(2025, 12, 31, tzinfo=UTC)
    while moment < datetime(2027, 1, 2, tzinfo=UTC):
        local = moment.astimezone(zone)
        before = (moment - QUARTER).astimezone(zone)
        # On the day that skips it, it is due when so much of the day has passed as on any other.
        skipped = before.time() < at < local.time() and before.date() == local.date()
        if local.date() not in seen and (local.time() == at or skipped):
            late = local.replace(tzinfo=None) - datetime.combine(local.date(), at)
            shift = (local.utcoffset() or timedelta()) - (before.utcoffset() or timedelta())
            seen[local.date()] = moment + (shift - late if skipped else timedelta())
        moment += QUARTER
    return seen


@dataclass(kw_only=True)
class Keeper:
    """An invented keeper with a Pi: hangs, weighs, cuts the power, sets the clock."""

    path: Path
    zone: ZoneInfo
    at: time
    now: FakeTime
    house: FakeHouse
    jobs: Jobs = field(init=False)
    keys: Iterator[int] = field(default_factory=count)

    def __post_init__(self) -> None:
        self.jobs = Jobs(
            self.path,
            looking=Looking(at=(self.at,), zone=self.zone),
            now=self.now.wall,
            hangs=lambda _what: None,
            look_every_min=60,
            scheduler=self.house.scheduler,
        )

    def hang(self, tag: str) -> None:
        db = connect(self.path)
        add_batch(
            db,
            name="Pork and venison",
            started_at=self.now.wall(),
            groups=[
                NewGroup(
                    letter="A",
                    finish="supple",
                    target_yield_pct=76,
                    sticks=14,
                    tagged=[NewStick(tag=tag, green_weight_g=88.0)],
                    room="closet",
                    hung_at=self.now.wall(),
                )
            ],
        )
        db.close()

    def pull(self) -> None:
        db = connect(self.path)
        pull_group(db, batches(db)[0].groups[0].number, now=self.now.wall())
        db.close()

    def weigh(self, tag: str) -> None:
        db = connect(self.path)
        entry = NewWeighIn(
            key=str(next(self.keys)), tag=tag, taken_at=self.now.wall(), weight_g=77.0
        )
        assert add_weigh_in(db, entry)
        db.close()

    def set_clock(self, error: timedelta) -> None:
        """Let the wall clock jump, and the loop see it, which has the jobs planned anew."""
        self.now.error = error
        self.jobs.rebuild()

    def reminded(self) -> list[tuple[date, datetime, int]]:
        """Return day, wall time of the first asking and number of askings of every reminder."""
        db = connect(self.path)
        rows = db.execute("select due_date, made_ms, times_asked from reminder order by id")
        found = [(date.fromisoformat(day), from_ms(ms), times) for day, ms, times in rows]
        db.close()
        return found


@contextmanager
def one_connection(path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Open the file once for the year's nine thousand jobs; to open it is most of what they do."""
    db = connect(path)
    with monkeypatch.context() as while_open:
        while_open.setattr(db, "close", lambda: None)
        for module in ("daily", "morning"):
            while_open.setattr(f"hangroom.jobs.{module}.connect", lambda _path: db)
        yield
    db.close()


def at_noon(zone: ZoneInfo, day: str) -> datetime:
    return datetime.combine(date.fromisoformat(day), time(12), tzinfo=zone).astimezone(UTC)


ZONES = [
    ("Europe/Berlin", time(8), "2026-01-01"),  # 29 March, 25 October
    ("Australia/Sydney", time(8), "2026-01-01"),  # 5 April, 4 October
    # By half an hour, over this very time; its autumn is left out, as the others have one.
    ("Australia/Lord_Howe", time(2, 15), "2026-09-01"),
]
# First to last day on which something hangs at noon, over each change of the clocks.
HANGS = (("A1", "2026-03-10", "2026-04-20"), ("B1", "2026-09-15", "2026-11-20"))
OUTAGE = ("2026-03-20", "2026-03-23")
AHEAD, AHEAD_NO_MORE = "2026-04-10", "2026-04-12"
BEHIND, BEHIND_NO_MORE = "2026-11-01", "2026-11-03"
LOST_THE_TIME = "2026-11-10"


def days_between(first: str, last: str) -> Sequence[date]:
    """Return the days after the first, to the last."""
    day, until = date.fromisoformat(first), date.fromisoformat(last)
    return [day + timedelta(days=n) for n in range(1, (until - day).days + 1)]


@pytest.mark.parametrize(("name", "at", "first_day"), ZONES)
def test_a_year_with_outage_and_wrong_clocks_brings_one_reminder_for_each_day_that_is_due(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str, at: time, first_day: str
) -> None:
    zone = ZoneInfo(name)
    due = due_moments(zone, at)
    begins_at = at_noon(zone, first_day)
    now = FakeTime(begins_at)
    read_the_clock(now, monkeypatch)
    house = FakeHouse(now, without=("forecasts", "what hangs", "roll-ups"))
    keeper = Keeper(path=prepare_database(tmp_path), zone=zone, at=at, now=now, house=house)

    hanging = {day: tag for tag, first, last in HANGS for day in days_between(first, last)}
    expected = {day: due[day] for day in hanging}

    for tag, first, last in HANGS:
        now.plan(at_noon(zone, first), partial(keeper.hang, tag))
        now.plan(at_noon(zone, last), keeper.pull)

    # Three days without power: none of them is asked for, the fourth when the power is back.
    off_at, on_at = at_noon(zone, OUTAGE[0]), at_noon(zone, OUTAGE[1])
    now.plan(off_at, keeper.jobs.stop)
    now.plan(on_at, keeper.jobs.start)
    for day in days_between(*OUTAGE)[:-1]:
        del expected[day]
    expected[date.fromisoformat(OUTAGE[1])] = on_at

    # The clock goes an hour ahead half an hour before a look, and back right after one.
    ahead_at = due[date.fromisoformat(AHEAD)] - HOUR / 2
    now.plan(ahead_at, lambda: keeper.set_clock(HOUR))
    back_at = due[date.fromisoformat(AHEAD_NO_MORE)] - HOUR / 2
    now.plan(back_at, lambda: keeper.set_clock(timedelta()))
    expected[date.fromisoformat(AHEAD)] = ahead_at + HOUR

    # It goes an hour back half an hour after a look, and ahead again right before one.
    behind_at = due[date.fromisoformat(BEHIND)] + HOUR / 2
    now.plan(behind_at, lambda: keeper.set_clock(-HOUR))
    again_at = due[date.fromisoformat(BEHIND_NO_MORE)] - HOUR / 2
    now.plan(again_at, lambda: keeper.set_clock(timedelta()))

    # The power fails at noon; a Pi without a clock chip starts in 1970 and learns the time from the
    # network two hours after the next look was due.
    lost_at = at_noon(zone, LOST_THE_TIME)
    day_lost = date.fromisoformat(LOST_THE_TIME) + timedelta(days=1)
    found_at = due[day_lost] + 2 * HOUR

    def start_in_1970() -> None:
        now.error = datetime(1970, 1, 1, 0, 0, 20, tzinfo=UTC) - now.true
        keeper.jobs.start()

    now.plan(lost_at, keeper.jobs.stop)
    now.plan(lost_at + HOUR, start_in_1970)
    now.plan(found_at, lambda: keeper.set_clock(timedelta()))
    expected[day_lost] = found_at

    # The keeper weighs half an hour after being asked, by whatever the clock shows then.
    ahead = [date.fromisoformat(AHEAD) + timedelta(days=n) for n in range(3)]
    error = {**dict.fromkeys(ahead, HOUR), date.fromisoformat(BEHIND) + timedelta(days=1): -HOUR}
    for day, asked_at in expected.items():
        weighs_at = asked_at - error.get(day, timedelta()) + timedelta(minutes=31)
        now.plan(weighs_at, partial(keeper.weigh, hanging[day]))

    now.plan(datetime(2026, 12, 31, tzinfo=UTC), keeper.jobs.stop)
    with one_connection(keeper.path, monkeypatch):
        keeper.jobs.start()
        house.run()

    assert house.faults == []
    reminded = keeper.reminded()
    expected = {day: at for day, at in expected.items() if at >= begins_at}
    assert [day for day, _, _ in reminded] == sorted(expected)
    assert all(times == 1 for _, _, times in reminded)
    for day, asked_at, _ in reminded:
        # Where the clock skips the very time, it is asked at the next hour that is looked.
        late = timedelta(minutes=15) if due[day].astimezone(zone).time() != at else timedelta()
        assert timedelta(0) <= asked_at - expected[day] <= SOON + late, day
