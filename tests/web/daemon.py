"""The daemon's own answers and alarms, beside the page, without its loop: what is asked is done."""

from dataclasses import replace
from datetime import timedelta

from web.scenario import BOOT, Scene

from hangroom.alarm_desk.desk import AlarmDesk
from hangroom.answers import Answers
from hangroom.store.journal import Journal
from hangroom.store.live import read_board, write_board
from hangroom.terms import RoomPlan


class Daemon:
    """Answers what the page asks while it waits, as the real one does at its next tick.

    `plans` are those that hold, `uptime_s` is when it last looked.
    """

    def __init__(self, scene: Scene) -> None:
        self._clock, self._folder = scene.clock, scene.folder
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
            write_board(self._folder, replace(board, written_at=now, uptime_s=uptime_s))

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
