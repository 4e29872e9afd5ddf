"""An invented house whose alarms, board and channels a test sets, and the process's own loop."""

from collections.abc import Callable, Mapping
from contextlib import closing
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from shutil import rmtree
from tempfile import mkdtemp

from web.scenario import FakeClock

from hangroom.alarm_table.log import AlarmEvent
from hangroom.alarm_table.row import AlarmId
from hangroom.alarm_table.words import Event, Suppression, Tell
from hangroom.cli.notices import desk_for, tell
from hangroom.notices.channels import Secret
from hangroom.notices.desk import Carries, Desk
from hangroom.notices.sending import Sent
from hangroom.notices.wording import Letter
from hangroom.product.notice import Notice, Urgency
from hangroom.settings import Settings, check_settings
from hangroom.store.database import connect, prepare_database
from hangroom.store.deliveries import Carried, carried_on
from hangroom.store.journal import Journal
from hangroom.store.live import LiveAir, LiveAlarm, LiveBoard, LiveRoom, write_board
from hangroom.store.notices import newest_notices
from hangroom.terms import Stage

# Thursday 26 November 2026, 15:00 in Berlin.
START = datetime(2026, 11, 26, 14, 0, tzinfo=UTC)
CLOSET = "room closet"

ROOMS = {
    "closet": {
        "title": "Kämmerchen",
        "humidity": {"setpoint_pct": 76.0, "low_limit_pct": 55.0, "high_limit_pct": 90.0},
        "sensor": {"rail": {"kind": "dht22", "pin": 4}},
        "relay": {"humidifier": {"kind": "humidifier", "pin": 17}},
    }
}


class TurningClock(FakeClock):
    """Both clocks go on together while somebody waits, at least by a step."""

    def __init__(self, now: datetime = START, uptime_s: float = 5000.0) -> None:
        super().__init__(now, uptime_s)
        self.step_s = 2.0

    def wait_until(self, uptime_s: float) -> None:
        super().wait_until(max(uptime_s, self._uptime_s + self.step_s))

    def set_wall(self, by_s: float) -> None:
        """Step the wall clock alone, as time from the network does."""
        self._now += timedelta(seconds=by_s)


@dataclass
class Postbox:
    """A receiver that a test controls. `refuses`: what it says instead of taking, '' for taking.

    `keeps`: it keeps a message although it says that it does not.
    """

    clock: TurningClock
    refuses: Callable[[], str] = lambda: ""
    keeps: bool = False
    takes_s: float = 0.0
    got: list[tuple[datetime, str, Letter, str]] = field(default_factory=list)
    tries: list[datetime] = field(default_factory=list)

    def send(self, letter: Letter, urgency: Urgency, token: str) -> Sent:
        self.tries.append(self.clock.now())
        self.clock.move(self.takes_s)
        why = self.refuses()
        if not why or self.keeps:
            self.got.append((self.clock.now(), token, letter, urgency))
        return Sent(why=why)

    @property
    def titles(self) -> list[str]:
        return [letter.title for _at, _token, letter, _urgency in self.got]

    @property
    def text(self) -> str:
        return "\n".join(f"{one.title}\n{one.text}" for _at, _token, one, _u in self.got)


class Postman:
    """Carries to postboxes by address; stands in for the child alone."""

    def __init__(self, boxes: Mapping[str, Postbox]) -> None:
        self.boxes = boxes
        self.pings: list[str] = []

    def send(self, secret: Secret, letter: Letter, *, urgency: Urgency, token: str) -> Sent:
        return self.boxes[secret.address].send(letter, urgency, token)

    def ping(self, secret: Secret) -> Sent:
        self.pings.append(secret.address)
        return Sent()

    def check(self, secret: Secret) -> Sent:
        return Sent(why="" if secret.address in self.boxes else "No such service.")


class House:
    """A database, a board, a channels' file, and a process that tells."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.clock = TurningClock()
        self.boot = "this-boot"
        self.path = prepare_database(folder)
        self.channels_file = folder / "channels.toml"
        self.notices: dict[str, object] = {"alive_weekday": "never"}
        self.boxes: dict[str, Postbox] = {}
        self.postman = Postman(self.boxes)
        self.sequence = 0
        # In memory where there is such a place, as on the Pi: it is rewritten at each step.
        memory = Path("/dev/shm")  # noqa: S108 - a folder of its own in it
        self.live_folder = Path(mkdtemp(dir=memory if memory.is_dir() else folder))
        self.silent = False
        self.on_board: tuple[LiveAlarm, ...] = ()
        self._db = connect(self.path)

    def close(self) -> None:
        self._db.close()
        rmtree(self.live_folder, ignore_errors=True)

    @property
    def settings(self) -> Settings:
        return check_settings(
            {
                "site": {"name": "Räucherkammer", "timezone": "Europe/Berlin"},
                "store": {"folder": str(self.folder), "live_folder": str(self.live_folder)},
                "notices": {"channels_file": str(self.channels_file), **self.notices},
                "room": ROOMS,
            },
            source="test",
        )

    def channel(self, name: str, *, least: str = "low", **box: object) -> Postbox:
        """Add a channel with a postbox behind it."""
        address = f"post://{name}"
        self.boxes[address] = made = Postbox(self.clock, **box)  # type: ignore[arg-type]
        self.write_channels([(n, least, f"post://{n}") for n in [*self._names(), name]])
        return made

    def _names(self) -> list[str]:
        return [address.removeprefix("post://") for address in self.boxes][:-1]

    def write_channels(self, lines: list[tuple[str, str, str]], *, more: str = "") -> None:
        text = more + "".join(
            f'[[channel]]\nname = "{name}"\naddress = "{address}"\nleast = "{least}"\n'
            for name, least, address in lines
        )
        self.channels_file.touch(mode=0o600)
        self.channels_file.write_text(text, encoding="utf-8")

    def alarm(
        self,
        alarm: AlarmId = AlarmId.HUMIDITY_HIGH,
        event: Event = Event.ACTIVATED,
        *,
        scope: str = CLOSET,
        tell: Tell | None = None,
        suppression: Suppression = Suppression.NONE,
        figures: Mapping[str, float] | None = None,
    ) -> None:
        """Let the daemon write a line into its log of alarms."""
        self.sequence += 1
        usual = Tell.ANNUNCIATE if event is Event.ACTIVATED else Tell.NOTHING
        journal = Journal(self.path)
        journal.start({}, boot_id=self.boot, version="0", now=self.clock.now())
        journal.note_alarm(
            scope,
            AlarmEvent(
                sequence=self.sequence,
                at=self.clock.now(),
                uptime_s=self.clock.uptime_s(),
                alarm=alarm,
                event=event,
                tell=usual if tell is None else tell,
                suppression=suppression,
                occurrences=1,
                figures=figures or {"seen_pct": 84.0, "limit_pct": 81.0},
            ),
        )
        journal.flush(now=self.clock.now())
        journal.close()

    def report(self) -> None:
        """Let the daemon write its board, unless it is silent."""
        if self.silent:
            return
        room = LiveRoom(
            stage=Stage.HANG,
            humidity_setpoint_pct=76.0,
            humidity_band_pct=3.0,
            temperature_setpoint_c=None,
            temperature_band_c=None,
            distrusted=None,
            sensors={},
            relays={},
            air=LiveAir(temperature_c=13.1, humidity_pct=75.6),
        )
        write_board(
            self.live_folder,
            LiveBoard(
                boot_id=self.boot,
                version="0",
                written_at=self.clock.now(),
                uptime_s=self.clock.uptime_s(),
                tick_s=2.0,
                unwritten_rows=0,
                rooms={"closet": room},
                alarms=self.on_board,
            ),
        )

    def begin(self, carrier: Carries | None = None) -> Desk:
        """Start the process anew."""
        return desk_for(self.settings, self._db, carrier or self.postman)

    def go_on(self, desk: Desk, for_s: float) -> None:
        """Let the process's own loop run, with the daemon reporting beside it."""
        until_s = self.clock.uptime_s() + for_s
        self.clock.meanwhile = self.report
        self.report()
        tell(
            desk,
            self.clock,
            boot_id=self.boot,
            path=self.path,
            stopping=lambda: self.clock.uptime_s() >= until_s,
        )

    def told(self) -> list[Notice]:
        with closing(connect(self.path)) as db:
            return newest_notices(db, most=1000)[::-1]

    def carried(self, channel: str) -> Carried:
        return carried_on(self._db, channel)
