"""The witness is fed what must never happen, and has to say so; and what may, and has to be still."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from hangroom.simulation.witness import Witness
from hangroom.terms import (
    AirReading,
    HumidityTarget,
    RelayKind,
    RelayRules,
    RoomPlan,
    Stage,
    TemperatureTarget,
)

H, E, C, W = (
    RelayKind.HUMIDIFIER,
    RelayKind.EXHAUST_FAN,
    RelayKind.COOLING,
    RelayKind.HEATER,
)
START = datetime(2026, 4, 1, tzinfo=UTC)
PLAN = RoomPlan(
    name="closet",
    stage=Stage.HANG,
    humidity=HumidityTarget(setpoint_pct=80, band_pct=2, low_limit_pct=50, high_limit_pct=90),
    temperature=TemperatureTarget(setpoint_c=12, band_c=1, low_limit_c=2, high_limit_c=25),
    relays=dict.fromkeys((H, E, C, W), RelayRules(min_on_s=20.0, min_off_s=60.0)),
    settle_s=120.0,
)


def reading(uptime_s: float, humidity_pct: float = 80.0, temperature_c: float = 12.0) -> AirReading:
    return AirReading(
        taken_at=START + timedelta(seconds=uptime_s),
        taken_uptime_s=uptime_s,
        temperature_c=temperature_c,
        humidity_pct=humidity_pct,
    )


def looks(*ticks: tuple[float, set[RelayKind], AirReading | None]) -> list[str]:
    """What the witness says at the last of these ticks; each is moment, relays closed, reading."""
    witness = Witness(PLAN)
    wrong: list[str] = []
    for uptime_s, closed, seen in ticks:
        wrong = witness.look(
            {kind: kind in closed for kind in PLAN.relays}, [seen], uptime_s=uptime_s
        )
    return wrong


@pytest.mark.parametrize(
    ("says", "ticks"),
    [
        ("nothing was measured for 30 s", [(100.0, {H}, None)]),
        ("nothing was measured for 30 s", [(100.0, {H}, reading(69.0))]),
        ("nothing was measured for 30 s", [(100.0, {H}, reading(99.0, humidity_pct=99.9))]),
        ("nothing was measured for 30 s", [(100.0, {H}, reading(99.0, temperature_c=-3276.6))]),
        ("nothing was measured for 30 s", [(100.0, {H}, reading(99.0, float("nan")))]),
        ("hard limit", [(100.0, {H}, reading(99.0, humidity_pct=90.0))]),
        ("together", [(100.0, {H, E}, reading(99.0))]),
        ("together", [(100.0, {C, W}, reading(99.0))]),
        (
            "before the last dose of the humidifier has settled",
            [(0.0, {H}, reading(0.0)), (30.0, set(), reading(30.0)), (148.0, {E}, reading(148.0))],
        ),
        (
            "before the last dose of the exhaust-fan has settled",
            [(0.0, {E}, reading(0.0)), (30.0, set(), reading(30.0)), (148.0, {H}, reading(148.0))],
        ),
        (
            "before the last dose of the humidifier has settled",
            [(0.0, {H}, reading(0.0)), (30.0, {E}, reading(30.0))],
        ),
        (
            "on again before its rest",
            [(0.0, {C}, reading(0.0)), (30.0, set(), reading(30.0)), (88.0, {C}, reading(88.0))],
        ),
        ("off before its shortest run", [(0.0, {E}, reading(0.0)), (18.0, set(), reading(18.0))]),
        # The other side's limit is no excuse.
        (
            "off before its shortest run",
            [(0.0, {E}, reading(0.0)), (18.0, set(), reading(18.0, humidity_pct=95.0))],
        ),
        (
            "off before its shortest run",
            [(0.0, {W}, reading(0.0)), (18.0, set(), reading(18.0, temperature_c=1.0))],
        ),
    ],
)
def test_what_must_never_happen_is_named(
    says: str, ticks: list[tuple[float, set[RelayKind], AirReading | None]]
) -> None:
    assert any(says in line for line in looks(*ticks)), looks(*ticks)


@pytest.mark.parametrize(
    "ticks",
    [
        [(100.0, set(), None)],
        [(100.0, {H}, reading(70.0))],
        [(100.0, {H}, reading(99.0, humidity_pct=89.9))],
        [(0.0, {H}, reading(0.0)), (30.0, set(), reading(30.0)), (150.0, {E}, reading(150.0))],
        [(0.0, {C}, reading(0.0)), (30.0, set(), reading(30.0)), (90.0, {C}, reading(90.0))],
        [(0.0, {E}, reading(0.0)), (20.0, set(), reading(20.0))],
        [(0.0, {E}, reading(0.0)), (18.0, set(), reading(18.0, humidity_pct=50.0))],
        [(0.0, {C}, reading(0.0)), (18.0, set(), reading(18.0, temperature_c=2.0))],
        [(0.0, {W}, reading(0.0)), (18.0, set(), reading(18.0, temperature_c=25.0))],
        [(0.0, {C}, reading(0.0)), (18.0, set(), None)],
        [(100.0, {C, H}, reading(99.0))],
    ],
)
def test_what_may_happen_is_passed_over(
    ticks: list[tuple[float, set[RelayKind], AirReading | None]],
) -> None:
    assert looks(*ticks) == []


def said_in_turns(
    rules: RelayRules,
    *,
    on_s: int,
    off_s: int,
    until_s: int,
    relay: RelayKind = C,
    blind: bool = False,
) -> list[tuple[int, str]]:
    """What the witness says of a relay that is switched in turns, with the moments; a look a second."""
    witness = Witness(replace(PLAN, relays={relay: rules}))
    said = []
    for second in range(until_s):
        seen = None if blind else reading(float(second), humidity_pct=80.0 + second % 2)
        closed = {relay: second % (on_s + off_s) < on_s}
        said += [(second, wrong) for wrong in witness.look(closed, [seen], uptime_s=float(second))]
    return said


def test_a_run_a_start_and_a_second_too_many_are_named_when_they_come() -> None:
    free = RelayRules(min_on_s=0, min_off_s=0)
    said = said_in_turns(replace(free, max_run_s=100), on_s=101, off_s=50, until_s=150)
    assert said == [(100, "cooling on for longer than its longest run")]
    # Six starts an hour, one each ten minutes, are as many as it may; one each nine are not.
    six = replace(free, max_starts_per_h=6)
    assert said_in_turns(six, on_s=60, off_s=540, until_s=8000) == []
    said = said_in_turns(six, on_s=60, off_s=480, until_s=3400)
    assert said == [(3240, "cooling started more often than it may in an hour")]
    # A quarter of an hour: nine runs of 99 s are less, of 101 s more.
    quarter = replace(free, max_on_s_per_h=900)
    assert said_in_turns(quarter, on_s=99, off_s=301, until_s=8000) == []
    said = said_in_turns(quarter, on_s=101, off_s=299, until_s=3300)
    assert said[0] == (3200 + 900 - 8 * 101, "cooling on for longer than it may in an hour")


def test_a_blind_room_may_be_aired_for_9_minutes_of_an_hour_and_no_more() -> None:
    free = RelayRules(min_on_s=0, min_off_s=0)
    assert said_in_turns(free, on_s=270, off_s=1530, until_s=7200, relay=E, blind=True) == []
    said = said_in_turns(free, on_s=300, off_s=1500, until_s=7200, relay=E, blind=True)
    assert "15 % of an hour" in said[0][1]


def test_a_rest_counts_on_through_a_time_without_a_program() -> None:
    witness = Witness(PLAN)
    off = dict.fromkeys(PLAN.relays, False)
    witness.look(off | {C: True}, [reading(0.0)], uptime_s=0.0)
    # A power cut may end a run at any moment; the rest after it is owed all the same.
    assert witness.look(off, [None], uptime_s=10.0, running=False) == []
    assert witness.look(off | {C: True}, [reading(50.0)], uptime_s=50.0) != []
