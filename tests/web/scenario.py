"""An invented household for the page's tests: a closet, a fridge, pork and venison sticks."""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from math import exp, sin
from pathlib import Path
from unittest.mock import patch

from flask.testing import FlaskClient

from hangroom.alarm_table.log import AlarmEvent
from hangroom.jobs import daily_look, looking_of
from hangroom.settings import Settings, check_settings
from hangroom.store.batches import NewGroup, NewStick, add_batch
from hangroom.store.database import connect, prepare_database
from hangroom.store.journal import Journal
from hangroom.store.live import (
    LiveAir,
    LiveAlarm,
    LiveBoard,
    LiveRelay,
    LiveRoom,
    LiveSensor,
    write_board,
)
from hangroom.store.weigh_ins import NewWeighIn, add_weigh_in
from hangroom.terms import AirReading, Because, Command, RelayKind, Stage
from hangroom_web import access
from hangroom_web.access import set_passphrase
from hangroom_web.app import create_app

BOOT = "this-boot"
PASSPHRASE = "juniper berries and mustard seed"
# Thursday 26 November 2026, 09:52:04 in New York.
START = datetime(2026, 11, 26, 14, 52, 4, tzinfo=UTC)
HUNG_AT = datetime(2026, 11, 24, 14, 0, tzinfo=UTC)
# Older readings count as none, by the settings' own default.
EXPIRES_S = 30.0
TOKEN = re.compile(r'name="csrf_token" value="([^"]+)"')

GREEN_G = {"A1": 104.0, "A2": 101.5, "A3": 98.0, "B1": 102.2, "B2": 105.1, "B3": 99.4}
FRIDGE_GREEN_G = {"F1": 96.0, "F2": 94.5}


class FakeClock:
    """Time moves only when told to; both clocks together.

    `meanwhile` is what goes on in the house while somebody waits.
    """

    def __init__(self, now: datetime = START, uptime_s: float = 90_000.0) -> None:
        self._now, self._uptime_s = now, uptime_s
        self.meanwhile: Callable[[], None] = lambda: None

    def now(self) -> datetime:
        return self._now

    def uptime_s(self) -> float:
        return self._uptime_s

    def wait_until(self, uptime_s: float) -> None:
        self.move(uptime_s - self._uptime_s)
        self.meanwhile()

    def move(self, by_s: float) -> None:
        self._now += timedelta(seconds=by_s)
        self._uptime_s += by_s


def settings_in(folder: Path, *, units: Mapping[str, str] | None = None) -> Settings:
    return check_settings(
        {
            "site": {"name": "Hang room", "timezone": "America/New_York"},
            "units": dict(units or {}),
            "store": {"folder": str(folder)},
            "web": {"hosts": ["hangroom.local"]},
            "room": {
                "closet": {
                    "title": "Closet",
                    "humidity": {
                        "setpoint_pct": 76.0,
                        "band_pct": 3.0,
                        "low_limit_pct": 55.0,
                        "high_limit_pct": 90.0,
                    },
                    "sensor": {"rail": {"kind": "dht22", "pin": 4, "read_every_s": 6.0}},
                    "relay": {
                        "humidifier": {"kind": "humidifier", "pin": 17},
                        "fan": {"kind": "fan", "role": "exhaust", "pin": 27},
                    },
                },
                "fridge": {
                    "title": "Fridge",
                    "temperature": {
                        "setpoint_c": 4.0,
                        "band_c": 1.0,
                        "low_limit_c": 0.5,
                        "high_limit_c": 12.0,
                    },
                    "sensor": {"shelf": {"kind": "dht22", "pin": 16, "read_every_s": 6.0}},
                    "relay": {
                        "compressor": {"kind": "cooling", "pin": 22},
                        "stirrer": {"kind": "fan", "role": "circulation", "pin": 23},
                    },
                },
            },
        },
        source="test",
    )


@dataclass(kw_only=True)
class Scene:
    """A household's folder and clock, with ways to let things happen in it."""

    folder: Path
    clock: FakeClock = field(default_factory=FakeClock)
    units: Mapping[str, str] = field(default_factory=dict)

    @classmethod
    def household(cls, folder: Path) -> "Scene":
        """Two batches hanging, a day's readings, yesterday's weights, a daemon that has reported."""
        scene = cls(folder=folder)
        scene.prepare()
        scene.hang()
        scene.weigh_yesterday()
        scene.keep_a_day()
        scene.remind()
        scene.report()
        return scene

    @property
    def settings(self) -> Settings:
        return settings_in(self.folder, units=self.units)

    @property
    def path(self) -> Path:
        return self.folder / "hangroom.db"

    def prepare(self) -> None:
        prepare_database(self.folder)
        # A light hash: hundreds of tests log in, and what a real one costs is shown by one of them.
        with patch.object(access, "METHOD", "scrypt:256:8:1"):
            set_passphrase(self.folder, PASSPHRASE)

    def hang(self) -> None:
        """Hang batch 1 in the closet and the fridge, two days ago."""
        db = connect(self.path)
        try:
            add_batch(
                db,
                name="pork and venison, juniper",
                started_at=HUNG_AT - timedelta(days=2),
                groups=[
                    _group("A", "supple", 72.0, "closet", GREEN_G),
                    _group("B", "dry, snaps", 60.0, "closet", GREEN_G),
                ],
                sample=True,
            )
            add_batch(
                db,
                name="pork and venison, mustard seed",
                started_at=HUNG_AT - timedelta(days=2),
                groups=[_group("F", "slow", 75.0, "fridge", FRIDGE_GREEN_G)],
            )
        finally:
            db.close()

    def weigh_yesterday(self) -> None:
        """Enter Wednesday's weights: 5 % of hang weight gone, in the fridge 2 %."""
        at = HUNG_AT + timedelta(hours=23)
        db = connect(self.path)
        try:
            for tag, green_g in {**GREEN_G, **FRIDGE_GREEN_G}.items():
                lost = 0.02 if tag.startswith("F") else 0.05 + 0.004 * int(tag[1])
                add_weigh_in(
                    db,
                    NewWeighIn(
                        key=f"wednesday{tag}",
                        tag=tag,
                        taken_at=at,
                        weight_g=round(green_g * 0.88 * (1 - lost), 1),
                        squeeze=2,
                        wrinkle_mm=0.5,
                        diameter_mm=None if tag == "A3" else 19.6 - 0.2 * int(tag[1]),
                    ),
                )
        finally:
            db.close()

    def remind(self) -> None:
        """Let the daemon's job ask for today's look, as it does at eight."""
        daily_look(self.path, looking_of(self.settings), now=self.clock.now())

    def keep_a_day(self) -> None:
        """Fill the last day with readings, a gap from two to four at night, and relay runs."""
        now, uptime_s = self.clock.now(), self.clock.uptime_s()
        journal = self._journal(now - timedelta(days=1))
        for minute in range(0, 24 * 60, 2):
            at = now - timedelta(minutes=24 * 60 - minute)
            if (at.hour, at.minute // 2) == (9, 0):
                journal.flush(now=at - timedelta(hours=2), ended="power cut")
                journal.close()
                journal = self._journal(at)
            if 7 <= at.hour < 9:
                continue
            then_s = uptime_s - 86_400 + minute * 60.0
            door = 7.0 * exp(-(((minute - 700) / 14.0) ** 2))
            closet_pct = 76 + 2.4 * sin(minute / 17.0) - door
            for room, sensor, temperature_c, humidity_pct in (
                ("closet", "rail", 13.0 + 0.8 * sin(minute / 230.0) + door / 9, closet_pct),
                ("fridge", "shelf", 4.0 + 0.9 * sin(minute / 9.0), 78 - 5 * sin(minute / 9.0)),
            ):
                reading = AirReading(
                    taken_at=at,
                    taken_uptime_s=then_s,
                    temperature_c=temperature_c,
                    humidity_pct=humidity_pct,
                )
                journal.note_reading(room, sensor, reading, seen_uptime_s=0.0)
            for room, relay, closed in (
                ("closet", RelayKind.HUMIDIFIER, sin(minute / 17.0) < -0.75),
                ("closet", RelayKind.EXHAUST_FAN, sin(minute / 17.0) > 0.97),
                ("fridge", RelayKind.COOLING, sin(minute / 9.0) > 0.2),
                ("fridge", RelayKind.CIRCULATION_FAN, minute % 30 < 6),
            ):
                journal.note_command(
                    room,
                    Command(relay=relay, closed=closed, because=Because("moist-enough")),
                    now=at,
                    uptime_s=then_s,
                )
        journal.flush(now=now)
        journal.close()

    def _journal(self, started_at: datetime) -> Journal:
        journal = Journal(self.path)
        journal.start(
            {"closet": ["rail"], "fridge": ["shelf"]}, boot_id=BOOT, version="0", now=started_at
        )
        return journal

    def report(
        self,
        *,
        reading_age_s: float = 4.0,
        distrusted: Because | None = None,
        unwritten_rows: int = 3,
        boot_id: str = BOOT,
        closet: Mapping[str, object] | None = None,
        alarms: Sequence[LiveAlarm] = (),
        outside: LiveAir | None = None,
    ) -> LiveBoard:
        """Let the daemon write its board now.

        `closet`: what is otherwise in the closet. `alarms`: those beside the rooms.
        """
        now, uptime_s = self.clock.now(), self.clock.uptime_s()

        def sensor(temperature_c: float, humidity_pct: float) -> LiveSensor:
            reading = AirReading(
                taken_at=now - timedelta(seconds=reading_age_s),
                taken_uptime_s=uptime_s - reading_age_s,
                temperature_c=temperature_c,
                humidity_pct=humidity_pct,
            )
            return LiveSensor(reading=reading, read_every_s=6.0)

        def relay(code: str, minutes: float, *, closed: bool, **figures: float) -> LiveRelay:
            return LiveRelay(
                closed=closed,
                since_at=now - timedelta(minutes=minutes),
                since_uptime_s=uptime_s - minutes * 60,
                because=Because(code, figures),
            )

        def air(temperature_c: float, humidity_pct: float) -> LiveAir | None:
            if distrusted is not None or reading_age_s > EXPIRES_S:
                return None
            return LiveAir(temperature_c=temperature_c, humidity_pct=humidity_pct)

        usual_closet = LiveRoom(
            stage=Stage.HANG,
            humidity_setpoint_pct=76.0,
            humidity_band_pct=3.0,
            temperature_setpoint_c=None,
            temperature_band_c=None,
            distrusted=distrusted,
            air=air(13.1, 75.6),
            sensors={"rail": sensor(13.1, 75.6)},
            relays={
                RelayKind.HUMIDIFIER: relay("humidifying", 1, closed=True, left_s=25.0),
                RelayKind.EXHAUST_FAN: relay("waits-for-humidifier", 41, closed=False),
            },
        )
        fridge = LiveRoom(
            stage=Stage.HANG,
            humidity_setpoint_pct=None,
            humidity_band_pct=None,
            temperature_setpoint_c=4.0,
            temperature_band_c=1.0,
            distrusted=None,
            air=air(4.2, 78.3),
            sensors={"shelf": sensor(4.2, 78.3)},
            relays={
                RelayKind.COOLING: relay("cool-enough", 12, closed=False, seen_c=4.2, limit_c=5.0),
                RelayKind.CIRCULATION_FAN: relay("between-stirs", 18, closed=False, left_s=700.0),
            },
        )
        board = LiveBoard(
            boot_id=boot_id,
            version="0",
            written_at=now,
            uptime_s=uptime_s,
            tick_s=2.0,
            unwritten_rows=unwritten_rows,
            rooms={"closet": replace(usual_closet, **(closet or {})), "fridge": fridge},  # type: ignore[arg-type]  # a test names what LiveRoom has
            alarms=tuple(alarms),
            outside=outside,
        )
        write_board(self.folder, board)
        return board

    def log(self, *events: tuple[str, AlarmEvent]) -> None:
        """Let the daemon note what happened to alarms."""
        journal = self._journal(self.clock.now())
        for scope, event in events:
            journal.note_alarm(scope, event)
        journal.flush(now=self.clock.now())
        journal.close()

    def client(self, *, logged_in: bool = False, who: str = "Ada") -> FlaskClient:
        client = create_app(self.settings, clock=self.clock, boot_id=BOOT).test_client()
        if logged_in:
            self.log_in(client, who=who)
        return client

    def log_in(self, client: FlaskClient, *, who: str = "Ada") -> None:
        form = {"passphrase": PASSPHRASE, "who": who, "csrf_token": token(client, "/login")}
        assert client.post("/login", data=form).status_code == 303


def token(client: FlaskClient, path: str) -> str:
    """Return the token of a form on a page, as a browser would send it back."""
    found = TOKEN.search(client.get(path).get_data(as_text=True))
    assert found is not None, f"no form on {path}"
    return found[1]


def _group(
    letter: str, finish: str, target_pct: float, room: str, green_g: Mapping[str, float]
) -> NewGroup:
    tagged = [
        NewStick(
            tag=tag,
            green_weight_g=weight_g,
            hang_weight_g=round(weight_g * 0.88, 1),
            hang_diameter_mm=20.0,
            length_mm=262.0 + 4.0 * int(tag[1]),
        )
        for tag, weight_g in green_g.items()
        if tag.startswith(letter)
    ]
    return NewGroup(
        letter=letter,
        finish=finish,
        target_yield_pct=target_pct,
        sticks=14,
        tagged=tagged,
        room=room,
        hung_at=HUNG_AT,
    )
