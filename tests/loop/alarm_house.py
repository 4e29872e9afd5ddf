"""What the tests of the alarms ask of a house of fakes."""

from datetime import timedelta

from loop.fakes import FINE, TICK_S, House

from hangroom.alarm_table.log import of_room
from hangroom.alarm_table.row import AlarmId
from hangroom.alarm_table.words import Tell
from hangroom.store.live import LiveAlarm
from hangroom.store.requests import Kind, Outcome, Request

HIGH = AlarmId.HUMIDITY_HIGH
CLOSET = of_room("closet")
MOIST = (13.0, 82.0)  # 7 % above what the plan of the fakes asks for
HOUR_S = 3600.0
# The air of these tests jumps as no room's does; what the plant watch makes of that is its own.
BY_JUMPS = {AlarmId.HUMIDIFIER_STUCK_ON, AlarmId.DOOR_OPEN}
SETTLED_S = 1810.0  # by then a room that was never watched before has had its time to settle in


def run(house: House, for_s: float, air: tuple[float, float] | None = FINE) -> None:
    for _ in range(round(for_s / TICK_S)):
        house.tick(air)


def told(house: House, scope: str = CLOSET) -> list[tuple[float, AlarmId]]:
    """Return when, in seconds since the house began, which alarm was told."""
    return [
        (event.uptime_s - 1000.0, event.alarm)
        for of, event in house.notes.alarms
        if of == scope and event.tell is Tell.ANNUNCIATE and event.alarm not in BY_JUMPS
    ]


def shown(house: House) -> dict[AlarmId, LiveAlarm]:
    return {
        alarm.alarm: alarm
        for alarm in house.boards[-1].rooms["closet"].alarms
        if alarm.alarm not in BY_JUMPS
    }


def service(house: House) -> dict[AlarmId, LiveAlarm]:
    return {alarm.alarm: alarm for alarm in house.boards[-1].alarms}


def request(house: House, kind: Kind, room: str, body: object) -> Request:
    """Return what the keeper asks now; `body` is another process's JSON and can be anything."""
    return Request(
        number=1,
        asked_at=house.clock.now(),
        expires_at=house.clock.now() + timedelta(seconds=60),
        asked_by="keeper",
        kind=kind,
        room=room,
        body=body,  # type: ignore[arg-type]
        outcome=None,
        answer=None,
    )


def ask(house: House, kind: Kind, room: str = "closet", **body: object) -> tuple[Outcome, str]:
    """Have the desk do what the keeper asks; return what the page is told."""
    asked = request(house, kind, room, body)
    return house.alarms.acted(asked, house.clock.now(), house.clock.uptime_s())
