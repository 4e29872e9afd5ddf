"""Relays that are tried and proved from the page: until then each is only watched."""

import json
from argparse import Namespace
from collections.abc import Callable, Iterator
from contextlib import closing, nullcontext
from dataclasses import replace
from datetime import timedelta
from importlib.resources import files
from pathlib import Path

import pytest
from loop.asking import PLANS, Desk, locked
from loop.fakes import DRY, EXHAUST, FINE, HEATER, HUMIDIFIER, PLAN, SOAKED, START, House

from hangroom.alarm_desk import room_watch
from hangroom.cli import daemon as cli_daemon
from hangroom.control.memory import starting_state
from hangroom.control.plant_watch.watch import Findings, Memory, Seen
from hangroom.control.room import decide
from hangroom.store.database import connect
from hangroom.store.journal import PLAN_FORM
from hangroom.store.migrations import MIGRATIONS
from hangroom.store.proofs import ANSWERED_WITHIN, Wirings, proofs
from hangroom.store.requests import Kind, Outcome, Word
from hangroom.terms import TRIAL_S, RelayKind, RoomPlan, Wiring

WIRED: Wirings = {
    "closet": {
        HUMIDIFIER: Wiring(pin=17, active_high=True),
        EXHAUST: Wiring(pin=27, active_high=True),
        HEATER: Wiring(pin=24, active_high=False),
    }
}
TRY, PROOF = Kind.RELAY_TRY, Kind.RELAY_PROOF


@pytest.fixture
def fresh(tmp_path: Path) -> Iterator[Desk]:
    """A house that was wired this morning, before anything was tried."""
    desk = Desk(tmp_path, plans={"closet": PLAN}, wirings=WIRED)
    desk.plans = dict(desk.answers.kept(desk.settings, desk.clock.now(), desk.clock.uptime_s()))
    yield desk
    desk.close()


@pytest.fixture
def wired(fresh: Desk, new_house: Callable[..., House]) -> House:
    """The loop on the same plans; the desk's answers see what it would do."""
    house = new_house(plans=(fresh.plans["closet"],))
    house.loop._plans_now = fresh.answers.plans_now
    fresh.foresee = house.loop.foreseen
    return house


def unproved(desk: Desk) -> frozenset[RelayKind]:
    return desk.plans["closet"].unproved


def test_what_is_wired_and_was_never_tried_is_only_watched(fresh: Desk) -> None:
    assert unproved(fresh) == {HUMIDIFIER, EXHAUST, HEATER}


def test_a_simulated_house_needs_no_proof(desk: Desk) -> None:
    plans = desk.answers.kept(PLANS, desk.clock.now(), desk.clock.uptime_s())
    assert not any(plan.unproved for plan in plans.values())


def test_a_trial_and_a_yes_prove_it_and_both_are_kept_with_who_and_when(fresh: Desk) -> None:
    tried_at = fresh.clock.now() + timedelta(seconds=2)
    assert "runs for 4 s" in fresh.applied(TRY, by="Ann", relay="exhaust-fan")
    assert unproved(fresh) == {HUMIDIFIER, EXHAUST, HEATER}
    assert "is proved" in fresh.applied(PROOF, by="Ben", relay="exhaust-fan", seen=True)
    assert unproved(fresh) == {HUMIDIFIER, HEATER}
    (kept,) = proofs(fresh.page)
    assert (kept.room, kept.relay, kept.lasts_s) == ("closet", EXHAUST, TRIAL_S[EXHAUST])
    assert (kept.tried_by, kept.tried_at) == ("Ann", tried_at)
    assert (kept.seen, kept.answered_by) == (True, "Ben")
    assert kept.answered_at == tried_at + timedelta(seconds=2)
    assert [(kind, words["by"]) for kind, _, _, words in fresh.events()] == [
        ("relay-tried", "Ann"),
        ("relay-proved", "Ben"),
    ]
    fresh.restart()
    assert unproved(fresh) == {HUMIDIFIER, HEATER}


def test_a_no_leaves_it_off_and_says_what_to_check_on_which_pin(fresh: Desk) -> None:
    fresh.applied(TRY, relay="heater")
    said = fresh.applied(PROOF, relay="heater", seen=False)
    assert "Pull its plug" in said
    assert "pin 24" in said
    assert "a low pin" in said
    assert HEATER in unproved(fresh)
    fresh.restart()
    assert HEATER in unproved(fresh)


def test_a_no_takes_the_proof_of_a_relay_that_had_one(fresh: Desk) -> None:
    for seen in (True, False):
        fresh.tick(after_s=20.0)
        fresh.applied(TRY, relay="exhaust-fan")
        fresh.applied(PROOF, relay="exhaust-fan", seen=seen)
    assert EXHAUST in unproved(fresh)
    fresh.restart()
    assert EXHAUST in unproved(fresh)


def test_nobody_proves_what_was_not_tried(fresh: Desk) -> None:
    for relay in ("exhaust-fan", "heater"):
        assert "No trial" in fresh.refused(PROOF, relay=relay, seen=True)
    fresh.applied(TRY, relay="heater")
    assert "No trial" in fresh.refused(PROOF, relay="exhaust-fan", seen=True)
    fresh.applied(PROOF, relay="heater", seen=True)
    assert "No trial" in fresh.refused(PROOF, relay="heater", seen=True)


def test_a_trial_of_long_ago_cannot_be_answered(fresh: Desk) -> None:
    fresh.applied(TRY, relay="heater")
    fresh.tick(after_s=ANSWERED_WITHIN.total_seconds())
    assert "No trial" in fresh.refused(PROOF, relay="heater", seen=True)


@pytest.mark.parametrize("relay", ["cooling", "oven", None, 3.0])
def test_a_relay_that_is_not_there_is_refused(fresh: Desk, relay: str | float | None) -> None:
    assert fresh.refused(TRY, relay=relay)
    assert fresh.refused(PROOF, relay=relay, seen=True)


@pytest.mark.parametrize("seen", ["yes", 1.0, None])
def test_an_answer_is_yes_or_no(fresh: Desk, seen: str | float | None) -> None:
    fresh.applied(TRY, relay="heater")
    assert "whether 'seen'" in fresh.refused(PROOF, relay="heater", seen=seen)
    assert HEATER in unproved(fresh)


def test_one_relay_is_tried_at_a_time(fresh: Desk) -> None:
    fresh.applied(TRY, relay="humidifier")
    assert "One after the other" in fresh.refused(TRY, relay="exhaust-fan")


def test_by_hand_it_is_refused_until_it_is_proved(fresh: Desk) -> None:
    fan: dict[str, Word] = {"relay": "exhaust-fan", "closed": True, "for_s": 600.0, "why": "smoke"}
    assert "has not been tried yet" in fresh.refused(Kind.OVERRIDE, **fan)
    fresh.applied(TRY, relay="exhaust-fan")
    fresh.applied(PROOF, relay="exhaust-fan", seen=True)
    assert "wanted on" in fresh.applied(Kind.OVERRIDE, **fan)


@pytest.mark.parametrize(
    "other", [Wiring(pin=22, active_high=True), Wiring(pin=27, active_high=False)]
)
def test_on_another_pin_or_level_the_proof_is_void_and_stays_so(fresh: Desk, other: Wiring) -> None:
    fresh.applied(TRY, relay="exhaust-fan")
    fresh.applied(PROOF, relay="exhaust-fan", seen=True)
    fresh.wirings = {"closet": {**WIRED["closet"], EXHAUST: other}}
    fresh.restart()
    assert EXHAUST in unproved(fresh)
    assert ("relay-proof-void", "closet", {}, {"relay": "exhaust-fan"}) in fresh.events()
    # Put back, nobody has seen it as it is now either.
    fresh.wirings = WIRED
    fresh.restart()
    assert EXHAUST in unproved(fresh)


def test_a_locked_database_lets_nothing_run(fresh: Desk) -> None:
    fresh.applied(TRY, relay="exhaust-fan")
    number = fresh.ask(PROOF, relay="exhaust-fan", seen=True)
    other = locked(fresh)
    fresh.tick()
    other.rollback()
    other.close()
    assert EXHAUST in unproved(fresh)
    fresh.tick()
    assert fresh.request(number).outcome is Outcome.APPLIED


# An installation that ran before relays were proved.


def before_this_step(path: Path) -> None:
    """Take the database back to the step before: a house that has run, and no record of trials."""
    with closing(connect(path)) as db, db.atomic():
        db.execute("drop table relay_proof")
        db.execute("delete from _sqlite_migrations where name = 'm180_relay_proofs'")
        db.execute("insert or ignore into room (name) values ('closet')")
        (room,) = db.execute("select id from room where name = 'closet'").fetchone()
        for relay, closed in ((HUMIDIFIER, 1), (HUMIDIFIER, 0), (EXHAUST, 0)):
            db.execute(
                "insert into command (room_id, given_ms, uptime_ms, relay, closed, code, figures)"
                " values (?, 1000, 0, ?, ?, 'too-dry', '{}')",
                (room, relay, closed),
            )


def test_a_relay_that_has_run_before_goes_on_and_its_record_says_by_what(fresh: Desk) -> None:
    before_this_step(fresh.path)
    MIGRATIONS.apply(fresh.page)
    fresh.restart()
    assert unproved(fresh) == {EXHAUST, HEATER}  # these never closed
    (kept,) = proofs(fresh.page)
    assert (kept.relay, kept.tried_by, kept.lasts_s) == (HUMIDIFIER, "earlier running", 0.0)
    # It holds for the wiring of the first start after the update, and for no other.
    changed = Wiring(pin=5, active_high=True)
    fresh.wirings = {"closet": {**WIRED["closet"], HUMIDIFIER: changed}}
    fresh.restart()
    assert HUMIDIFIER in unproved(fresh)


# With the loop: from the page's row to the contact.


def ask_and_tick(
    house: House, desk: Desk, kind: Kind, air: tuple[float, float], **body: object
) -> str:
    number = desk.ask(kind, **body)  # type: ignore[arg-type]  # words and switches
    desk.clock.wait_until(house.clock.uptime_s())
    house.tick(air)
    return desk.request(number).answer or ""


def test_a_dry_room_gets_no_mist_before_the_proof_and_mist_after_it(
    wired: House, fresh: Desk
) -> None:
    for _ in range(5):
        wired.tick(DRY)
        assert wired.closed == set()
    live = wired.boards[-1].rooms["closet"].relays[HUMIDIFIER]
    assert live.watched
    assert live.would is not None
    assert (live.would.closed, live.would.because.code) == (True, "too-dry")
    assert "runs for 4 s" in ask_and_tick(wired, fresh, TRY, DRY, relay="humidifier")
    shut = []
    for _ in range(4):
        wired.tick(DRY)
        shut.append(wired.closed)
    assert shut == [{HUMIDIFIER}, {HUMIDIFIER}, set(), set()]  # two rounds of two seconds
    assert "is proved" in ask_and_tick(wired, fresh, PROOF, DRY, relay="humidifier", seen=True)
    wired.tick(DRY)
    assert wired.closed == {HUMIDIFIER}
    live = wired.boards[-1].rooms["closet"].relays[HUMIDIFIER]
    assert (live.watched, live.would) == (False, None)


@pytest.mark.parametrize(
    ("relay", "air", "says"),
    [
        ("humidifier", SOAKED, "95.0 % is at or above the hard limit of 92.0 %"),
        ("heater", (31.0, 75.0), "at or above the high limit of 30.0 °C"),
        ("exhaust-fan", (13.0, 45.0), "at or below the low limit of 50.0 %"),
    ],
)
def test_a_trial_past_a_hard_limit_is_refused_with_the_reason(
    wired: House, fresh: Desk, relay: str, air: tuple[float, float], says: str
) -> None:
    wired.tick(air)
    assert says in ask_and_tick(wired, fresh, TRY, air, relay=relay)
    wired.tick(air)
    assert wired.closed == set()
    assert proofs(fresh.page) == []


def test_before_the_first_reading_nothing_is_tried(wired: House, fresh: Desk) -> None:
    number = fresh.ask(TRY, relay="exhaust-fan")
    wired.tick()
    assert "no reading yet" in (fresh.request(number).answer or "")


def test_the_fan_is_not_tried_while_a_proved_humidifier_runs(wired: House, fresh: Desk) -> None:
    wired.loop._plans = {"closet": replace(PLAN, unproved=frozenset({EXHAUST}))}
    wired.tick(DRY)
    assert wired.closed == {HUMIDIFIER}
    said = ask_and_tick(wired, fresh, TRY, DRY, relay="exhaust-fan")
    assert "the humidifier is on" in said
    wired.tick(FINE)
    assert EXHAUST not in wired.closed


def test_what_is_foreseen_changes_nothing(wired: House) -> None:
    wired.tick(DRY)
    plan: RoomPlan = wired.loop._plans["closet"]
    before = wired.loop._memory["closet"].state
    wired.loop.foreseen(replace(plan, unproved=frozenset()))
    assert wired.loop._memory["closet"].state is before
    assert wired.closed == set()


# What it means for the journal and the alarms.


def test_the_journal_reads_back_what_was_watched_and_tried(wired: House, fresh: Desk) -> None:
    """A replay goes by the plans as they are written; those of before this step read as proved."""
    wired.tick(DRY)
    ask_and_tick(wired, fresh, TRY, DRY, relay="humidifier")
    tried = wired.loop._plans["closet"]
    assert tried.overrides[HUMIDIFIER].trial
    text = PLAN_FORM.dump_json(tried)
    assert PLAN_FORM.validate_json(text) == tried
    before = {k: v for k, v in json.loads(text).items() if k != "unproved"}
    assert PLAN_FORM.validate_json(json.dumps(before)).unproved == frozenset()


@pytest.mark.parametrize(
    ("unproved", "humidity", "temperature"),
    [(set(), True, True), ({EXHAUST}, False, True), ({HEATER}, True, False)],
)
def test_no_setpoint_is_expected_of_a_relay_that_is_only_watched(
    monkeypatch: pytest.MonkeyPatch,
    unproved: set[RelayKind],
    humidity: bool,
    temperature: bool,
) -> None:
    seen: list[Seen] = []

    def look(plant: Memory, one: Seen) -> tuple[Memory, Findings]:
        seen.append(one)
        return plant, room_watch.NOTHING_YET

    monkeypatch.setattr(room_watch, "watched", look)
    plan = replace(PLAN, unproved=frozenset(unproved))
    decision = decide(starting_state(plan, uptime_s=0.0), plan, {"rail": None}, uptime_s=2.0)
    watch = room_watch.RoomWatch.begun("closet", None, boot_id="boot", now=START, uptime_s=0.0)
    watch.show_the_plant_watch(plan, decision, uptime_s=2.0)
    assert (seen[0].humidity is not None, seen[0].temperature is not None) == (
        humidity,
        temperature,
    )


def test_the_real_daemon_names_every_relay_of_its_settings_as_wired(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Whoever forgot them here would run what nobody has tried; only simulated rooms name none."""
    told: dict[str, object] = {}
    monkeypatch.setattr(cli_daemon, "real_rooms", lambda *_: nullcontext({}))
    monkeypatch.setattr(cli_daemon, "real_outside", lambda *_: nullcontext({}))
    monkeypatch.setattr(cli_daemon, "real_bell", lambda *_: nullcontext(None))
    monkeypatch.setattr(cli_daemon, "run_loop", lambda *_, **given: told.update(given))
    example = Path(str(files("hangroom.settings").joinpath("example.toml")))
    assert cli_daemon.run(Namespace(settings=example, simulated=False)) == 0
    assert told["wirings"] == {
        "closet": {
            HUMIDIFIER: Wiring(pin=17, active_high=True),
            EXHAUST: Wiring(pin=27, active_high=True),
        },
        "fridge": {
            RelayKind.COOLING: Wiring(pin=22, active_high=True),
            RelayKind.CIRCULATION_FAN: Wiring(pin=23, active_high=True),
        },
    }
