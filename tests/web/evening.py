"""An invented eventful evening: casings dry, a sensor is wet, relays by hand and locked, alarms."""

from dataclasses import replace
from datetime import timedelta

from web.scenario import Scene
from web.telling import tell

from hangroom.alarm_table.log import AlarmEvent
from hangroom.alarm_table.row import AlarmId
from hangroom.alarm_table.words import Condition, Event, Suppression, Tell
from hangroom.store.live import LiveAir, LiveAlarm, LiveOverride, LiveStage
from hangroom.terms import Because, Calibration, RelayKind, Stage

CLOSET = "room closet"


def eventful(scene: Scene) -> None:
    """Let the daemon report it, and note what led to it."""
    tell(scene, f"{CLOSET}/{AlarmId.TEMPERATURE_HIGH_HIGH}")
    now = scene.clock.now()
    usual = scene.report().rooms["closet"]
    rail, relays = usual.sensors["rail"], usual.relays
    assert rail.reading is not None
    wet = replace(
        rail,
        reading=replace(rail.reading, temperature_c=13.6, humidity_pct=99.9),
        distrusted=Because("wet-element", {"lasted_s": 7200.0}),
        faults={"checksum": 5},
    )
    checked = Calibration(gain_ratio=1.0, offset_pct=1.9, checked_at=now - timedelta(days=12))
    humidifier = replace(
        relays[RelayKind.HUMIDIFIER],
        closed=False,
        because=Because("locked-out", {"left_s": 700.0}),
        dose_s=7.0,
        dose_proved=True,
    )
    fan = replace(
        relays[RelayKind.EXHAUST_FAN],
        closed=True,
        because=Because("by-hand", {"left_s": 700.0}),
        override=LiveOverride(
            closed=True, ends_at=now + timedelta(minutes=12), by="Ada", why="airing the room"
        ),
        dose_s=45.0,
    )
    scene.report(
        closet={
            "stage": Stage.CASING_DRY,
            "stage_run": LiveStage(
                since_at=now - timedelta(minutes=25),
                ends_at=now + timedelta(minutes=35),
                then=Stage.HANG,
                by="Ada",
                batch=1,
            ),
            "sensors": {"rail": replace(rail, calibration=checked), "top": wet},
            "air": LiveAir(temperature_c=13.1, humidity_pct=77.5),
            "relays": {RelayKind.HUMIDIFIER: humidifier, RelayKind.EXHAUST_FAN: fan},
            "inspection_ends_at": now + timedelta(minutes=9),
            "alarms": tuple(_of_the_closet(scene)),
        },
        alarms=_beside_it(scene),
        outside=LiveAir(temperature_c=8.2, humidity_pct=61.0),
    )
    scene.log(
        _event(scene, AlarmId.HUMIDITY_LOW, Event.ACTIVATED, 34.0, figures={"seen_pct": 68.2}),
        _event(scene, AlarmId.HUMIDITY_LOW, Event.ACKNOWLEDGED, 33.5, by="Ada"),
        _event(scene, AlarmId.HUMIDITY_LOW, Event.RETURNED_TO_NORMAL, 33.0),
        _event(scene, AlarmId.DOOR_OPEN, Event.SUPPRESSED, 0.6, reason="inspection"),
        _event(scene, AlarmId.RELAY_CHATTER, Event.SHELVED, 0.5, by="Ada", reason="new band"),
        _event(scene, AlarmId.TEMPERATURE_HIGH_HIGH, Event.ACTIVATED, 0.5),
    )


def alarm_of(scene: Scene, id_: AlarmId, **told: object) -> LiveAlarm:
    """An alarm of the closet that is on and unacknowledged; `told`: what is otherwise."""
    since_at = scene.clock.now() - timedelta(minutes=31)
    one = LiveAlarm(
        alarm=id_,
        scope=CLOSET,
        condition=Condition.ACTIVE,
        acknowledged=False,
        latched=False,
        suppression=Suppression.NONE,
        occurrences=1,
        since_at=since_at,
    )
    return replace(one, **told)  # type: ignore[arg-type]  # what a LiveAlarm has


def _of_the_closet(scene: Scene) -> list[LiveAlarm]:
    over = {"condition": Condition.NORMAL, "acknowledged": True, "latched": True}
    return [
        alarm_of(
            scene,
            AlarmId.TEMPERATURE_HIGH_HIGH,
            latched=True,
            figures={"seen_c": 21.2, "limit_c": 18.6},
        ),
        alarm_of(
            scene,
            AlarmId.SENSOR_IMPLAUSIBLE,
            why="wet-element",
            figures={"lasted_s": 7200.0},
            **over,
        ),
        alarm_of(scene, AlarmId.HUMIDITY_LOW, figures={"seen_pct": 68.2, "limit_pct": 71.0}),
        alarm_of(scene, AlarmId.SENSORS_DISAGREE, acknowledged=True),
        alarm_of(
            scene,
            AlarmId.RELAY_CHATTER,
            suppression=Suppression.SHELVED,
            held_by="Ada",
            held_why="new band",
            held_until=scene.clock.now() + timedelta(hours=3),
        ),
        alarm_of(scene, AlarmId.DOOR_OPEN, suppression=Suppression.BY_DESIGN),
    ]


def _beside_it(scene: Scene) -> list[LiveAlarm]:
    return [
        alarm_of(
            scene,
            AlarmId.DAEMON_RESTARTED,
            scope="service",
            condition=Condition.NORMAL,
            figures={"gap_s": 840.0},
        ),
        alarm_of(
            scene,
            AlarmId.BATCH_PAST_TARGET,
            scope="group 1 A",
            figures={"seen_pct": 71.4, "limit_pct": 72.0},
        ),
    ]


def _event(
    scene: Scene,
    id_: AlarmId,
    kind: Event,
    hours_ago: float,
    *,
    by: str = "",
    reason: str = "",
    figures: dict[str, float] | None = None,
) -> tuple[str, AlarmEvent]:
    return CLOSET, AlarmEvent(
        sequence=1,
        at=scene.clock.now() - timedelta(hours=hours_ago),
        uptime_s=scene.clock.uptime_s() - hours_ago * 3600,
        alarm=id_,
        event=kind,
        tell=Tell.NOTHING,
        suppression=Suppression.NONE,
        occurrences=1,
        by=by,
        reason=reason,
        figures=figures or {},
    )
