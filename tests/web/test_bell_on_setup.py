"""Setup says how the bell is wired, what it does now, and what is wrong with it."""

import re
from dataclasses import replace
from html import unescape

import pytest
from web.scenario import BOOT, Scene

from hangroom.alarm_table.ringing import Ring
from hangroom.alarm_table.row import Priority
from hangroom.settings.bell import BellTable
from hangroom.store.live import LiveBell, write_board
from hangroom_web.app import create_app
from hangroom_web.bell import DOES_NOW, TELLS_OF

BELL = BellTable.model_validate(
    {"buzzer": {"pin": 24}, "lamp": {"pin": 6, "active_high": False}, "button": {"pin": 26}}
)


def setup(scene: Scene, bell: BellTable | None = BELL) -> str:
    settings = scene.settings.model_copy(update={"bell": bell})
    client = create_app(settings, clock=scene.clock, boot_id=BOOT).test_client()
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", client.get("/setup").text)).split())


def rings(scene: Scene, ring: Ring, fault: str = "") -> None:
    write_board(scene.folder, replace(scene.report(), bell=LiveBell(ring=ring, fault=fault)))


def test_its_pins_and_what_it_does_are_said(scene: Scene) -> None:
    rings(scene, Ring.BUZZER)
    said = setup(scene)
    assert "It sounds: an urgent alarm is on, and nobody has acknowledged it." in said
    assert "Buzzer GPIO 24, on at a high level" in said
    assert "Lamp GPIO 6, on at a low level" in said
    assert "Button GPIO 26 to ground" in said


def test_a_bell_that_fails_is_named_with_what_to_do(scene: Scene) -> None:
    rings(scene, Ring.NOTHING, "It fails (no such device). Check its wires.")
    assert "Trouble It fails (no such device). Check its wires." in setup(scene)


def test_of_a_silent_daemon_s_bell_nothing_is_said_as_of_now(scene: Scene) -> None:
    rings(scene, Ring.BUZZER)
    scene.clock.move(600)
    said = setup(scene)
    assert "It sounds" not in said
    assert "What it does now is not known." in said


def test_without_one_nothing_is_said(scene: Scene) -> None:
    assert "Bell at the rooms" not in setup(scene, None)


@pytest.mark.parametrize("kind", [Ring, Priority])
def test_every_state_and_priority_has_its_words(kind: type[Ring | Priority]) -> None:
    assert set(DOES_NOW if kind is Ring else TELLS_OF) == set(kind)
