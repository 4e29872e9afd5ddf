"""Whole decisions with several sensors: a limit is guarded by the sensor that is nearest to it."""

import json
from collections.abc import Sequence
from dataclasses import replace

from control.sensors.sensed import START, Values, reading
from hypothesis import given
from hypothesis import strategies as st

from hangroom.control.memory import starting_state
from hangroom.control.room import Decision, decide
from hangroom.control.snapshot import restored, snapshot, stamped
from hangroom.control.use import RelayMemory
from hangroom.terms import (
    Because,
    HumidityTarget,
    RelayKind,
    RelayRules,
    RoomPlan,
    Stage,
    TemperatureTarget,
)

NOW_S = 90_000.0
HUMIDIFIER, EXHAUST = RelayKind.HUMIDIFIER, RelayKind.EXHAUST_FAN
COOLING, HEATER = RelayKind.COOLING, RelayKind.HEATER
LOW_PCT, HIGH_PCT, LOW_C, HIGH_C = 50.0, 92.0, 2.0, 25.0
PLAN = RoomPlan(
    name="closet",
    stage=Stage.HANG,
    humidity=HumidityTarget(
        setpoint_pct=78, band_pct=2, low_limit_pct=LOW_PCT, high_limit_pct=HIGH_PCT
    ),
    temperature=TemperatureTarget(setpoint_c=13, band_c=1, low_limit_c=LOW_C, high_limit_c=HIGH_C),
    relays=dict.fromkeys(
        (HUMIDIFIER, EXHAUST, COOLING, HEATER), RelayRules(min_on_s=60, min_off_s=0)
    ),
)

# A cooled room's doses go by the mean over its compressor's cycle.
UNCOOLED = replace(PLAN, relays={kind: PLAN.relays[kind] for kind in (HUMIDIFIER, EXHAUST)})

sensors = st.lists(
    st.tuples(
        st.sampled_from([45.0, 49.9, 50.0, 50.1, 60.0, 76.1, 76.2, 78.0, 91.9, 92.0, 97.0]),
        st.sampled_from([-5.0, 1.9, 2.0, 2.1, 12.0, 13.0, 24.9, 25.0, 25.1, 40.0]),
    ),
    min_size=1,
    max_size=4,
)
one_on = st.sampled_from([None, HUMIDIFIER, EXHAUST, COOLING, HEATER])


def decided(values: Sequence[Values], closed: RelayKind | None, plan: RoomPlan = PLAN) -> Decision:
    """Decide on the first reading of every sensor, with one relay at the start of its run."""
    state = replace(
        starting_state(plan, uptime_s=0.0),
        trusted_once=True,
        relays={
            kind: RelayMemory(
                closed=kind is closed, changed_uptime_s=NOW_S - 2 if kind is closed else 0.0
            )
            for kind in plan.relays
        },
    )
    readings = {f"sensor {n}": reading(*value, at_s=NOW_S) for n, value in enumerate(values)}
    return decide(state, plan, readings, uptime_s=NOW_S)


@given(sensors, one_on)
def test_one_sensor_at_a_hard_limit_is_enough(
    values: Sequence[Values], closed: RelayKind | None
) -> None:
    told = {command.relay: command.closed for command in decided(values, closed).commands}
    humidities_pct, temperatures_c = zip(*values, strict=True)
    if max(humidities_pct) >= HIGH_PCT:
        assert not told[HUMIDIFIER]
    if min(humidities_pct) <= LOW_PCT:
        assert not told[EXHAUST]
    if min(temperatures_c) <= LOW_C:
        assert not told[COOLING]
    if max(temperatures_c) >= HIGH_C:
        assert not told[HEATER]


def told_of(kind: RelayKind, *values: Values) -> tuple[bool, str, float]:
    command = next(c for c in decided(values, None, UNCOOLED).commands if c.relay is kind)
    return command.closed, command.because.code, command.because.figures["seen_pct"]


def test_a_dose_of_water_begins_when_the_moistest_sensor_is_dry_enough() -> None:
    # The start lies at the edge of the band, 78 - 2 = 76 %.
    assert told_of(HUMIDIFIER, (70, 13), (76.1, 13)) == (False, "moist-enough", 76.1)
    assert told_of(HUMIDIFIER, (70, 13), (76.0, 13)) == (True, "too-dry", 76.0)


def test_a_dose_of_air_begins_by_the_middle_of_the_sensors() -> None:
    # The start lies at 78 + 0.95 x 2 = 79.9 %.
    assert told_of(EXHAUST, (77, 13), (82, 13)) == (False, "dry-enough", 79.5)
    assert told_of(EXHAUST, (77, 13), (83, 13)) == (True, "too-humid", 80.0)


def test_what_a_dose_of_water_is_judged_by_is_what_it_began_by() -> None:
    water = decided([(70, 13), (76.0, 13)], None, UNCOOLED)
    assert water.state.doses[HUMIDIFIER].from_pct == 76.0
    dry = decided([(77, 13), (83, 13)], None, UNCOOLED)
    assert dry.state.doses[EXHAUST].from_pct == 80.0


def test_a_restart_forgets_no_lost_trust() -> None:
    state = starting_state(PLAN, uptime_s=0.0)
    for number in range(3):
        bad = {"rail": reading(99.9, at_s=6.0 * number), "back": reading(78.0, at_s=6.0 * number)}
        state = decide(state, PLAN, bad, uptime_s=6.0 * number).state
    kept = json.loads(json.dumps(snapshot(state, uptime_s=20.0)))
    body = stamped(kept, boot_id="b", now=START, uptime_s=20.0)
    again, fault = restored(body, PLAN, gap_s=10.0, uptime_s=30.0)
    assert fault is None
    good = {"rail": reading(78.0, at_s=30.0), "back": reading(78.0, at_s=30.0)}
    verdicts = decide(again, PLAN, good, uptime_s=30.0).verdicts
    assert verdicts["rail"] == Because("regaining-trust", {"left_s": 300.0})
    assert verdicts["back"] == good["back"]


def test_every_sensor_has_its_verdict() -> None:
    decision = decided([(78, 13), (99.9, 13)], None)
    assert decision.verdicts["sensor 0"] == reading(78, 13, at_s=NOW_S)
    assert getattr(decision.verdicts["sensor 1"], "code", None) == "top-of-scale"
