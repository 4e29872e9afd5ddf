"""The fixtures of the loop's tests; the fakes lie beside, under the name the type checker knows."""

import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1]))

from loop.asking import Desk
from loop.fakes import House


@pytest.fixture
def houses() -> list[House]:
    return []


@pytest.fixture(autouse=True)
def no_relay_stays_closed(houses: list[House]) -> Iterator[None]:
    """Fail any test in which a loop has run and left a contact closed."""
    yield
    for house in houses:
        if house.ran:
            assert all(
                relay.until_s == 0.0 for room in house.relays.values() for relay in room.values()
            )


@pytest.fixture
def new_house(houses: list[House]) -> Callable[..., House]:
    def make(**given: object) -> House:
        house = House(**given)  # type: ignore[arg-type]  # each test passes what House names
        houses.append(house)
        return house

    return make


@pytest.fixture
def house(new_house: Callable[..., House]) -> House:
    return new_house()


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    desk = Desk(tmp_path)
    yield desk
    desk.close()
