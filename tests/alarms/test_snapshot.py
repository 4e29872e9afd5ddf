"""What a restart keeps, and what it does not trust."""

import json
from datetime import UTC, datetime, timedelta
from math import inf
from typing import Any

import pytest

from hangroom.alarm_table.row import AlarmId, Scope
from hangroom.alarm_table.table import rows_of
from hangroom.alarm_table.words import Event, Suppression
from hangroom.control.alarms.acts import Act, shelve
from hangroom.control.alarms.bank import Bank, Conditions, evaluate, new_bank, settling_in
from hangroom.control.alarms.delays import Raw, Side
from hangroom.control.alarms.snapshot import restore, snapshot
from hangroom.errors import StoreError

BEGAN = datetime(2026, 11, 1, tzinfo=UTC)
ROWS = rows_of(Scope.ROOM)
CHATTER = AlarmId.RELAY_CHATTER


def shelved() -> Bank:
    """Return a bank with one alarm shelved for 2 h at second 1000."""
    act = Act(alarm=CHATTER, by="keeper", uptime_s=1000.0, now=BEGAN, sequence=0)
    return shelve(new_bank(ROWS, uptime_s=0.0), act, for_s=7200.0, reason="parts")[0]


@pytest.mark.parametrize(
    ("woke_after_h", "left_s"),
    [
        pytest.param(0.5, 5400.0, id="the shelf went on while the program was off"),
        pytest.param(3.0, 0.0, id="it ended while the program was off"),
        pytest.param(-48.0, 0.0, id="a clock that went back says nothing, so it ends"),
    ],
)
def test_a_shelf_does_not_grow_by_a_restart(woke_after_h: float, left_s: float) -> None:
    kept = json.loads(json.dumps(snapshot(shelved(), uptime_s=1000.0, now=BEGAN)))
    woke_at = BEGAN + timedelta(hours=woke_after_h)
    bank = restore(kept, ROWS, uptime_s=12.0, now=woke_at)
    hold = bank.alarms[CHATTER].state.holds[Suppression.SHELVED]
    assert (hold.by, hold.reason, hold.since) == ("keeper", "parts", BEGAN)
    assert hold.ends_uptime_s == pytest.approx(12.0 + left_s)


def test_what_was_told_and_latched_is_so_after_a_restart() -> None:
    hard = AlarmId.TEMPERATURE_HIGH_HIGH
    bank = new_bank(ROWS, uptime_s=0.0)
    for uptime_s in (0.0, 60.0):
        raw = Conditions(raw={hard: Raw(Side.BEYOND)})
        bank, _ = evaluate(bank, raw, uptime_s=uptime_s, now=BEGAN, sequence=0)
    kept = json.loads(json.dumps(snapshot(bank, uptime_s=60.0, now=BEGAN)))
    bank = restore(kept, ROWS, uptime_s=0.0, now=BEGAN)
    assert bank.alarms[hard].state.display == "active, unacknowledged"
    raw = Conditions(raw={hard: Raw(Side.WITHIN)})
    for uptime_s in (0.0, 300.0):
        bank, _ = evaluate(bank, raw, uptime_s=uptime_s, now=BEGAN, sequence=0)
    assert bank.alarms[hard].state.display == "latched, unacknowledged"


def test_alarms_that_are_new_begin_normal_and_those_that_are_no_more_are_dropped() -> None:
    kept = snapshot(shelved(), uptime_s=1000.0, now=BEGAN)
    kept["alarms"]["no-such-alarm"] = kept["alarms"].pop("relay-chatter")
    bank = restore(kept, ROWS, uptime_s=0.0, now=BEGAN)
    assert set(bank.alarms) == set(ROWS)
    assert bank.alarms[CHATTER].state.display == "normal"


def test_how_long_an_alarm_was_quiet_goes_on_while_the_program_is_off() -> None:
    # High ones are told again after 4 h; half of that passed before the restart, half in it.
    stale = AlarmId.SENSOR_STALE
    beyond = Conditions(raw={stale: Raw(Side.BEYOND)})
    bank = new_bank(ROWS, uptime_s=-1e6)
    for uptime_s in (0.0, 600.0):
        bank, _ = evaluate(bank, beyond, uptime_s=uptime_s, now=BEGAN, sequence=0)
    told_s = bank.alarms[stale].state.quiet_since_uptime_s
    assert told_s is not None
    kept = snapshot(bank, uptime_s=told_s + 7200.0, now=BEGAN)
    bank = restore(kept, ROWS, uptime_s=20.0, now=BEGAN + timedelta(hours=2))
    again = [
        event.event
        for uptime_s in (10.0, 20.0)
        for event in evaluate(bank, beyond, uptime_s=uptime_s, now=BEGAN, sequence=0)[1]
        if event.alarm is stale
    ]
    assert again == [Event.RE_ALARMED]


def test_a_room_goes_on_settling_in_after_a_restart() -> None:
    bank = settling_in(new_bank(ROWS, uptime_s=0.0), uptime_s=1000.0)
    kept = json.loads(json.dumps(snapshot(bank, uptime_s=1600.0, now=BEGAN)))
    again = restore(kept, ROWS, uptime_s=5.0, now=BEGAN + timedelta(seconds=300))
    assert again.settled_uptime_s == pytest.approx(5.0 + 1800.0 - 600.0 - 300.0)


def test_what_brought_an_alarm_on_is_known_after_a_restart() -> None:
    bank = new_bank(ROWS, uptime_s=-1e6)
    raw = Raw(Side.BEYOND, {"age_s": 40.0, "limit_pct": inf}, why="stale-reading")
    for uptime_s in (0.0, 600.0):
        seen = Conditions(raw={AlarmId.SENSOR_STALE: raw})
        bank, _ = evaluate(bank, seen, uptime_s=uptime_s, now=BEGAN, sequence=0)
    text = json.dumps(snapshot(bank, uptime_s=600.0, now=BEGAN), allow_nan=False)
    alarm = restore(json.loads(text), ROWS, uptime_s=0.0, now=BEGAN).alarms[AlarmId.SENSOR_STALE]
    assert alarm.turned_at == BEGAN
    assert (alarm.came_on.figures, alarm.came_on.why) == ({"age_s": 40.0}, "stale-reading")


def test_a_snapshot_says_nothing_of_alarms_of_which_there_is_nothing_to_say() -> None:
    kept = snapshot(shelved(), uptime_s=1000.0, now=BEGAN)
    assert list(kept["alarms"]) == ["relay-chatter"]


def broken(**changes: object) -> dict[str, Any]:
    kept = snapshot(shelved(), uptime_s=1000.0, now=BEGAN)
    kept["alarms"]["relay-chatter"].update(changes)
    return kept


def whole(**changes: object) -> dict[str, Any]:
    return {**snapshot(shelved(), uptime_s=1000.0, now=BEGAN), **changes}


@pytest.mark.parametrize(
    "kept",
    [
        {},
        whole(saved_at="yesterday"),
        whole(saved_at="2026-11-01T00:00:00"),
        whole(alarms=None),
        whole(alarms={"relay-chatter": 3}),
        whole(settled_in_s="soon"),
        broken(turned_at="then"),
        broken(condition="perhaps"),
        broken(quiet_s="long"),
        broken(holds={"asleep": {}}),
    ],
)
def test_a_snapshot_that_cannot_be_understood_is_refused_and_says_so(kept: dict[str, Any]) -> None:
    with pytest.raises(StoreError, match="Look through the alarms"):
        restore(kept, ROWS, uptime_s=0.0, now=BEGAN)
