"""`hangroom web`: the page, in a process of its own that owns no pin."""

import argparse

from hangroom.hardware.clock import SystemClock, boot_id
from hangroom.settings import read_settings
from hangroom.store.database import prepare_database
from hangroom.store.in_use import in_use
from hangroom_web.app import create_app
from hangroom_web.pages.login import tell_first_code
from hangroom_web.server import serve


def run(given: argparse.Namespace) -> int:
    """Serve the page until told to stop."""
    settings = read_settings(given.settings)
    prepare_database(settings.store.folder)
    with in_use(settings.store.folder, "web"):
        app = create_app(
            settings, clock=SystemClock(), boot_id=boot_id(), settings_file=given.settings
        )
        # A page that cannot be served, over and over, must not fill the log with codes.
        serve(app, settings, ready=lambda: tell_first_code(app))
    return 0
