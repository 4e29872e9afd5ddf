"""The page's tests share one invented household; its file lies beside, for the browser's tests too."""

import shutil
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1]))

from web.daemon import Daemon
from web.scenario import Scene


@pytest.fixture(scope="session")
def household(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make the household once: two batches hanging, a day's readings, yesterday's weights."""
    return Scene.household(tmp_path_factory.mktemp("household")).folder


@pytest.fixture
def scene(tmp_path: Path, household: Path) -> Scene:
    """A copy of the household, with a daemon that has just reported."""
    return Scene(folder=Path(shutil.copytree(household, tmp_path / "household")))


@pytest.fixture
def daemon(scene: Scene) -> Iterator[Daemon]:
    """The daemon of that household, which answers what the page asks."""
    daemon = Daemon(scene)
    scene.clock.meanwhile = daemon.tick
    yield daemon
    daemon.close()
