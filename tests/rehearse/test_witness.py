"""The witness is fed what must never happen, and has to say so; and what may, and has to be still."""

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


def test_a_rest_counts_on_through_a_time_without_a_program() -> None:
    witness = Witness(PLAN)
    off = dict.fromkeys(PLAN.relays, False)
    witness.look(off | {C: True}, [reading(0.0)], uptime_s=0.0)
    # A power cut may end a run at any moment; the rest after it is owed all the same.
    assert witness.look(off, [None], uptime_s=10.0, running=False) == []
    assert witness.look(off | {C: True}, [reading(50.0)], uptime_s=50.0) != []
