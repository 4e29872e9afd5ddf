"""What the witness makes of a sensor: what nobody may go by, and what everybody must heed."""

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from math import nan

import pytest

from hangroom.simulation.witness import Witness
from hangroom.simulation.witness_senses import Sense
from hangroom.terms import AirReading, HumidityTarget, RelayKind, RelayRules, RoomPlan, Stage

START = datetime(2026, 4, 1, tzinfo=UTC)
H = RelayKind.HUMIDIFIER
PLAN = RoomPlan(
    name="closet",
    stage=Stage.HANG,
    humidity=HumidityTarget(setpoint_pct=80, band_pct=2, low_limit_pct=50, high_limit_pct=90),
    temperature=None,
    relays={H: RelayRules(min_on_s=0.0, min_off_s=0.0)},
)


def reading(uptime_s: float, humidity_pct: float, temperature_c: float = 12.0) -> AirReading:
    return AirReading(
        taken_at=START + timedelta(seconds=uptime_s),
        taken_uptime_s=uptime_s,
        temperature_c=temperature_c,
        humidity_pct=humidity_pct,
    )


def followed(
    humidities_pct: Iterable[float], *, any_on: bool = False, switched: bool = False
) -> Sense:
    """A sensor read every six seconds."""
    sense = Sense()
    for number, humidity_pct in enumerate(humidities_pct):
        sense.take(reading(6.0 * number, humidity_pct), any_on=any_on, switched=switched)
    return sense


MINUTE = 10  # readings
LIVELY = [78.0, 78.1] * 5 * MINUTE


@pytest.mark.parametrize(
    ("sense", "possible", "certain"),
    [
        pytest.param(followed([78.0]), True, True, id="the first reading"),
        pytest.param(followed([78.0, 90.0]), True, False, id="a jump"),
        pytest.param(followed([78.0, 90.0], any_on=True), True, True, id="a relay moved it"),
        pytest.param(followed([78.0, 90.0, *LIVELY]), True, True, id="long after a jump"),
        pytest.param(followed([78.0, 99.8]), False, False, id="at the top"),
        pytest.param(followed([nan]), False, False, id="no number"),
        pytest.param(followed([78.0, nan]), True, False, id="what was before no number"),
        pytest.param(followed([nan, nan, nan, 78.0]), False, False, id="erratic"),
        pytest.param(followed([nan, nan, 78.0]), True, False, id="two bad ones"),
        pytest.param(followed([nan, nan, nan, *LIVELY]), True, True, id="erratic long ago"),
        pytest.param(followed([99.6] * 30 * MINUTE), True, False, id="wet for half an hour"),
        pytest.param(followed([99.6] * 32 * MINUTE), False, False, id="wet for longer"),
        pytest.param(followed([78.0] * 122 * MINUTE), True, False, id="still, nothing switched"),
        pytest.param(
            followed([78.0] * 122 * MINUTE, switched=True), False, False, id="still for 2 h"
        ),
        pytest.param(
            followed([78.0] * 119 * MINUTE, switched=True), True, False, id="still for less"
        ),
    ],
)
def test_a_sensor_is_worth_nothing_or_all_or_lies_between(
    sense: Sense, possible: bool, certain: bool
) -> None:
    assert (sense.possible() is not None, sense.certain() is not None) == (possible, certain)


def test_the_glitch_of_a_dht22_is_no_measurement() -> None:
    sense = Sense()
    sense.take(reading(0.0, 25.5, 25.5), any_on=False, switched=False)
    assert sense.possible() is None


def verdict(*readings: AirReading, uptime_s: float) -> list[str]:
    return Witness(PLAN).look({H: True}, readings, uptime_s=uptime_s)


def test_of_two_sensors_the_moister_has_the_say_in_what_is_too_moist() -> None:
    assert any("hard limit" in line for line in verdict(reading(0, 70), reading(0, 90), uptime_s=1))
    assert verdict(reading(0, 70), reading(0, 89.9), uptime_s=1) == []


def test_a_sensor_in_doubt_has_no_say_beside_one_that_is_not() -> None:
    witness = Witness(PLAN)
    witness.look({H: False}, [reading(0, 70), reading(0, 70)], uptime_s=0)
    assert witness.look({H: True}, [reading(6, 70), reading(6, 95)], uptime_s=6) == []
    # Alone it has: whether control trusts it or not, the humidifier is off.
    witness = Witness(PLAN)
    witness.look({H: False}, [reading(0, 70)], uptime_s=0)
    assert witness.look({H: True}, [reading(6, 95)], uptime_s=6) != []


def test_a_new_program_knows_nothing_of_what_its_sensors_did_before() -> None:
    witness = Witness(PLAN)
    for number in range(4):
        witness.look({H: False}, [reading(6.0 * number, nan)], uptime_s=6.0 * number)
    assert any("30 s" in line for line in witness.look({H: True}, [reading(24, 70)], uptime_s=24))
    witness.look({H: False}, [reading(24, 70)], uptime_s=26, running=False)
    assert witness.look({H: True}, [reading(30, 70)], uptime_s=30) == []
