"""The notices' tests share an invented house with channels; it lies beside, for other tests too."""

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1]))

from notices.house import House


@pytest.fixture
def house(tmp_path: Path) -> Iterator[House]:
    house = House(tmp_path)
    yield house
    house.close()
