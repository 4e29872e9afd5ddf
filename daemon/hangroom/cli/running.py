"""Putting the loop together from its parts, real or simulated, and running it."""

import signal
from collections.abc import Callable, Mapping
from contextlib import ExitStack, suppress
from dataclasses import replace
from datetime import time
from types import FrameType

from hangroom import __version__
from hangroom.answers import Answers
from hangroom.hardware.clock import boot_id
from hangroom.hardware.notify import notify
from hangroom.jobs import Jobs
from hangroom.loop import Loop, WiredRoom
from hangroom.ports import Clock
from hangroom.settings import Settings
from hangroom.store.database import prepare_database
from hangroom.store.journal import Journal
from hangroom.store.live import LiveBoard, write_board


def run_loop(
    settings: Settings,
    rooms: Mapping[str, WiredRoom],
    clock: Clock,
    *,
    wake: Callable[[], None],
    alive: Callable[[], None],
    live: Callable[[], bool] = lambda: True,
) -> None:
    """Put the loop together and run it until SIGTERM or SIGINT.

    `wake` ends a wait of the clock. `live` tells whether the board is worth showing yet.
    """
    path = prepare_database(settings.store.folder)
    settings.live_folder().mkdir(parents=True, exist_ok=True)

    def show(board: LiveBoard) -> None:
        # A board that cannot be written grows old, and the page says so; control goes on.
        if live():
            with suppress(OSError):
                write_board(settings.live_folder(), board)

    with ExitStack() as stack:
        journal = Journal(path)
        stack.callback(journal.close)
        journal.start(
            {name: list(room.sensors) for name, room in rooms.items()},
            boot_id=boot_id(),
            version=__version__,
            now=clock.now(),
        )
        answers = Answers(path)
        stack.callback(answers.close)
        plans = answers.kept({name: room.plan for name, room in rooms.items()})
        jobs = Jobs(
            path,
            at=time.fromisoformat(settings.inspection.at),
            zone=settings.zone(),
            now=clock.now,
        )
        loop = Loop(
            {name: replace(room, plan=plans[name]) for name, room in rooms.items()},
            clock=clock,
            journal=journal,
            boot_id=boot_id(),
            version=__version__,
            plans_now=answers.answered,
            show=show,
            alive=alive,
            clock_jumped=jobs.rebuild,
        )

        def stop(_number: int, _frame: FrameType | None) -> None:
            loop.stop()
            wake()

        signal.signal(signal.SIGTERM, stop)
        signal.signal(signal.SIGINT, stop)
        jobs.start()
        stack.callback(jobs.stop)
        loop.run()
        notify("STOPPING=1")
        journal.flush(now=clock.now(), ended="stopped")
