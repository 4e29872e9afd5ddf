"""What is looked at every few seconds and may send a child: one look at a time, none when ended."""

from collections.abc import Callable
from contextlib import closing
from datetime import datetime
from pathlib import Path
from threading import Lock
from typing import TypeVar

from sqlite_utils import Database

from hangroom.forecasting.child import Child
from hangroom.store.database import connect

FoundT = TypeVar("FoundT")


class ChildDesk:
    """Keeps the child and the turn.

    `live`: whether the present is the present; in a demo's past, made at full speed, nothing is
    looked at.
    """

    def __init__(
        self,
        path: Path,
        *,
        scale_sd_g: float,
        now: Callable[[], datetime],
        live: Callable[[], bool] = lambda: True,
        child: Child,
    ) -> None:
        self._path = path
        self._scale_sd_g = scale_sd_g
        self._now = now
        self._live = live
        self._child = child
        self._busy = Lock()
        self._stopping = False

    def stop(self) -> None:
        """End a child that runs, and begin none any more. Safe to call twice."""
        self._stopping = True
        self._child.close()

    def _in_turn(self, look: Callable[[Database], FoundT]) -> FoundT | None:
        """Look, with a connection of this thread's own; None where it is nobody's turn."""
        if self._stopping or not self._live() or not self._busy.acquire(blocking=False):
            return None
        try:
            with closing(connect(self._path)) as db:
                return look(db)
        finally:
            self._busy.release()
