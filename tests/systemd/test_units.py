"""The units, checked by systemd's own tools where those are installed."""

import configparser
import os
import re
import shutil
import stat
import subprocess
from pathlib import Path

import pytest

SYSTEMD = Path(__file__).parents[2] / "systemd"
UNITS = ["hangroom-daemon.service", "hangroom-web.service", "hangroom-notices.service"]
PROGRAM = "/opt/hangroom/venv/bin/hangroom"


def tool(name: str) -> str:
    found = shutil.which(name)
    if found is None:
        pytest.skip(f"{name} is not installed (Debian package systemd)")
    return found


def installed(unit: str, folder: Path) -> Path:
    """A copy that starts a program which exists here, or verify would only speak of that."""
    copy = folder / unit
    copy.write_text((SYSTEMD / unit).read_text().replace(PROGRAM, "/bin/true"))
    return copy


def section(unit: str, name: str) -> dict[str, list[str]]:
    """One section of a unit file; keys may come more than once."""
    found: dict[str, list[str]] = {}
    inside = False
    for line in (SYSTEMD / unit).read_text().splitlines():
        if line.startswith("["):
            inside = line == f"[{name}]"
        elif inside and line and not line.startswith("#"):
            key, value = line.split("=", 1)
            found.setdefault(key, []).append(value)
    return found


def test_verify_has_nothing_to_say(tmp_path: Path) -> None:
    """It exits with 0 even for an unknown key, so what counts is silence."""
    copies = [installed(unit, tmp_path) for unit in UNITS]
    ran = subprocess.run(
        [tool("systemd-analyze"), "verify", *copies], capture_output=True, text=True, check=False
    )
    assert (ran.stderr, ran.stdout, ran.returncode) == ("", "", 0)


def test_verify_would_have_noticed_a_misspelt_key(tmp_path: Path) -> None:
    copy = installed(UNITS[0], tmp_path)
    copy.write_text(copy.read_text().replace("WatchdogSec=", "WatchDogSecs="))
    ran = subprocess.run(
        [tool("systemd-analyze"), "verify", copy], capture_output=True, text=True, check=False
    )
    assert "WatchDogSecs" in ran.stderr


@pytest.mark.parametrize("unit", UNITS)
def test_exposure_is_at_most_2_5(unit: str, tmp_path: Path) -> None:
    copy = installed(unit, tmp_path)
    ran = subprocess.run(
        [tool("systemd-analyze"), "security", "--offline=true", "--no-pager", copy],
        capture_output=True,
        text=True,
        check=False,
    )
    found = re.search(r"Overall exposure level for \S+: ([\d.]+)", ran.stdout)
    assert found is not None, ran.stderr
    assert float(found.group(1)) <= 2.5


def test_a_hung_daemon_has_its_relays_off_within_15_s() -> None:
    """Watchdog, then abort, then kill; a second is left for the off path itself."""
    service = section(UNITS[0], "Service")
    watchdog_s, abort_s = int(service["WatchdogSec"][0]), int(service["TimeoutAbortSec"][0])
    assert watchdog_s + abort_s + 1 <= 15
    assert service["ExecStopPost"] == [f"{PROGRAM} safe --settings /etc/hangroom/hangroom.toml"]


@pytest.mark.parametrize("unit", UNITS)
def test_a_service_that_keeps_failing_is_started_again_for_ever(unit: str) -> None:
    assert section(unit, "Unit")["StartLimitIntervalSec"] == ["0"]
    assert section(unit, "Service")["Restart"] == ["always"]


def test_only_the_daemon_may_open_a_device_and_only_gpio_chips_and_i2c_buses() -> None:
    allowed = section(UNITS[0], "Service")["DeviceAllow"]
    assert allowed == ["char-gpiochip rw", "char-i2c rw"]
    for unit in UNITS[1:]:
        other = section(unit, "Service")
        assert "DeviceAllow" not in other
        assert "SupplementaryGroups" not in other
        assert other["DevicePolicy"] == ["closed"]
        assert other["PrivateDevices"] == ["yes"]


def test_only_the_daemon_has_no_network_and_it_has_none_at_all() -> None:
    """It holds the pins; what tells somebody by the network is a unit of its own."""
    daemon, *others = (section(unit, "Service") for unit in UNITS)
    assert daemon["PrivateNetwork"] == ["yes"]
    assert daemon["RestrictAddressFamilies"] == ["AF_UNIX"]
    assert all("PrivateNetwork" not in other for other in others)


def test_each_service_is_a_user_of_its_own_and_all_share_one_group() -> None:
    services = [section(unit, "Service") for unit in UNITS]
    users = [service["User"] for service in services]
    assert users == [["hangroom"], ["hangroom-web"], ["hangroom-notices"]]
    assert all(service["Group"] == ["hangroom"] for service in services)


def test_the_channels_passwords_are_for_the_notices_user_alone() -> None:
    rows = (SYSTEMD / "hangroom.tmpfiles.conf").read_text().splitlines()
    assert "z /etc/hangroom/channels.toml 0600 hangroom-notices hangroom -" in rows


def test_the_users_and_folders_come_out_as_meant(tmp_path: Path) -> None:
    if os.geteuid() != 0:
        pytest.skip("making users and folders in another root needs root")
    for kind in ("sysusers", "tmpfiles"):
        folder = tmp_path / f"usr/lib/{kind}.d"
        folder.mkdir(parents=True)
        shutil.copy(SYSTEMD / f"hangroom.{kind}.conf", folder / "hangroom.conf")
    (tmp_path / "etc").mkdir()
    for name in ("systemd-sysusers", "systemd-tmpfiles"):
        arguments = ["--create"] if name == "systemd-tmpfiles" else []
        subprocess.run([tool(name), f"--root={tmp_path}", *arguments], check=True)
    users = [line.split(":") for line in (tmp_path / "etc/passwd").read_text().splitlines()]
    groups = {user[0]: user[3] for user in users}
    assert groups["hangroom"] == groups["hangroom-web"] == groups["hangroom-notices"]
    state = (tmp_path / "var/lib/hangroom").stat()
    assert stat.S_IMODE(state.st_mode) == 0o2770
    assert state.st_gid == int(groups["hangroom"])


def test_the_boards_watchdog_stays_below_what_its_counter_can_hold() -> None:
    """bcm2835_wdt: 20 bits at 65536 Hz, just under 16 s."""
    settings = configparser.ConfigParser()
    settings.optionxform = str  # type: ignore[assignment,method-assign]  # keep the case
    settings.read(SYSTEMD / "10-hangroom-watchdog.conf")
    assert float(settings["Manager"]["RuntimeWatchdogSec"]) < 2**20 / 65536


def test_the_notes_name_every_file_of_the_folder() -> None:
    notes = (SYSTEMD / "README.md").read_text()
    for file in SYSTEMD.iterdir():
        assert file.name in notes
