"""What a command says and how it ends: 0 done, 1 failed, 2 bad input, never a traceback."""

import re
import socket
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from hangroom.cli import main
from hangroom.settings import read_settings

Run = Callable[..., subprocess.CompletedProcess[str]]
WITH_SETTINGS = ("daemon", "web", "check", "safe", "passphrase")
COMMANDS = ("demo", *WITH_SETTINGS, "rehearse", "replay", "forecast", "export", "import")


def one_line(ran: subprocess.CompletedProcess[str], status: int) -> str:
    """The single line a failed command leaves on stderr."""
    assert "Traceback" not in ran.stderr
    assert ran.returncode == status, ran.stderr
    (line,) = ran.stderr.splitlines()
    return line


def test_help_names_every_command(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["--help"])
    assert ended.value.code == 0
    shown = set(re.findall(r"^    ([a-z]+)(?: |$)", capsys.readouterr().out, re.MULTILINE))
    assert set(COMMANDS) <= shown


@pytest.mark.parametrize("command", COMMANDS)
def test_a_command_answers_help(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main([command, "--help"])
    assert ended.value.code == 0
    assert f"hangroom {command}" in capsys.readouterr().out


@pytest.mark.parametrize(
    "arguments",
    [[], ["dance"], ["check"], ["demo", "--port", "0"], ["demo", "--port", "many"]],
    ids=" ".join,
)
def test_what_cannot_be_understood_is_bad_input(
    arguments: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as ended:
        main(arguments)
    assert ended.value.code == 2
    assert "usage: hangroom" in capsys.readouterr().err


def test_python_m_hangroom_is_the_same_command(run: Run) -> None:
    ran = run("--help")
    assert ran.returncode == 0
    assert ran.stdout.startswith("usage: hangroom")


def test_check_says_what_the_settings_ask_for(run: Run, settings_file: Path) -> None:
    ran = run("check", "--settings", settings_file)
    assert (ran.returncode, ran.stderr) == (0, "")
    for room in read_settings(settings_file).room.values():
        assert room.title in ran.stdout
        pins = [
            *(sensor.pin for sensor in room.sensor.values()),
            *(relay.pin for relay in room.relay.values()),
        ]
        assert all(f"on GPIO {pin}," in ran.stdout for pin in pins)


def test_check_names_six_faults_of_a_file_at_once(run: Run, settings_file: Path) -> None:
    text = settings_file.read_text(encoding="utf-8")
    for good, bad in (
        ('"America/New_York"', '"America/Nowhere"'),
        ("port = 8080", "port = 80800"),
        ('at = "08:00"', 'at = "8"'),
        ("band_pct = 3.0", "bandpct = 3.0"),
        ("low_limit_c = 0.5", "low_limit_c = 3.5"),
        ('role = "exhaust"', ""),
        ("pin = 22", "pin = 17"),
    ):
        assert good in text
        text = text.replace(good, bad, 1)
    settings_file.write_text(text, encoding="utf-8")
    ran = run("check", "--settings", settings_file)
    faults = ran.stderr.splitlines()
    assert (ran.returncode, ran.stdout) == (2, "")
    assert len(faults) == 7
    assert all(fault.startswith(f"{settings_file}: ") for fault in faults)


@pytest.mark.parametrize("command", WITH_SETTINGS)
def test_a_missing_settings_file_is_one_line_of_bad_input(
    run: Run, tmp_path: Path, command: str
) -> None:
    line = one_line(run(command, "--settings", tmp_path / "none.toml"), 2)
    assert str(tmp_path / "none.toml") in line


@pytest.mark.parametrize(
    "arguments", [["daemon", "--simulated"], ["web"], ["passphrase"]], ids=" ".join
)
def test_a_data_folder_that_cannot_be_made_is_one_line(
    run: Run, settings_file: Path, tmp_path: Path, arguments: list[str]
) -> None:
    (tmp_path / "data").write_text("a file stands here")
    ran = run(*arguments, "--settings", settings_file)
    if arguments == ["passphrase"]:
        assert "at least" in one_line(ran, 2)  # nothing was typed, which is told first
        return
    assert "a file stands where its folder should be" in one_line(ran, 1)


def test_a_demo_folder_that_cannot_be_made_is_one_line(run: Run, tmp_path: Path) -> None:
    (tmp_path / "data").write_text("a file stands here")
    port = str(free_port())
    line = one_line(run("demo", "--port", port, "--folder", tmp_path / "data"), 1)
    assert "a file stands where its folder should be" in line


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def test_a_port_in_use_is_one_line_for_the_demo(run: Run, tmp_path: Path) -> None:
    with socket.socket() as holder:
        holder.bind(("127.0.0.1", 0))
        holder.listen()
        port = str(holder.getsockname()[1])
        line = one_line(run("demo", "--port", port, "--folder", tmp_path / "data"), 1)
    assert f"Port {port} cannot be used" in line
    assert "hangroom demo --port" in line


def test_a_port_in_use_is_one_line_for_the_page(run: Run, settings_file: Path) -> None:
    with socket.socket() as holder:
        holder.bind(("127.0.0.1", 0))
        holder.listen()
        port = holder.getsockname()[1]
        text = settings_file.read_text(encoding="utf-8")
        text = text.replace("port = 8080", f"port = {port}").replace('"0.0.0.0"', '"127.0.0.1"')
        settings_file.write_text(text, encoding="utf-8")
        line = one_line(run("web", "--settings", settings_file), 1)
    assert f"Port {port} is already in use" in line
    assert "set another port" in line


@pytest.mark.skipif(bool(list(Path("/dev").glob("gpiochip*"))), reason="this machine has pins")
@pytest.mark.parametrize("command", ["safe", "daemon"])
def test_a_machine_without_pins_is_one_line(run: Run, settings_file: Path, command: str) -> None:
    line = one_line(run(command, "--settings", settings_file), 1)
    assert "no relay can be driven" in line


def test_safe_with_a_file_it_cannot_read_says_to_pull_the_plugs(run: Run, tmp_path: Path) -> None:
    (tmp_path / "my.toml").write_text("not = = toml")
    assert "Pull the loads' plugs" in one_line(run("safe", "--settings", tmp_path / "my.toml"), 2)


LOADED = """
import sys
{what}
heavy = ("numpy", "pandas", "flask", "hangroom_web", "waitress", "hangroom.simulation")
print(*sorted(name for name in sys.modules if name.startswith(heavy)), file=sys.stderr)
"""


@pytest.mark.parametrize(
    "what",
    [
        "import hangroom.cli.daemon",
        "from hangroom.cli import main; main(['check', '--settings', sys.argv[1]])",
        "from hangroom.cli import main; main(['safe', '--settings', sys.argv[2]])",
    ],
    ids=["daemon", "check", "safe"],
)
def test_the_daemons_side_loads_no_page_no_simulation_and_no_numpy(
    what: str, settings_file: Path, tmp_path: Path
) -> None:
    nowhere = tmp_path / "none.toml"
    ran = subprocess.run(
        [sys.executable, "-c", LOADED.format(what=what), settings_file, nowhere],
        capture_output=True,
        text=True,
        check=True,
    )
    # `safe` complains about its file first; the last line is the list.
    assert ran.stderr.splitlines()[-1] == ""
