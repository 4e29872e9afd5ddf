"""The alarms of whole rehearsals: the real loop on simulated rooms, through days and faults."""

from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path

import pytest
from rehearse.scenarios import CLOSET, fault, run

from hangroom.alarm_table.log import SERVICE, AlarmEvent, of_room
from hangroom.alarm_table.row import AlarmId, Priority
from hangroom.alarm_table.words import Event, Suppression, Tell
from hangroom.cli.rehearsal import Rehearsal
from hangroom.cli.rehearsal_alarms import AlarmSpan, spans

REHEARSALS = Path(__file__).parents[1] / "rehearsals"
HUMIDITY = {
    AlarmId.HUMIDITY_HIGH,
    AlarmId.HUMIDITY_HIGH_HIGH,
    AlarmId.HUMIDITY_LOW,
    AlarmId.HUMIDITY_LOW_LOW,
}
# Warm enough that the air around this closet, which nothing cools, is no alarm.
MILD = CLOSET.replace(
    "[settings.room.closet.sensor.rail]",
    "[settings.room.closet.food_limits]\nhigh_c = 25.0\n[settings.room.closet.sensor.rail]",
)


def told(rehearsal: Rehearsal) -> list[AlarmId]:
    return [alarm.id for alarm in rehearsal.alarms]


@pytest.mark.slow
def test_24_door_openings_in_3_days_make_no_humidity_alarm(tmp_path: Path) -> None:
    text = (REHEARSALS / "busy-door.toml").read_text(encoding="utf-8")
    busy = run(tmp_path, text)
    assert len(busy.scenario.faults) == 24
    # As for every other figure, the first hours of a room that knows nothing yet are left out.
    learned_s = 3600.0 * busy.scenario.warmup_h
    assert [a.id for a in busy.alarms if a.id in HUMIDITY and a.raised_s > learned_s] == []


@pytest.mark.slow
def test_healthy_days_ask_for_a_person_at_most_once_a_day(tmp_path: Path) -> None:
    # tests/bench/alarm_days.py runs a month of each kind of room.
    leaky = (REHEARSALS / "leaky-closet.toml").read_text(encoding="utf-8")
    leaky = leaky[: leaky.index("[[fault]]")].replace("days = 3.0", "days = 2.0")
    healthy = run(tmp_path, leaky)
    assert not healthy.scenario.faults
    assert len(healthy.alarms) <= 2


def test_a_dead_sensor_is_one_alarm_and_not_one_for_each_consequence(tmp_path: Path) -> None:
    silent = run(tmp_path, MILD + fault("sensor-silent", at_h=0.6, for_h=9.0))
    [alarm] = silent.alarms
    assert (alarm.id, alarm.room, alarm.priority) == (
        AlarmId.SENSOR_STALE,
        "closet",
        Priority.HIGH,
    )
    # 30 s for which the last reading counts, then the alarm's own delay of 120 s.
    assert 0.6 * 3600 + 150 <= alarm.raised_s <= 0.6 * 3600 + 170
    assert alarm.cleared_s is None


def test_a_power_cut_is_told_afterwards_with_how_long_nothing_was_recorded(
    tmp_path: Path,
) -> None:
    cut = run(tmp_path, MILD + fault("power-cut", at_h=1.0, for_h=0.5))
    [alarm] = [alarm for alarm in cut.alarms if alarm.id is AlarmId.DAEMON_RESTARTED]
    assert alarm.room == ""
    # Half an hour of darkness and 30 s to boot; a minute before it may not have been written.
    assert 5400 + 30 <= alarm.raised_s < 5400 + 40


def test_a_full_disk_is_told_and_is_no_alarm_once_there_is_room_again(tmp_path: Path) -> None:
    full = run(tmp_path, MILD + fault("disk-full", at_h=0.8, for_h=0.5))
    [alarm] = full.alarms
    assert (alarm.id, alarm.room) == (AlarmId.LOG_FULL, "")
    assert alarm.cleared_s is not None
    assert 0 <= alarm.raised_s - 0.8 * 3600 <= 80  # the next minute's write, then the next look
    assert 300 <= alarm.cleared_s - 1.3 * 3600 <= 380  # its off-delay after the first good write


def happened(
    second: int, event: Event, tell: Tell, *, scope: str = of_room("closet")
) -> tuple[str, AlarmEvent]:
    return scope, AlarmEvent(
        sequence=second + 1,
        at=datetime(2026, 4, 1, tzinfo=UTC) + timedelta(seconds=second),
        uptime_s=float(second),
        alarm=AlarmId.HUMIDITY_LOW,
        event=event,
        tell=tell,
        suppression=Suppression.NONE,
        occurrences=1,
    )


def test_an_alarm_lasts_from_when_it_was_told_to_when_its_condition_had_passed() -> None:
    told_, quiet, again = Tell.ANNUNCIATE, Tell.NOTHING, Tell.ANNUNCIATE_AGAIN
    log = [
        happened(10, Event.ACTIVATED, quiet),  # suppressed by design
        happened(20, Event.RETURNED_TO_NORMAL, quiet),
        happened(30, Event.ACTIVATED, quiet),
        happened(40, Event.UNSUPPRESSED, told_),
        happened(45, Event.ACTIVATED, told_, scope=SERVICE),
        happened(50, Event.RE_ALARMED, again),
        happened(60, Event.RETURNED_TO_NORMAL, quiet),
        happened(70, Event.ACTIVATED, told_),
    ]
    common = {"id": AlarmId.HUMIDITY_LOW, "priority": Priority.MEDIUM}
    assert spans(log) == (
        AlarmSpan(room="closet", raised_s=40.0, cleared_s=60.0, **common),  # type: ignore[arg-type]
        AlarmSpan(room="", raised_s=45.0, **common),  # type: ignore[arg-type]
        AlarmSpan(room="closet", raised_s=70.0, **common),  # type: ignore[arg-type]
    )


def test_events_are_numbered_on_through_power_cuts(tmp_path: Path) -> None:
    text = MILD + fault("power-cut", at_h=0.7, for_h=0.1) + fault("power-cut", at_h=1.4, for_h=0.1)
    numbers = [event.sequence for _, event in run(tmp_path, text).alarm_log]
    assert len(numbers) > 3
    assert all(after > before for before, after in pairwise(numbers))
