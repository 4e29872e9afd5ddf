"""What a person may do with an alarm, and why it is refused."""

from datetime import UTC, datetime, timedelta
from functools import partial

import pytest

from hangroom.alarm_table.row import AlarmId, Scope
from hangroom.alarm_table.table import rows_of
from hangroom.alarm_table.words import Event
from hangroom.control.alarms import acts
from hangroom.control.alarms.acts import Act
from hangroom.control.alarms.bank import Bank, Conditions, evaluate, new_bank
from hangroom.control.alarms.delays import Raw, Side
from hangroom.errors import InputError

BEGAN = datetime(2026, 11, 1, tzinfo=UTC)
CHATTER = AlarmId.RELAY_CHATTER
BEYOND = Conditions(raw={CHATTER: Raw(Side.BEYOND)})


def act(alarm: AlarmId = CHATTER, *, uptime_s: float = 10.0) -> Act:
    return Act(
        alarm=alarm,
        by="keeper",
        uptime_s=uptime_s,
        now=BEGAN + timedelta(seconds=uptime_s),
        sequence=7,
    )


def raised() -> Bank:
    bank = new_bank(rows_of(Scope.ROOM), uptime_s=-1e6)
    return evaluate(bank, BEYOND, uptime_s=0.0, now=BEGAN, sequence=0)[0]


def test_an_act_is_logged_with_who_when_and_the_next_number() -> None:
    bank, (event,) = acts.acknowledge(raised(), act())
    assert (event.by, event.sequence, event.event) == ("keeper", 8, Event.ACKNOWLEDGED)
    assert event.at == BEGAN + timedelta(seconds=10)
    assert bank.alarms[CHATTER].state.display == "active, acknowledged"


def test_a_shelf_is_logged_with_its_reason_and_ends_by_itself() -> None:
    bank, (event,) = acts.shelve(raised(), act(), for_s=3600.0, reason=" new relay ordered ")
    assert (event.by, event.reason) == ("keeper", "new relay ordered")
    bank, events = evaluate(bank, BEYOND, uptime_s=3609.9, now=BEGAN, sequence=8)
    assert events == ()
    bank, (ended,) = evaluate(bank, BEYOND, uptime_s=3610.0, now=BEGAN, sequence=8)
    assert ended.event is Event.SHELF_ENDED
    assert bank.alarms[CHATTER].state.display == "active, unacknowledged"


@pytest.mark.parametrize(
    ("refused", "message"),
    [
        (partial(acts.reset, act=act()), "still active. Mend its cause"),
        (partial(acts.shelve, act=act(), for_s=86401.0, reason="x"), "for 24 h at most"),
        (partial(acts.shelve, act=act(), for_s=0.0, reason="x"), "for 24 h at most"),
        (partial(acts.shelve, act=act(), for_s=float("nan"), reason="x"), "for 24 h at most"),
        (
            partial(acts.shelve, act=act(AlarmId.SENSOR_STALE), for_s=3601.0, reason="x"),
            "for 1 h at most",
        ),
        (partial(acts.shelve, act=act(), for_s=60.0, reason="  "), "Say why"),
        (partial(acts.take_out_of_service, act=act(), reason=""), "Say why"),
        (partial(acts.unshelve, act=act()), "is not shelved"),
        (partial(acts.return_to_service, act=act()), "is not out of service"),
        (partial(acts.acknowledge, act=act(AlarmId.LOG_FULL)), "no alarm log-full here"),
        (partial(acts.begin_inspection, for_s=901.0, uptime_s=0.0), "15 min at most"),
    ],
)
def test_what_may_not_be_done_is_refused_with_what_to_do(
    refused: "partial[object]", message: str
) -> None:
    bank = raised()
    with pytest.raises(InputError, match=message):
        refused(bank)
    assert bank == raised()


def test_an_alarm_is_reset_only_after_it_was_acknowledged() -> None:
    hard = AlarmId.TEMPERATURE_HIGH_HIGH
    bank = raised()
    for uptime_s, side in ((0.0, Side.BEYOND), (60.0, Side.BEYOND), (70.0, Side.WITHIN)):
        seen = Conditions(raw={hard: Raw(side)})
        bank, _ = evaluate(bank, seen, uptime_s=uptime_s, now=BEGAN, sequence=0)
    within = Conditions(raw={hard: Raw(Side.WITHIN)})
    bank, _ = evaluate(bank, within, uptime_s=370.0, now=BEGAN, sequence=0)
    assert bank.alarms[hard].state.display == "latched, unacknowledged"
    with pytest.raises(InputError, match="Acknowledge it, then reset it"):
        acts.reset(bank, act(hard))
    bank, _ = acts.acknowledge(bank, act(hard))
    bank, _ = acts.reset(bank, act(hard))
    assert bank.alarms[hard].state.display == "normal"


def test_maintenance_lasts_until_a_person_ends_it() -> None:
    bank, _ = acts.take_out_of_service(raised(), act(), reason="board changed")
    bank, events = evaluate(bank, BEYOND, uptime_s=1e7, now=BEGAN, sequence=8)
    assert events == ()
    assert bank.alarms[CHATTER].state.display == "out of service"
    bank, _ = acts.return_to_service(bank, act(uptime_s=1e7))
    assert bank.alarms[CHATTER].state.display == "active, unacknowledged"
