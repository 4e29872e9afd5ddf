"""The units of backup and restore, by systemd's own tools where those are installed."""

import re
import shutil
import subprocess
from pathlib import Path

import pytest

SYSTEMD = Path(__file__).parents[2] / "systemd"
SERVICE, TIMER = "hangroom-backup.service", "hangroom-backup.timer"
RESTORE = "hangroom-restore.service"


@pytest.fixture
def analyze() -> str:
    found = shutil.which("systemd-analyze")
    if found is None:
        pytest.skip("systemd-analyze is not installed (Debian package systemd)")
    return found


@pytest.fixture
def installed(tmp_path: Path) -> list[Path]:
    """Copies that start a program which exists here, or verify would only speak of that."""
    for unit in (SERVICE, TIMER, RESTORE):
        text = (SYSTEMD / unit).read_text().replace("/opt/hangroom/venv/bin/hangroom", "/bin/true")
        (tmp_path / unit).write_text(text)
    return [tmp_path / unit for unit in (SERVICE, TIMER, RESTORE)]


def test_verify_has_nothing_to_say(analyze: str, installed: list[Path]) -> None:
    ran = subprocess.run(
        [analyze, "verify", *installed], capture_output=True, text=True, check=False
    )
    assert (ran.stderr, ran.stdout, ran.returncode) == ("", "", 0)


@pytest.mark.parametrize("place", [0, 2])
def test_each_is_as_shut_in_as_the_services(
    place: int, analyze: str, installed: list[Path]
) -> None:
    ran = subprocess.run(
        [analyze, "security", "--offline=true", "--no-pager", installed[place]],
        capture_output=True,
        text=True,
        check=False,
    )
    found = re.search(r"Overall exposure level for \S+: ([\d.]+)", ran.stdout)
    assert found is not None, ran.stderr
    assert float(found.group(1)) <= 2.5


def test_it_comes_once_a_night_at_half_past_three(analyze: str) -> None:
    (when,) = re.findall(r"^OnCalendar=(.+)$", (SYSTEMD / TIMER).read_text(), re.MULTILINE)
    ran = subprocess.run(
        [analyze, "calendar", "--iterations=3", "--base-time=2026-11-26 12:00:00", when],
        capture_output=True,
        text=True,
        check=True,
        env={"TZ": "America/New_York", "PATH": "/usr/bin:/bin"},
    )
    local = "\n".join(line for line in ran.stdout.splitlines() if "(in UTC)" not in line)
    assert re.findall(r"2026-11-(\d\d) (\d\d:\d\d):00", local) == [
        ("27", "03:30"),
        ("28", "03:30"),
        ("29", "03:30"),
    ]


def test_it_runs_as_the_daemons_user_and_writes_where_it_may() -> None:
    text = (SYSTEMD / SERVICE).read_text()
    assert "User=hangroom\n" in text
    assert "ReadWritePaths=/var/lib/hangroom -/mnt/hangroom-backup\n" in text


def test_what_was_laid_ready_is_put_in_place_before_anything_opens_the_records() -> None:
    text = (SYSTEMD / RESTORE).read_text()
    (before,) = re.findall(r"^Before=(.+)$", text, re.MULTILINE)
    services = {file.name for file in SYSTEMD.glob("hangroom-*.service")} - {SERVICE, RESTORE}
    assert set(before.split()) == services
    assert "ConditionPathExists=/var/lib/hangroom/restore-pending.zip\n" in text
