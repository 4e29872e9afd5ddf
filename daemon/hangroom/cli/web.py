"""`hangroom web`: the page, in a process of its own that owns no pin."""

import argparse

from hangroom.hardware.clock import SystemClock, boot_id
from hangroom.settings import read_settings
from hangroom.store.database import prepare_database


def run(given: argparse.Namespace) -> int:
    """Serve the page until told to stop."""
    # Imported here: the daemon's own command must not load the page's libraries.
    from hangroom_web.app import create_app  # noqa: PLC0415
    from hangroom_web.server import serve  # noqa: PLC0415

    settings = read_settings(given.settings)
    prepare_database(settings.store.folder)
    serve(create_app(settings, clock=SystemClock(), boot_id=boot_id()), settings)
    return 0
