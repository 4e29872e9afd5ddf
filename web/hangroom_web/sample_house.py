"""Looking around with sample data: a second, invented house under /sample, until it is left.

It has a folder of its own in the page's temporary files and an app of its own that takes no form,
so that nothing of it can come among what is real, and nothing real is written to look at it: not
the record, not what is learned, no reminder, no message, no alarm. It stands still at the moment
it was made. The daemon does not know of it. A restart of the page ends it as leaving does.
"""

from collections.abc import Callable, Iterable
from datetime import datetime
from pathlib import Path
from shutil import rmtree
from tempfile import mkdtemp
from threading import Lock
from typing import Any
from weakref import finalize

from flask import Flask

from hangroom.ports import Clock
from hangroom.sample.house import make_house, sample_settings
from hangroom.settings import Settings

UNDER = "/sample"
EXTENSION = "sample_house"

# No house can be up for less than its invented past, s.
LEAST_UPTIME_S = 7 * 86_400.0

WsgiApp = Callable[[dict[str, Any], Any], Iterable[bytes]]


class StillClock:
    """A clock that stands at one moment."""

    def __init__(self, now: datetime, uptime_s: float) -> None:
        self._now, self._uptime_s = now, uptime_s

    def now(self) -> datetime:
        """Wall time, aware, UTC."""
        return self._now

    def uptime_s(self) -> float:
        """Monotonic seconds."""
        return self._uptime_s

    def wait_until(self, uptime_s: float) -> None:
        """Return at once."""


class SampleHouse:
    """The invented house while somebody looks at it; `make_app` makes the page that shows it."""

    def __init__(
        self,
        settings: Settings,
        clock: Clock,
        boot_id: str,
        *,
        make_app: Callable[["SampleHouse", Settings, Clock, str], Flask],
    ) -> None:
        self._settings = settings
        self._clock = clock
        self._boot_id = boot_id
        self._make_app = make_app
        self._lock = Lock()
        self._remove: Callable[[], object] = lambda: None
        self._app: Flask | None = None

    def begin(self) -> None:
        """Make the house, unless it stands already."""
        with self._lock:
            if self._app is not None:
                return
            folder = mkdtemp(prefix="hangroom-sample-")
            # Also where the page ends in order while somebody looks around.
            self._remove = finalize(self, rmtree, folder, ignore_errors=True)
            try:
                self._app = self._made(Path(folder))
            except BaseException:
                self._remove()  # of a full disk, half a house would be the last straw
                raise

    def leave(self) -> None:
        """Remove the house. Safe to call twice."""
        with self._lock:
            self._app = None
            self._remove()

    def _made(self, folder: Path) -> Flask:
        now, uptime_s = self._clock.now(), LEAST_UPTIME_S
        settings = sample_settings(self._settings, folder)
        make_house(settings, now=now, uptime_s=uptime_s, boot_id=self._boot_id)
        return self._make_app(self, settings, StillClock(now, uptime_s), self._boot_id)

    def mounted(self, real: WsgiApp) -> WsgiApp:
        """Return the app that sends what is asked for under the house's address to its page."""

        def serve(environ: dict[str, Any], start_response: Any) -> Iterable[bytes]:  # noqa: ANN401 - WSGI's
            app, path = self._app, environ.get("PATH_INFO", "")
            if app is None or not (path == UNDER or path.startswith(f"{UNDER}/")):
                return real(environ, start_response)
            under = {
                **environ,
                "SCRIPT_NAME": environ.get("SCRIPT_NAME", "") + UNDER,
                "PATH_INFO": path.removeprefix(UNDER) or "/",
            }
            return app(under, start_response)

        return serve
