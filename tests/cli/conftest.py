import os
import subprocess
import sys
from collections.abc import Callable
from importlib.resources import files
from pathlib import Path

import pytest

Run = Callable[..., subprocess.CompletedProcess[str]]


@pytest.fixture
def run(tmp_path: Path) -> Run:
    """Run `hangroom` as its own process, the way a shell does."""

    def started(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "-m", "hangroom", *arguments],
            cwd=tmp_path,
            # The GPIO library keeps a pipe in this folder.
            env={**os.environ, "LG_WD": str(tmp_path)},
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            timeout=60,
            check=False,
        )

    return started


@pytest.fixture
def settings_file(tmp_path: Path) -> Path:
    """The shipped example, with its data under the test's own folder."""
    text = files("hangroom.settings").joinpath("example.toml").read_text(encoding="utf-8")
    text = text.replace("/var/lib/hangroom", str(tmp_path / "data"))
    text = text.replace("/run/hangroom", str(tmp_path / "live"))
    path = tmp_path / "my.toml"
    path.write_text(text, encoding="utf-8")
    return path
