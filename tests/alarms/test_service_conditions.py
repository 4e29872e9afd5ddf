"""Raw conditions of the service itself and of what hangs; limits as in the table's own words."""

import pytest

from hangroom.alarm_table.row import AlarmId, Scope
from hangroom.alarm_table.table import TABLE, rows_of
from hangroom.control.alarms.batch_conditions import (
    HangingBatch,
    HangingGroup,
    batch_conditions,
    group_conditions,
)
from hangroom.control.alarms.delays import Raw, Side
from hangroom.control.alarms.service_conditions import (
    FLUSH_FAILURE_COUNTS_S,
    DiskSpace,
    service_conditions,
)

BEYOND, WITHIN, UNKNOWN = Side.BEYOND, Side.WITHIN, Side.UNKNOWN
HOUR_S = 3600.0
GB = 1_000_000_000
ROOMY = DiskSpace(free_bytes=20 * GB, size_bytes=32 * GB)


def service(
    *,
    flush_failure_age_s: float | None = None,
    disk: DiskSpace | None = ROOMY,
    clock_jump_s: float | None = None,
    restart_gap_s: float | None = None,
) -> dict[AlarmId, Raw]:
    conditions = service_conditions(
        flush_failure_age_s=flush_failure_age_s,
        disk=disk,
        clock_jump_s=clock_jump_s,
        restart_gap_s=restart_gap_s,
    )
    assert set(conditions.raw) == set(rows_of(Scope.SERVICE))
    return dict(conditions.raw)


def test_a_healthy_service_has_nothing_past_its_limit() -> None:
    assert {raw.side for raw in service().values()} == {WITHIN}


def test_the_service_says_when_time_jumps_and_when_it_was_off() -> None:
    assert service(clock_jump_s=-3600.0)[AlarmId.CLOCK_JUMP].side is BEYOND
    assert service(clock_jump_s=29.0)[AlarmId.CLOCK_JUMP].side is WITHIN
    assert service(restart_gap_s=0.0)[AlarmId.DAEMON_RESTARTED] == Raw(BEYOND, {"gap_s": 0.0})


def test_a_failed_write_stands_until_the_next_try_has_had_its_time() -> None:
    log_full = service(flush_failure_age_s=5.0)[AlarmId.LOG_FULL]
    assert (log_full.side, log_full.why) == (BEYOND, "not-written")
    assert service(flush_failure_age_s=121.0)[AlarmId.LOG_FULL].side is WITHIN
    assert FLUSH_FAILURE_COUNTS_S > 60.0  # the journal is written once a minute


@pytest.mark.parametrize(
    ("free_bytes", "size_bytes", "expected"),
    [
        pytest.param(199_000_000, 1 * GB, BEYOND, id="below 200 MB, 20 % of a small disk"),
        pytest.param(201_000_000, 1 * GB, WITHIN, id="above both"),
        pytest.param(1 * GB, 32 * GB, BEYOND, id="1 GB, 3 % of a large disk"),
        pytest.param(2 * GB, 32 * GB, WITHIN, id="2 GB, 6 % of it"),
        pytest.param(0, 0, BEYOND, id="a disk that says it has no size"),
    ],
)
def test_less_than_200_mb_or_5_pct_of_the_disk_is_little_space(
    free_bytes: int, size_bytes: int, expected: Side
) -> None:
    disk = DiskSpace(free_bytes=free_bytes, size_bytes=size_bytes)
    log_full = service(disk=disk)[AlarmId.LOG_FULL]
    assert log_full.side is expected
    assert log_full.why == ("little-space" if expected is BEYOND else "")
    assert "200 MB or 5 % of the disk" in TABLE[AlarmId.LOG_FULL].limit


def test_a_disk_that_cannot_be_asked_is_judged_by_its_writes_alone() -> None:
    assert service(disk=None)[AlarmId.LOG_FULL].side is WITHIN
    assert service(disk=None, flush_failure_age_s=0.0)[AlarmId.LOG_FULL].side is BEYOND


@pytest.mark.parametrize(("unseen_h", "expected"), [(25.9, WITHIN), (26.0, BEYOND), (-1.0, WITHIN)])
def test_a_look_is_missed_after_26_hours(unseen_h: float, expected: Side) -> None:
    batch = HangingBatch(number=3, unseen_s=unseen_h * HOUR_S, groups=())
    conditions = batch_conditions(batch)
    assert set(conditions.raw) == set(rows_of(Scope.BATCH))
    assert conditions.raw[AlarmId.INSPECTION_MISSED].side is expected


@pytest.mark.parametrize(
    ("yield_pct", "expected"), [(70.1, WITHIN), (70.0, BEYOND), (55.0, BEYOND), (None, UNKNOWN)]
)
def test_a_group_is_past_its_target_at_its_yield_and_unknown_until_it_was_weighed(
    yield_pct: float | None, expected: Side
) -> None:
    group = HangingGroup(letter="A", yield_pct=yield_pct, target_yield_pct=70.0)
    conditions = group_conditions(group)
    assert set(conditions.raw) == set(rows_of(Scope.GROUP))
    assert conditions.raw[AlarmId.BATCH_PAST_TARGET].side is expected
