import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from hangroom_web.access import access, edition

Run = Callable[..., subprocess.CompletedProcess[str]]


def typed(settings_file: Path, words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "hangroom", "passphrase", "--settings", settings_file],
        input=f"{words}\n",
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


@pytest.fixture
def folder(settings_file: Path, tmp_path: Path) -> Path:
    assert settings_file.exists()
    (tmp_path / "data").mkdir()
    return tmp_path / "data"


def test_a_passphrase_is_set_and_a_short_one_is_not(settings_file: Path, folder: Path) -> None:
    assert typed(settings_file, "juniper berries").returncode == 0
    assert access(folder).admits("juniper berries")
    short = typed(settings_file, "salt")
    assert (short.returncode, "at least 8" in short.stderr) == (2, True)
    assert access(folder).admits("juniper berries")


def test_tries_are_forgotten_and_the_passphrase_stays(
    run: Run, settings_file: Path, folder: Path
) -> None:
    typed(settings_file, "juniper berries")
    before, held = edition(folder), access(folder)
    ran = run("passphrase", "--settings", settings_file, "--forget-tries")
    assert (ran.returncode, ran.stdout.count("\n")) == (0, 1)
    assert edition(folder) != before
    assert access(folder) == held
