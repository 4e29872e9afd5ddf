"""What a killed daemon still knows of its plant, through the real journal and its database."""

from contextlib import closing
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from loop.alarm_house import run
from loop.fakes import FINE, START, House
from loop.killed import program

from hangroom.alarm_desk.room_watch import plant_kept_as
from hangroom.control.plant_watch.effect import Effect
from hangroom.control.plant_watch.runs import Runs
from hangroom.control.plant_watch.watch import Memory
from hangroom.store.database import connect, prepare_database

LEARNED = Effect(gain_g_per_m3_per_s=0.021, worked_uptime_s=100.0, failures=2, failed_s=20.0)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return prepare_database(tmp_path)


def plant(house: House) -> Memory:
    return house.alarms._rooms["closet"].plant  # where nothing tells of it before it has failed


def learned(path: Path) -> None:
    with program(path) as house:
        run(house, 120.0)
        room = house.alarms._rooms["closet"]
        room.plant = replace(room.plant, doses=Runs(effect=LEARNED))
        run(house, 130.0)


def test_what_a_dose_does_and_how_often_it_did_not_is_known_after_a_kill(path: Path) -> None:
    learned(path)
    with program(path, start=START + timedelta(hours=1)) as house:
        effect = plant(house).doses.effect
        assert (effect.gain_g_per_m3_per_s, effect.failures, effect.failed_s) == (0.021, 2, 20.0)


def test_what_cannot_be_understood_is_forgotten_and_noted(path: Path) -> None:
    learned(path)
    with closing(connect(path)) as db:
        db.execute(
            "update control_memory set body = '{\"room\": 7}' where what = ?",
            (plant_kept_as("closet"),),
        )
        db.conn.commit()
    with program(path, start=START + timedelta(hours=1)) as house:
        assert plant(house).doses.effect == Effect()
        run(house, 70.0, FINE)
    with closing(connect(path)) as db:
        noted = db.execute("select kind from event").fetchall()
    assert ("memory-forgotten",) in noted
