"""What each fault does at the level of the whole service: the real loop in a simulated room."""

from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import pytest
from rehearse.scenarios import CLOSET, COLD, fault, run

from hangroom.cli.rehearsal import Rehearsal
from hangroom.cli.rehearsal_figures import RoomFigures, Switch
from hangroom.terms import RelayKind

HUMIDIFIER, EXHAUST, COOLING = RelayKind.HUMIDIFIER, RelayKind.EXHAUST_FAN, RelayKind.COOLING

# Moist outside and much fresh meat inside, so that the fan is what dries.
WET = CLOSET.replace("humidity_pct = 50.0", "humidity_pct = 70.0").replace("5.0", "12.0")
WET = WET.replace("[room.closet]\n", "[room.closet]\nach_per_h = 0.2\n")

# What the fault does to the true air or the contacts, seen against the healthy run. The sizes are
# far below what physics gives: a welded 300 g/h humidifier saturates a cubic metre in minutes, a
# sensor that reads 8 %RH too high makes control keep the room 8 %RH too dry.
Shows = Callable[[RoomFigures, RoomFigures], bool]
EFFECTS: list[tuple[str, str, dict[str, float], Shows]] = [
    ("tank-empty", CLOSET, {}, lambda it, ok: drop_pct(it, ok) > 2),
    ("tank-empty", CLOSET, {}, lambda it, ok: it.water_g_per_day < 0.6 * ok.water_g_per_day),
    ("humidifier-stuck-on", CLOSET, {}, lambda it, _: it.humidity_p99_pct > 92),
    ("humidifier-stuck-on", CLOSET, {}, lambda it, _: it.on_pct[HUMIDIFIER] > 60),
    (
        "humidifier-stuck-off",
        CLOSET,
        {},
        lambda it, ok: it.water_g_per_day < 0.6 * ok.water_g_per_day,
    ),
    ("fan-dead", WET, {}, lambda it, ok: it.humidity_mean_pct > ok.humidity_mean_pct + 2),
    ("fan-stuck-on", CLOSET, {}, lambda it, ok: it.on_pct[EXHAUST] > ok.on_pct[EXHAUST] + 50),
    ("sensor-frozen", CLOSET, {}, lambda it, ok: abs(drop_pct(it, ok)) > 1),
    ("sensor-wet", CLOSET, {}, lambda it, _: it.on_pct[HUMIDIFIER] < 1.0),
    ("sensor-silent", CLOSET, {}, lambda it, ok: drop_pct(it, ok) > 2),
    ("sensor-bias", CLOSET, {"size": 8.0}, lambda it, ok: 4 < drop_pct(it, ok) < 9),
    ("sensor-drift", CLOSET, {"size": 96.0}, lambda it, ok: 1 < drop_pct(it, ok) < 9),
    ("door-open", CLOSET, {}, lambda it, ok: drop_pct(it, ok) > 5),
    ("power-cut", COLD, {}, lambda it, ok: it.on_pct[COOLING] < 0.6 * ok.on_pct[COOLING]),
    ("cooling-dead", COLD, {}, lambda it, ok: it.temperature_mean_c > ok.temperature_mean_c + 0.5),
]


def drop_pct(it: RoomFigures, ok: RoomFigures) -> float:
    return ok.humidity_mean_pct - it.humidity_mean_pct


@pytest.fixture(scope="module")
def healthy(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Rehearsal]:
    folder = tmp_path_factory.mktemp("healthy")
    return {text: run(folder, text) for text in (CLOSET, COLD, WET)}


@pytest.mark.parametrize("effect", EFFECTS, ids=lambda effect: effect[0])
def test_a_fault_does_what_its_name_says(
    tmp_path: Path,
    healthy: dict[str, Rehearsal],
    effect: tuple[str, str, dict[str, float], Shows],
) -> None:
    kind, text, numbers, shows = effect
    it = run(tmp_path, text + fault(kind, at_h=0.6, for_h=9.0, **numbers)).figures["closet"]
    assert shows(it, healthy[text].figures["closet"]), it
    assert it.unsafe_states == 0


def test_spikes_reach_the_sensor_and_not_the_air(
    tmp_path: Path, healthy: dict[str, Rehearsal]
) -> None:
    # 15 %RH too low, now and then: the lowest reading lies that far below the lowest truth.
    spiky = run(tmp_path, CLOSET + fault("sensor-spike", at_h=0.6, for_h=9.0, size=-15.0))

    def lowest_pct(rehearsal: Rehearsal) -> tuple[float, float]:
        late = [c for c in rehearsal.records["closet"].columns[300:] if c.ticks]
        return min(c.sensed_pct[0] for c in late), min(c.humidity_pct[0] for c in late)

    sensed_pct, true_pct = lowest_pct(spiky)
    assert sensed_pct < true_pct - 10
    sensed_pct, true_pct = lowest_pct(healthy[CLOSET])
    assert sensed_pct > true_pct - 3


def switches(rehearsal: Rehearsal, relay: RelayKind) -> list[Switch]:
    return [s for s in rehearsal.records["closet"].switches if s.relay is relay]


def closed_at(rehearsal: Rehearsal, relay: RelayKind, at_s: float) -> bool:
    before = [s for s in switches(rehearsal, relay) if s.at_s <= at_s]
    return bool(before) and before[-1].closed


def test_a_humidifier_that_runs_when_its_sensor_falls_silent_is_off_within_30_s(
    tmp_path: Path,
) -> None:
    # A hall that this humidifier cannot moisten: doses grow until one lasts half an hour.
    hall = CLOSET.replace(
        "[room.closet]\n", "[room.closet]\nvolume_m3 = 60.0\nwall_kj_per_k = 900\n"
    )
    hall = hall.replace("pin = 17", "pin = 17\nmax_run_s = 1800.0")
    healthy = run(tmp_path, hall)
    long_run_s = next(
        earlier.at_s
        for earlier, later in zip(
            switches(healthy, HUMIDIFIER), switches(healthy, HUMIDIFIER)[1:], strict=False
        )
        if earlier.closed and later.at_s - earlier.at_s > 200
    )
    silent_s = long_run_s + 60.0
    silent = run(tmp_path, hall + fault("sensor-silent", at_h=silent_s / 3600, for_h=0.5))
    assert closed_at(healthy, HUMIDIFIER, silent_s + 60)
    assert closed_at(silent, HUMIDIFIER, silent_s)
    # A loop of two seconds may see the thirty seconds pass up to two seconds late.
    assert not any(
        closed_at(silent, HUMIDIFIER, silent_s + later_s) for later_s in range(32, 1700, 2)
    )


def test_after_a_power_cut_the_compressor_has_its_rest_counted_from_the_new_start(
    tmp_path: Path,
) -> None:
    # Never cool enough, so that the compressor would always run if it might.
    hot = COLD.replace("setpoint_c = 14.0", "setpoint_c = 2.0")
    cut = run(tmp_path, hot + fault("power-cut", at_h=1.0, for_h=0.05))
    assert closed_at(cut, COOLING, 3590)
    assert not closed_at(cut, COOLING, 3600)
    # 180 s of darkness, 30 s to boot, 300 s of rest: the usual anti-short-cycle time.
    again_s = next(s.at_s for s in switches(cut, COOLING) if s.at_s > 3600 and s.closed)
    assert 3600 + 180 + 30 + 300 <= again_s < 3600 + 180 + 30 + 300 + 20
    assert cut.figures["closet"].unsafe_states == 0


def runs_s(rehearsal: Rehearsal, relay: RelayKind) -> list[tuple[float, float]]:
    """When each run began and how long it lasted."""
    seen = switches(rehearsal, relay)
    return [(on.at_s, off.at_s - on.at_s) for on, off in pairwise(seen) if on.closed]


def test_a_power_cut_forgets_neither_what_was_learned_nor_a_lockout(tmp_path: Path) -> None:
    # 6 s is what a humidifier gives that has learned nothing.
    cut = run(tmp_path, CLOSET + fault("power-cut", at_h=1.2, for_h=0.05))
    before_s = [lasts_s for began_s, lasts_s in runs_s(cut, HUMIDIFIER) if began_s < 1.2 * 3600]
    after_s = [lasts_s for began_s, lasts_s in runs_s(cut, HUMIDIFIER) if began_s > 1.2 * 3600]
    assert before_s[0] == 6.0
    assert after_s[0] == before_s[-1] != 6.0
    # Locked out for 50 min from 900 s on; the machine is off for 3.5 min of it.
    hot = COLD.replace("setpoint_c = 14.0", "setpoint_c = 2.0")
    hot = hot.replace("pin = 22", "pin = 22\nmax_run_s = 600.0\nlockout_s = 3000.0")
    cut = run(tmp_path, hot + fault("power-cut", at_h=0.5, for_h=0.05))
    assert runs_s(cut, COOLING)[:2] == [(300.0, 600.0), (3900.0, 600.0)]
    assert cut.figures["closet"].unsafe_states == 0


def test_no_contact_carries_current_in_a_power_cut_and_no_relay_is_told_to_close(
    tmp_path: Path,
) -> None:
    cut = run(tmp_path, CLOSET + fault("power-cut", at_h=1.0, for_h=0.5))
    dark = [s for s in cut.records["closet"].switches if 3600 < s.at_s < 5400 + 30]
    assert not dark


@pytest.mark.parametrize("step_s", [3600.0, -3600.0])
def test_a_step_of_the_clock_is_noted_and_changes_no_decision(
    tmp_path: Path, healthy: dict[str, Rehearsal], step_s: float
) -> None:
    stepped = run(tmp_path, CLOSET + fault("clock-step", at_h=1.2, size=step_s))
    assert [(e.kind, e.figures) for e in stepped.events] == [("clock-jump", {"jump_s": step_s})]
    assert stepped.events[0].uptime_s == pytest.approx(1.2 * 3600, abs=4)
    assert stepped.records["closet"].switches == healthy[CLOSET].records["closet"].switches


def test_with_a_full_disk_control_goes_on_and_the_rows_are_written_later(
    tmp_path: Path, healthy: dict[str, Rehearsal]
) -> None:
    full = run(tmp_path, CLOSET + fault("disk-full", at_h=0.8, for_h=1.0))
    plain = healthy[CLOSET]
    assert full.records["closet"].switches == plain.records["closet"].switches
    # An hour at a reading every six seconds.
    assert full.most_unwritten_rows > 500 > plain.most_unwritten_rows
    assert full.written_rows == pytest.approx(plain.written_rows, abs=60)


def test_faults_of_every_kind_at_once_leave_nothing_unsafe(tmp_path: Path) -> None:
    storm = Path(__file__).parents[1] / "rehearsals" / "storm.toml"
    text = storm.read_text(encoding="utf-8")
    assert run(tmp_path, text).figures["closet"].unsafe_states == 0
