from datetime import UTC, datetime, timedelta

import pytest
from web.daemon import Daemon
from web.entering import Keeper, keeper, said
from web.scenario import START, Scene

from hangroom.store.record.steps import Step, StepKind
from hangroom.terms import Stage

STEPS, BEGIN = "/batches/3/steps", "/batches/3/steps/start"
SMOKE = {"kind": "smoke", "air": "54.4"}


@pytest.fixture
def ada(scene: Scene) -> Keeper:
    ada = keeper(scene)
    ada.start(casing="collagen")
    return ada


def steps(ada: Keeper) -> tuple[Step, ...]:
    return ada.record(3).steps


def test_a_step_begins_and_ends_with_one_tap_each(ada: Keeper, scene: Scene) -> None:
    ada.stored(BEGIN, SMOKE, key="smoke")
    scene.clock.move(43 * 60)
    assert "Smoke since 09:52 43 min 54.4 °C" in ada.see(STEPS)
    ada.stored(f"{STEPS}/end/smoke")
    (step,) = steps(ada)
    assert (step.kind, step.entered_by, step.from_at) == (StepKind.SMOKE, "Ada", START)
    assert step.to_at == START + timedelta(minutes=43)


def test_the_next_step_begins_as_this_one_ends(ada: Keeper, scene: Scene) -> None:
    ada.stored(BEGIN, SMOKE, key="one")
    scene.clock.move(3600)
    then = {"kind": "smoke", "air": "60", "ends": "one"}
    ada.stored(BEGIN, then, key="two")
    ada.stored(BEGIN, then, key="two")
    first, second = steps(ada)
    assert first.to_at == second.from_at == START + timedelta(hours=1)
    assert second.to_at is None


def test_ended_twice_it_ended_the_first_time(ada: Keeper, scene: Scene) -> None:
    ada.stored(BEGIN, SMOKE, key="smoke")
    scene.clock.move(3600)
    ada.stored(f"{STEPS}/end/smoke")
    scene.clock.move(600)
    ada.stored(f"{STEPS}/end/smoke")
    assert steps(ada)[0].to_at == START + timedelta(hours=1)


def test_a_step_is_typed_afterwards_with_its_air(ada: Keeper) -> None:
    form = {
        **SMOKE,
        "wet-bulb": "38,5",
        "humidity": "55",
        "from": "2026-11-26T07:30",
        "to": "2026-11-26T08:45",
        "note": "windy",
    }
    ada.stored(BEGIN, form)
    (step,) = steps(ada)
    # New York is five hours behind UTC in November.
    assert step.from_at == datetime(2026, 11, 26, 12, 30, tzinfo=UTC)
    assert step.to_at == datetime(2026, 11, 26, 13, 45, tzinfo=UTC)
    assert (step.wet_bulb_c, step.humidity_pct, step.note) == (38.5, 55.0, "windy")


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"kind": "fly"}, "Choose one of what is offered"),
        ({"kind": ""}, "Choose one of what is offered"),
        ({"air": "hot"}, "Write the temperature in digits"),
        ({"humidity": "101"}, "between 0 and 100"),
        ({"wet-bulb": "60"}, "above the air's"),
        ({"from": "2026-11-26T12:00"}, "12:00 is still to come; it is 09:52 now"),
        ({"from": "2026-11-26"}, "Write date and time"),
        ({"from": "2026-11-01T01:30"}, "comes twice"),
        ({"to": "2026-11-26T09:00"}, "Write when it began as well"),
        ({"from": "2026-11-26T09:00", "to": "2026-11-26T08:00"}, "cannot end before it began"),
        ({"room": "attic"}, "Choose one of what is offered"),
        ({"group": "Z"}, "Choose one of what is offered"),
        ({"note": "x" * 1001}, "Keep the note under"),
    ],
)
def test_every_fault_is_told_and_nothing_is_stored(
    ada: Keeper, changes: dict[str, str], told: str
) -> None:
    assert told in ada.refused(BEGIN, {**SMOKE, **changes})
    assert steps(ada) == ()


def test_what_was_typed_stays_on_a_fault(ada: Keeper) -> None:
    html = ada.send(BEGIN, {**SMOKE, "air": "62,5", "humidity": "101", "note": "windy"}).get_data(
        as_text=True
    )
    assert 'value="62,5"' in html
    assert 'value="windy"' in html
    assert '<option value="smoke" selected>' in html


@pytest.mark.parametrize(
    ("unit", "typed", "instead"),
    [
        # The usual first heat, 130 degF, which are 54.4 degC.
        pytest.param("C", "130", "54.4", id="degF typed as degC"),
        pytest.param("F", "54.4", "129.9", id="degC typed as degF"),
    ],
)
def test_the_other_scale_is_noticed(scene: Scene, unit: str, typed: str, instead: str) -> None:
    scene.units = {"temperature": unit}
    ada = keeper(scene)
    ada.start()
    form = {"kind": "smoke", "air": typed}
    assert f"Use {instead}" in ada.asked(BEGIN, form)
    assert steps(ada) == ()
    ada.stored(BEGIN, form, use=f"air:{instead}", **{"asked-air": typed})
    assert steps(ada)[0].set_temperature_c == pytest.approx(54.4, abs=0.05)


def test_a_step_cannot_end_before_it_began(ada: Keeper) -> None:
    ada.stored(BEGIN, SMOKE, key="smoke")
    page = ada.refused(f"{STEPS}/end/smoke", {"ended-at": "2026-11-26T08:00"})
    assert "Smoke began at 09:52; it cannot end before that" in page
    then = {"kind": "smoke", "air": "60", "ends": "smoke", "from": "2026-11-26T08:00"}
    ada.refused(BEGIN, then)
    assert [step.to_at for step in steps(ada)] == [None]


def test_the_usual_way_is_offered_step_by_step(ada: Keeper, scene: Scene) -> None:
    """Common practice, no source: dry, 130 °F, 140, 150, finish at 180 °F, ice bath."""
    said_next = []
    for _step in range(6):
        page = ada.client.get(STEPS).get_data(as_text=True)
        name = page.split('aria-current="step">', 1)[1].split(" <small>", 1)[0]
        said_next.append(name)
        kind = {"C": "casing-dry", "S": "smoke", "F": "finish"}.get(name[0], "chill")
        kind = "chill" if name == "Chill" else kind
        air = name.rsplit(" ", 2)[1] if "at" in name else ""
        lasting = [step.key for step in steps(ada) if step.to_at is None]
        ada.stored(BEGIN, {"kind": kind, "air": air, "ends": "".join(lasting)})
        scene.clock.move(3600)
    assert said_next == [
        "Casing dry",
        "Smoke at 54.4 °C",
        "Smoke at 60 °C",
        "Smoke at 65.6 °C",
        "Finish at 82.2 °C",
        "Chill",
    ]
    assert "common practice, no source" in ada.see(STEPS)


@pytest.mark.parametrize(
    ("kind", "air", "following"),
    [
        # After smoke, whatever its heat, and after a cook of any kind, the quick finish is left.
        ("smoke", "38", "Finish at 82.2 °C"),
        ("cook", "70", "Finish at 82.2 °C"),
        ("smoke", "55", "Smoke at 60 °C"),
    ],
)
def test_after_an_unusual_step_the_usual_way_goes_on(
    ada: Keeper, kind: str, air: str, following: str
) -> None:
    ada.stored(BEGIN, {"kind": kind, "air": air})
    assert f"Ended: now {following[0].lower()}{following[1:]}" in ada.see(STEPS)


def test_a_step_that_ended_earlier_ends_when_it_did(ada: Keeper, scene: Scene) -> None:
    ada.stored(BEGIN, SMOKE, key="smoke")
    scene.clock.move(3600)
    ada.stored(f"{STEPS}/end/smoke", {"ended-at": "2026-11-26T10:30"})
    assert steps(ada)[0].to_at == datetime(2026, 11, 26, 15, 30, tzinfo=UTC)


def test_an_ice_bath_is_no_low_heat(ada: Keeper, scene: Scene) -> None:
    ada.stored(BEGIN, {"kind": "chill", "air": "1"})
    scene.clock.move(3600)
    assert "0.0 h below" in ada.see(STEPS)


def test_low_heat_is_summed_while_it_goes_on_and_the_finish_is_none(
    ada: Keeper, scene: Scene
) -> None:
    """Below 180 °F counts, the finish at 180 °F does not, an unheated casing dry neither."""
    for kind, air, hours in (
        ("casing-dry", "", 1),
        ("smoke", "54.4", 1),
        ("smoke", "60", 1),
        ("smoke", "65.6", 2),
    ):
        lasting = [step.key for step in steps(ada) if step.to_at is None]
        ada.stored(BEGIN, {"kind": kind, "air": air, "ends": "".join(lasting)})
        scene.clock.move(hours * 3600)
    page = ada.see(f"{STEPS}?more=2")
    assert "4.0 h below 82.2 °C; the usual way takes 5 h at most" in page
    assert "Held 2 h longer at 65.6 °C: 6.0 h" in page
    assert "Pulled now and hung: 4.0 h" in page
    assert "Pull now and finish the drying on the rail" in page
    assert "Either way the casing stays within" in ada.see(f"{STEPS}?more=1")
    (lasting_key,) = [step.key for step in steps(ada) if step.to_at is None]
    ada.stored(BEGIN, {"kind": "finish", "air": "82.2", "ends": lasting_key})
    scene.clock.move(3600)
    assert "4.0 h below" in ada.see(STEPS)


def test_a_rooms_air_is_set_for_drying_the_casings(ada: Keeper, daemon: Daemon) -> None:
    ada.stored(BEGIN, {"kind": "casing-dry", "room": "closet"}, key="dry")
    assert "Set the Closet to casing dry" in ada.see(STEPS)
    assert "Set the Fridge" not in ada.see(STEPS)
    answer = ada.send(f"{STEPS}/room/closet")
    page = said(ada.client.get(answer.headers["Location"]))
    assert "Done. Stage is casing dry, for 1 h." in page
    run = daemon.plans["closet"].stage_run
    assert run is not None
    assert (daemon.plans["closet"].stage, run.then, run.batch) == (Stage.CASING_DRY, Stage.HANG, 3)
    assert run.by == "Ada"


def test_without_the_daemon_the_wish_is_not_taken_for_done(ada: Keeper) -> None:
    answer = ada.send(f"{STEPS}/room/closet")
    assert "Waiting for the controller" in said(ada.client.get(answer.headers["Location"]))


def test_a_room_that_is_none_is_not_found(ada: Keeper) -> None:
    assert ada.send(f"{STEPS}/room/attic").status_code == 404


def test_nobody_acts_who_is_not_logged_in(ada: Keeper, scene: Scene) -> None:
    html = scene.client().get(STEPS).get_data(as_text=True)
    assert "The usual way" in html
    assert "<form" not in html
    stranger = scene.client()
    assert stranger.post(BEGIN, data=SMOKE).status_code in {400, 403}
    assert steps(ada) == ()
