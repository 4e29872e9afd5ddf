"""The commands: the one place that knows every concrete class.

A command prints what the keeper should know and returns the exit status. What the keeper can
mend goes to stderr in words, with status 2 for bad input and 1 for anything else that failed;
a traceback means a mistake in the program.
"""

import argparse
import sys
from collections.abc import Sequence
from importlib import import_module
from keyword import iskeyword
from pathlib import Path

from hangroom.errors import HangroomError, InputError, SettingsError

WITH_SETTINGS = {
    "daemon": "run the rooms (started by the service manager)",
    "web": "serve the page (started by the service manager)",
    "notices": "tell what happens by mail, push or chat (started by the service manager)",
    "notify": "send a test message on every channel, now",
    "check": "read the settings and name every fault; no pin is touched",
    "safe": "every configured relay to its safe state, now",
    "passphrase": "set the household passphrase of the page",
}

USUAL_SETTINGS = "/etc/hangroom/hangroom.toml"


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return the exit status: 0 done, 1 failed, 2 bad input."""
    given = _parser().parse_args(arguments)
    try:
        # Only the command that was asked for is loaded: `safe` must be quick, and the daemon
        # must not carry the page's libraries.
        # A module cannot be called `import`, nor have a hyphen in its name.
        name = given.command.replace("-", "_") + "_" * iskeyword(given.command)
        return int(import_module(f"hangroom.cli.{name}").run(given))
    except (SettingsError, InputError) as fault:
        print(fault, file=sys.stderr)
        return 2
    except HangroomError as fault:
        print(fault, file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        return 130


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="hangroom",
        description="Runs the rooms where snack sticks hang to dry, and keeps the batch's record.",
    )
    commands = parser.add_subparsers(
        title="commands", required=True, metavar="COMMAND", dest="command"
    )
    this = commands.add_parser("demo", help="closet and fridge simulated, page and all")
    this.add_argument("--port", type=_port, default=8080, help="where the page listens (8080)")
    this.add_argument(
        "--folder", type=_path, help="keep the data here; without it, all is removed at the end"
    )
    this = commands.add_parser("rehearse", help="the real control on a simulated room, with faults")
    this.add_argument("scenario", type=_path, metavar="SCENARIO.toml")
    this.add_argument("--json", action="store_true", help="print the figures as one JSON object")
    this.add_argument(
        "--picture",
        type=_path,
        metavar="FILE.svg",
        help="where the picture goes (beside the scenario; with --json none unless named)",
    )
    this = commands.add_parser("replay", help="decide again what was decided, and show where")
    this.add_argument("--db", type=_path, required=True, metavar="FILE")
    this.add_argument("--room", metavar="ROOM", help="only this room")
    this.add_argument("--json", action="store_true", help="print every difference as JSON")
    this = commands.add_parser("forecast", help="one group's forecast from files")
    for name, says in (
        ("batch", "B.toml: diameter, water, target, scale, sticks and the air that is planned"),
        ("air", "A.csv: hours,temperature_c,humidity_pct; hours since hanging, gaps allowed"),
        ("weights", "W.csv: hours,stick,weight_g[,diameter_mm]; green at negative hours"),
    ):
        this.add_argument(f"--{name}", type=_path, required=True, metavar="FILE", help=says)
    this.add_argument(
        "--now-h", type=float, required=True, metavar="H", help="this moment, hours since hanging"
    )
    this.add_argument("--json", action="store_true", help="print it as one JSON object")
    _add_export_and_import(commands)
    _add_backup_and_restore(commands)
    # For the daemon alone, so the help does not list it: a question in, a forecast out, as JSON.
    commands.add_parser("forecast-child")
    commands.add_parser("plan-child")
    commands.add_parser("send-notice")  # for `notices` alone: one message in, what came of it out
    for name, says in WITH_SETTINGS.items():
        this = commands.add_parser(name, help=says, description=f"{says[0].upper()}{says[1:]}.")
        this.add_argument("--settings", type=_path, required=True, metavar="FILE")
        if name == "notify":
            this.add_argument("--test", action="store_true", help="what to send: a test")
            this.add_argument("--channel", metavar="NAME", help="only on this channel")
        if name == "passphrase":
            this.add_argument(
                "--forget-tries",
                action="store_true",
                help="leave it as it is, and end every wait after wrong tries",
            )
        if name == "daemon":
            this.add_argument(
                "--simulated", action="store_true", help="simulated rooms, no hardware: to try out"
            )
    return parser


def _add_export_and_import(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    this = commands.add_parser("export", help="records, air and alarms to a file")
    this.add_argument(
        "kind",
        choices=("json", "csv", "photos", "air", "alarms"),
        help="of batches: json, everything, to be taken in again; csv, for a spreadsheet; photos,"
        " their files. Of rooms, for a spreadsheet: air, all measured and switched; alarms",
    )
    this.add_argument("--settings", type=_path, required=True, metavar="FILE")
    this.add_argument(
        "--to",
        type=_path,
        required=True,
        metavar="FILE",
        help=".json; .zip for csv, photos, air; .csv for alarms",
    )
    this = commands.add_parser("import", help="weights, temperatures or whole records from a file")
    this.add_argument("kind", choices=("weights", "temperatures", "json", "photos"))
    this.add_argument("file", type=_path, metavar="FILE")
    this.add_argument("--settings", type=_path, required=True, metavar="FILE")
    this.add_argument(
        "--confirm", action="store_true", help="weights: store them although they look odd"
    )
    this.add_argument("--batch", type=int, metavar="N", help="temperatures: of which batch")
    this.add_argument("--group", metavar="LETTER", help="temperatures: of which group, if of one")
    this.add_argument("--part", choices=("cook", "chill"), help="temperatures: of which part")
    this.add_argument("--probe", metavar="WHERE", help="temperatures: where the probe sat")


def _add_backup_and_restore(
    commands: "argparse._SubParsersAction[argparse.ArgumentParser]",
) -> None:
    this = commands.add_parser(
        "backup", help="one file with records, photos and settings, while all runs"
    )
    this.add_argument(
        "dir",
        nargs="?",
        type=_path,
        metavar="DIR",
        help="a folder on a stick or a share (as it is set in [backup])",
    )
    this.add_argument("--settings", type=_path, default=_path(USUAL_SETTINGS), metavar="FILE")
    this = commands.add_parser("restore", help="put a backup back; what is there is kept aside")
    this.add_argument("file", nargs="?", type=_path, metavar="FILE")
    this.add_argument("--settings", type=_path, default=_path(USUAL_SETTINGS), metavar="FILE")
    this.add_argument("--yes", action="store_true", help="do not ask; show and put it in place")
    this.add_argument(
        "--pending",
        action="store_true",
        help="the one that was laid ready on the page (at a start)",
    )


def _path(text: str) -> Path:
    # Made absolute at once: the GPIO library changes the working folder when it is loaded.
    return Path(text).absolute()


def _port(text: str) -> int:
    port = int(text)
    if not 1 <= port <= 65535:  # noqa: PLR2004 - the range of the protocol
        raise argparse.ArgumentTypeError(f"{port} is no port; take one from 1024 to 65535")
    return port
