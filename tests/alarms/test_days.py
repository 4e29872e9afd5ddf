"""Days of humidity through the alarms: opened doors, noise at the limit, a true excursion, a month.

The series are invented; their shape follows published data. Noise of sd 0.25 % is a quarter of
the +-1 % repeatability in the DHT22's data sheet. A door open for 1 min brings the room most of the
way to the air outside, and it comes back with a time constant of the order of volume over fan flow
(1 m3, 30 m3/h: 120 s). For contrast the same series runs without deadband and delays.
"""

from collections.abc import Callable, Iterator
from datetime import timedelta
from math import exp, pi, sin
from random import Random

import pytest
from alarms.rooms import BEGAN, CLOSET, SETPOINT_PCT, reading, seen

from hangroom.alarm_table.log import AlarmEvent
from hangroom.alarm_table.row import AlarmId, Scope
from hangroom.alarm_table.table import TABLE, rows_of
from hangroom.control.alarms.bank import Bank, evaluate, new_bank
from hangroom.control.alarms.conditions import HUMIDITY_OFF_BY_PCT, room_conditions
from hangroom.control.alarms.delays import Delayed, Side, above, below, delayed
from hangroom.control.alarms.rates import annunciations, annunciations_per_day, chattering, floods
from hangroom.control.alarms.rates import stale as stale_at

DAY_S = 86400
TICK_S = 2
NOISE_SD_PCT = 0.25
HIGH_PCT, LOW_PCT = SETPOINT_PCT + HUMIDITY_OFF_BY_PCT, SETPOINT_PCT - HUMIDITY_OFF_BY_PCT


def activations(
    series: Iterator[float],
    side: Callable[..., Side],
    *,
    limit_pct: float,
    deadband_pct: float,
    on_delay_s: float,
    off_delay_s: float,
) -> int:
    """Count how often a condition comes on over a series of one figure a tick."""
    state, count = Delayed(), 0
    for tick, seen_pct in enumerate(series):
        new = delayed(
            state,
            side(seen_pct, limit=limit_pct, deadband=deadband_pct),
            on_delay_s=on_delay_s,
            off_delay_s=off_delay_s,
            uptime_s=float(tick * TICK_S),
        )
        count += new.active and not state.active
        state = new
    return count


def with_doors(rng: Random, *, reach_pct: float) -> Iterator[float]:
    """Yield 3 days in the band with a door open for 1 min 24 times, towards the air outside."""
    away_pct = 0.0
    for tick in range(3 * DAY_S // TICK_S):
        uptime_s = tick * TICK_S
        door_open = uptime_s % (3 * 3600) < 60
        towards_pct, constant_s = (reach_pct, 60.0) if door_open else (0.0, 120.0)
        away_pct += (towards_pct - away_pct) * (1 - exp(-TICK_S / constant_s))
        cycle_pct = 1.5 * sin(2 * pi * uptime_s / 300)
        yield SETPOINT_PCT + cycle_pct + away_pct + rng.gauss(0, NOISE_SD_PCT)


def at_the_limit(rng: Random, limit_pct: float) -> Iterator[float]:
    """Yield 3 days of noise on a wave of +-0.8 %, 6 h long, at the limit itself."""
    for tick in range(3 * DAY_S // TICK_S):
        wave_pct = 0.8 * sin(2 * pi * tick * TICK_S / (6 * 3600))
        yield limit_pct + wave_pct + rng.gauss(0, NOISE_SD_PCT)


def of_row(alarm: AlarmId) -> dict[str, float]:
    row = TABLE[alarm]
    return {
        "deadband_pct": row.deadband_pct,
        "on_delay_s": row.on_delay_s,
        "off_delay_s": row.off_delay_s,
    }


BARE = {"deadband_pct": 0.0, "on_delay_s": 0.0, "off_delay_s": 0.0}
BOTH = [
    pytest.param(AlarmId.HUMIDITY_HIGH, above, HIGH_PCT, 15.0, id="moist air outside"),
    pytest.param(AlarmId.HUMIDITY_LOW, below, LOW_PCT, -15.0, id="dry air outside"),
]


@pytest.mark.parametrize(("alarm", "side", "limit_pct", "reach_pct"), BOTH)
def test_24_opened_doors_make_no_alarm_where_without_delays_each_makes_several(
    alarm: AlarmId, side: Callable[..., Side], limit_pct: float, reach_pct: float
) -> None:
    def doors() -> Iterator[float]:
        return with_doors(Random(1), reach_pct=reach_pct)

    assert activations(doors(), side, limit_pct=limit_pct, **BARE) > 24
    assert activations(doors(), side, limit_pct=limit_pct, **of_row(alarm)) == 0


@pytest.mark.parametrize(("alarm", "side", "limit_pct", "reach_pct"), BOTH)
def test_noise_at_the_limit_makes_at_most_one_alarm_a_day_where_without_deadband_it_makes_thousands(
    alarm: AlarmId, side: Callable[..., Side], limit_pct: float, reach_pct: float
) -> None:
    del reach_pct

    def noise() -> Iterator[float]:
        return at_the_limit(Random(2), limit_pct)

    assert activations(noise(), side, limit_pct=limit_pct, **BARE) > 1000 * 3
    assert 1 <= activations(noise(), side, limit_pct=limit_pct, **of_row(alarm)) <= 1 * 3


def ticked(
    bank: Bank, log: list[AlarmEvent], *, uptime_s: float, humidity_pct: float, taken_s: float
) -> Bank:
    """Take a bank through one tick, with the newest sample taken at `taken_s`; extend the log."""
    sample = reading(humidity_pct, taken_uptime_s=taken_s)
    bank, events = evaluate(
        bank,
        room_conditions(seen(sample, plan=CLOSET, uptime_s=uptime_s, running_s=uptime_s)),
        uptime_s=uptime_s,
        now=BEGAN + timedelta(seconds=uptime_s),
        sequence=len(log),
    )
    log += events
    return bank


@pytest.mark.parametrize(
    ("off_by_pct", "alarm"), [(6.0, AlarmId.HUMIDITY_HIGH), (-6.0, AlarmId.HUMIDITY_LOW)]
)
@pytest.mark.parametrize("seed", range(10))
def test_a_true_excursion_of_6_pct_is_told_within_6_minutes(
    off_by_pct: float, alarm: AlarmId, seed: int
) -> None:
    rng, log = Random(seed), list[AlarmEvent]()
    bank = new_bank(rows_of(Scope.ROOM), uptime_s=0.0)
    for uptime_s in range(0, 4000, TICK_S):
        off_pct = off_by_pct if uptime_s >= 3600 else 0.0
        humidity_pct = SETPOINT_PCT + off_pct + rng.gauss(0, NOISE_SD_PCT)
        bank = ticked(
            bank, log, uptime_s=float(uptime_s), humidity_pct=humidity_pct, taken_s=float(uptime_s)
        )
    (told,) = annunciations(log)
    assert told.alarm is alarm
    assert 3600 < told.uptime_s <= 3600 + 6 * 60


@pytest.mark.slow
def test_a_healthy_month_asks_for_a_person_less_than_once_a_day() -> None:
    # In the band, 8 opened doors a day, 2 % of samples lost, and each day one gap of 30 to 120 s.
    rng, log = Random(3), list[AlarmEvent]()
    bank = new_bank(rows_of(Scope.ROOM), uptime_s=0.0)
    taken_s, held_pct, away_pct, gap = 0.0, SETPOINT_PCT, 0.0, (0.0, 0.0)
    month_s, tick_s = 30 * DAY_S, 20
    for uptime_s in range(0, month_s, tick_s):
        if uptime_s % DAY_S == 0:
            begins_s = uptime_s + rng.uniform(0, DAY_S - 200)
            gap = (begins_s, begins_s + rng.uniform(30, 120))
        door_open = uptime_s % (3 * 3600) < 60
        towards_pct, constant_s = (-15.0, 60.0) if door_open else (0.0, 120.0)
        away_pct += (towards_pct - away_pct) * (1 - exp(-tick_s / constant_s))
        if not gap[0] <= uptime_s < gap[1]:
            cycle_pct = 1.5 * sin(2 * pi * uptime_s / 300)
            held_pct = SETPOINT_PCT + cycle_pct + away_pct + rng.gauss(0, NOISE_SD_PCT)
            # A single lost sample leaves the one before it, 2 s older.
            taken_s = float(uptime_s - (TICK_S if rng.random() < 0.02 else 0))
        bank = ticked(bank, log, uptime_s=float(uptime_s), humidity_pct=held_pct, taken_s=taken_s)
    until = BEGAN + timedelta(seconds=month_s)
    told = annunciations(log)
    assert annunciations_per_day(log, since=BEGAN, until=until) <= 1.0
    assert {event.alarm for event in told} <= {AlarmId.SENSOR_STALE}
    assert not chattering(log)
    assert not floods(log, until=until)
    assert not stale_at(log, at=until)
