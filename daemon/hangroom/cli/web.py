"""`hangroom web`: the page, in a process of its own that owns no pin."""

import argparse

from hangroom.hardware.clock import SystemClock, boot_id
from hangroom.settings import read_settings
from hangroom.store.database import prepare_database
from hangroom_web.app import create_app
from hangroom_web.server import serve


def run(given: argparse.Namespace) -> int:
    """Serve the page until told to stop."""
    settings = read_settings(given.settings)
    prepare_database(settings.store.folder)
    serve(create_app(settings, clock=SystemClock(), boot_id=boot_id()), settings)
    return 0
