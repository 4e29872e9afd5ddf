"""A whole invented house, made at once: three days of air, two batches hanging, one finished.

For looking around before anything real is there. It lies in a folder of its own and is never part
of a house's record. No room is simulated for it: its air goes up and down by plain formulas.
"""

from collections.abc import Iterator
from contextlib import closing
from datetime import datetime, timedelta
from importlib.resources import files
from math import exp, pi, sin
from pathlib import Path
from random import Random
from tomllib import loads

from hangroom.product.daily_look import due_on
from hangroom.sample.batches import BATCHES, hang_batch, weigh_batch
from hangroom.settings import Settings, check_settings
from hangroom.store.database import connect, prepare_database
from hangroom.store.journal import Journal
from hangroom.store.live import LiveAir, LiveBoard, LiveRelay, LiveRoom, LiveSensor, write_board
from hangroom.terms import AirReading, Because, Command, RelayKind, Stage

PAST_DAYS = 3
READ_EVERY = timedelta(minutes=2)
LOOKED_AFTER = timedelta(minutes=20)

# What the sticks of each room have lost of their hung weight after a time t: most (1 - exp(-t/T)).
MOST_LOST_RATIO = 0.30
LOSS_TIME_H = {"closet": 60.0, "fridge": 170.0}

# Mean, swing and period of each room's humidity and temperature.
HUMIDITY = {"closet": (76.0, 2.7, 47.0), "fridge": (78.0, 5.0, 19.0)}
TEMPERATURE = {"closet": (14.0, 0.8, 24 * 60.0), "fridge": (3.6, 0.8, 19.0)}

# Where in its swing (sine of the phase) each relay is on, and why.
ON = {
    ("closet", RelayKind.HUMIDIFIER): (-1.0, -0.9, Because("humidifying", {"left_s": 12.0})),
    ("closet", RelayKind.EXHAUST_FAN): (0.97, 1.0, Because("airing", {"left_s": 20.0})),
    ("fridge", RelayKind.COOLING): (
        0.3,
        1.0,
        Because("still-cooling", {"seen_c": 3.9, "limit_c": 2.0}),
    ),
    ("fridge", RelayKind.CIRCULATION_FAN): (-0.2, 0.1, Because("circulating", {"left_s": 60.0})),
}
OFF = {
    RelayKind.HUMIDIFIER: Because("moist-enough", {"seen_pct": 76.4, "limit_pct": 73.0}),
    RelayKind.EXHAUST_FAN: Because("dry-enough", {"seen_pct": 76.4, "limit_pct": 79.0}),
    RelayKind.COOLING: Because("cool-enough", {"seen_c": 3.1, "limit_c": 4.0}),
    RelayKind.CIRCULATION_FAN: Because("between-stirs", {"left_s": 700.0}),
}


def sample_settings(real: Settings, folder: Path) -> Settings:
    """Return the settings of the invented house: the keeper's zone, units and page, own rooms."""
    text = files("hangroom.settings").joinpath("example.toml").read_text(encoding="utf-8")
    example = check_settings(loads(text), source="the example")
    store = example.store.model_copy(update={"folder": folder, "live_folder": None})
    return example.model_copy(
        update={
            "site": real.site,
            "units": real.units,
            "inspection": real.inspection,
            "store": store,
            "web": real.web.model_copy(update={"looking": "open"}),
        }
    )


def make_house(settings: Settings, *, now: datetime, uptime_s: float, boot_id: str) -> None:
    """Fill the settings' folder with the invented house as it stands at a moment."""
    path = prepare_database(settings.store.folder)
    _hang_and_weigh(path, settings, now)
    with closing(Journal(path)) as journal:
        since = now - timedelta(days=PAST_DAYS)
        sensors = {name: list(room.sensor) for name, room in settings.room.items()}
        journal.start(sensors, boot_id=boot_id, version="sample", now=since)
        _keep_the_past(journal, settings, now=now, uptime_s=uptime_s)
        journal.flush(now=now)
    write_board(settings.live_folder(), _board(settings, now, uptime_s, boot_id))


def _hang_and_weigh(path: Path, settings: Settings, now: datetime) -> None:
    random = Random(1)
    zone, (look_at, *_) = settings.zone(), settings.inspection.times()
    today = now.astimezone(zone).date()
    with closing(connect(path)) as db:
        for number, batch in enumerate(BATCHES):
            hung_at = now - batch.hung_for
            shares = hang_batch(db, number, hung_at=hung_at, random=random)
            day = hung_at.astimezone(zone).date() + timedelta(days=1)
            while day < today:
                looked_at = due_on(day, at=look_at, zone=zone) + LOOKED_AFTER
                weigh_batch(
                    db,
                    number,
                    loss_ratio=_lost_ratio(batch.room, looked_at - hung_at),
                    shares=shares,
                    looked_at=looked_at,
                )
                day += timedelta(days=1)


def _lost_ratio(room: str, hung_for: timedelta) -> float:
    hours = hung_for / timedelta(hours=1)
    return MOST_LOST_RATIO * (1 - exp(-hours / LOSS_TIME_H[room]))


def _keep_the_past(journal: Journal, settings: Settings, *, now: datetime, uptime_s: float) -> None:
    told: dict[tuple[str, RelayKind], bool] = {}
    for ago in _moments():
        then_s = uptime_s - ago.total_seconds()
        for room, table in settings.room.items():
            reading = _reading(room, now - ago, then_s, ago)
            for sensor in table.sensor:
                journal.note_reading(room, sensor, reading, seen_uptime_s=max(0.0, then_s))
            for relay in table.wirings():
                command = _command(room, relay, ago)
                if told.get((room, relay)) != command.closed:
                    told[room, relay] = command.closed
                    journal.note_command(room, command, now=now - ago, uptime_s=then_s)


def _moments() -> Iterator[timedelta]:
    """Yield how long ago each reading was, the oldest first, the newest a few seconds."""
    ago = timedelta(days=PAST_DAYS)
    while ago > timedelta():
        yield ago
        ago -= READ_EVERY
    yield timedelta(seconds=4)


def _swing_ratio(period_min: float, ago: timedelta) -> float:
    return sin(-2 * pi * ago / timedelta(minutes=period_min))


def _reading(room: str, at: datetime, then_s: float, ago: timedelta) -> AirReading:
    mean_pct, swing_pct, period_min = HUMIDITY[room]
    mean_c, swing_c, slow_min = TEMPERATURE[room]
    return AirReading(
        taken_at=at,
        taken_uptime_s=then_s,
        temperature_c=round(mean_c + swing_c * _swing_ratio(slow_min, ago), 1),
        humidity_pct=round(mean_pct + swing_pct * _swing_ratio(period_min, ago), 1),
    )


def _command(room: str, relay: RelayKind, ago: timedelta) -> Command:
    low, high, because = ON[room, relay]
    closed = low <= _swing_ratio(HUMIDITY[room][2], ago) <= high
    return Command(relay=relay, closed=closed, because=because if closed else OFF[relay])


def _board(settings: Settings, now: datetime, uptime_s: float, boot_id: str) -> LiveBoard:
    ago = timedelta(seconds=4)
    rooms = {}
    for room, table in settings.room.items():
        reading = _reading(room, now - ago, uptime_s - ago.total_seconds(), ago)
        commands = [_command(room, relay, ago) for relay in table.wirings()]
        humidity, temperature = table.humidity, table.temperature
        rooms[room] = LiveRoom(
            stage=Stage.HANG,
            humidity_setpoint_pct=humidity.setpoint_pct if humidity else None,
            humidity_band_pct=humidity.band_pct if humidity else None,
            temperature_setpoint_c=temperature.setpoint_c if temperature else None,
            temperature_band_c=temperature.band_c if temperature else None,
            distrusted=None,
            air=LiveAir(temperature_c=reading.temperature_c, humidity_pct=reading.humidity_pct),
            sensors={
                name: LiveSensor(reading=reading, read_every_s=sensor.read_every_s)
                for name, sensor in table.sensor.items()
            },
            relays={
                command.relay: LiveRelay(
                    closed=command.closed,
                    since_at=now - timedelta(minutes=6),
                    since_uptime_s=uptime_s - 360.0,
                    because=command.because,
                )
                for command in commands
            },
        )
    return LiveBoard(
        boot_id=boot_id,
        version="sample",
        written_at=now,
        uptime_s=uptime_s,
        tick_s=2.0,
        unwritten_rows=0,
        rooms=rooms,
    )
