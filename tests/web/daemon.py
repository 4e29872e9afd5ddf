"""The daemon's own answers and alarms, beside the page, without its loop: what is asked is done."""

from dataclasses import replace
from datetime import timedelta

from web.scenario import BOOT, Scene

from hangroom.alarm_desk.desk import AlarmDesk
from hangroom.answers import Answers
from hangroom.store.journal import Journal
from hangroom.store.live import LiveRoom, LiveWish, read_board, write_board
from hangroom.terms import Because, RoomPlan

WOULD = Because("too-humid", {"seen_pct": 84.0, "limit_pct": 79.0})


class Daemon:
    """Answers what the page asks while it waits, as the real one does at its next tick.

    `plans` are those that hold, `uptime_s` is when it last looked. `wired`: its relays are real
    ones, which need proof.
    """

    def __init__(self, scene: Scene, *, wired: bool = False) -> None:
        self._clock, self._folder = scene.clock, scene.folder
        self._wired = wired
        sensors = {name: list(room.sensor) for name, room in scene.settings.room.items()}
        now, uptime_s = scene.clock.now(), scene.clock.uptime_s()
        self._journal = Journal(scene.path)
        self._journal.start(sensors, boot_id=BOOT, version="0", now=now)
        self.alarms = AlarmDesk(
            sensors,
            clock=scene.clock,
            journal=self._journal,
            off_since=now - timedelta(minutes=14),
        )
        self._answers = Answers(
            scene.path,
            journal=self._journal,
            boot_id=BOOT,
            sensors=sensors,
            units=scene.settings.units.units(),
            alarm_acts=self.alarms.acted,
            wirings={name: room.wirings() for name, room in scene.settings.room.items() if wired},
        )
        plans = {name: room.plan(name) for name, room in scene.settings.room.items()}
        self.plans: dict[str, RoomPlan] = self._answers.kept(plans, now, uptime_s)
        self.uptime_s = uptime_s

    def tick(self) -> None:
        """Answer requests, and show the board anew."""
        self.answer()
        board = read_board(self._folder)
        if board is not None:
            now, uptime_s = self._clock.now(), self._clock.uptime_s()
            rooms = {name: self._told(name, room) for name, room in board.rooms.items()}
            fresh = replace(board, written_at=now, uptime_s=uptime_s, rooms=rooms)
            write_board(self._folder, fresh)

    def _told(self, name: str, room: LiveRoom) -> LiveRoom:
        """Return a room with its relays as the plans have them: watched or tried."""
        plan = self.plans[name]
        if not self._wired:
            return room
        relays = {}
        for kind, relay in room.relays.items():
            override = plan.overrides.get(kind)
            watched = kind in plan.unproved
            relays[kind] = replace(
                relay,
                closed=override.closed if override else relay.closed and not watched,
                because=Because("not-proved" if watched else "dry-enough", WOULD.figures),
                watched=watched,
                would=LiveWish(closed=relay.closed, because=WOULD) if watched else None,
            )
        return replace(room, relays=relays)

    def answer(self) -> None:
        """Answer requests."""
        now, uptime_s = self._clock.now(), self._clock.uptime_s()
        self.plans = dict(self._answers.plans_now(self.plans, now, uptime_s))
        self.uptime_s = uptime_s
        self._journal.flush(now=now)

    def note_plans(self) -> None:
        """Write down by which plans the rooms go, as the loop does."""
        for room, plan in self.plans.items():
            self._journal.note_plan(room, plan, uptime_s=self.uptime_s)
        self._journal.flush(now=self._clock.now())

    def look(self) -> None:
        """Look at the alarms of the service; the first look finds that it was restarted."""
        now, uptime_s = self._clock.now(), self._clock.uptime_s()
        self.alarms.after_a_tick({}, {}, now=now, uptime_s=uptime_s, clock_jump_s=None)
        self._journal.flush(now=now)

    def close(self) -> None:
        """Let go of the database."""
        self._answers.close()
        self._journal.close()
