"""Neither daemon nor page carries numpy: only the child does, and only while it lives."""

import subprocess
import sys
from pathlib import Path

import pytest

HEAVY = "numpy scipy pandas numba"
DESK = """
from pathlib import Path
from datetime import UTC, datetime
from hangroom.forecasting import Forecasts
from hangroom.store.database import prepare_database
desk = Forecasts(prepare_database(Path(".")), scale_sd_g=0.5, now=lambda: datetime.now(UTC))
assert desk.look() == "start"
"""


@pytest.mark.parametrize(
    "code",
    [
        "import hangroom.cli.daemon, hangroom.cli.running, hangroom.cli.simulated",
        DESK,
        "import hangroom_web.app, hangroom.cli.web",
    ],
    ids=["daemon", "desk", "page"],
)
def test_it_is_not_loaded(code: str, tmp_path: Path) -> None:
    told = subprocess.run(
        [sys.executable, "-c", f"{code}\nimport sys\nprint(*sys.modules)"],
        capture_output=True,
        text=True,
        check=True,
        cwd=tmp_path,
    )
    loaded = set(told.stdout.split())
    assert "hangroom.store" in loaded
    assert not loaded & set(HEAVY.split())


def test_the_child_does_load_it() -> None:
    """So that the tests above look for the right name."""
    code = "import hangroom.forecast, sys; print('numpy' in sys.modules)"
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert told.stdout.strip() == "True"
