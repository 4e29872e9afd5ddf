"""The few files of our own that go with the pages, each under an address that names its content."""

from hashlib import sha256
from pathlib import Path

from flask import Flask, url_for

A_YEAR_S = 365 * 24 * 3600


def register_assets(app: Flask) -> None:
    """Give templates `asset(name)`; what it points to may be kept for a year."""
    folder = Path(app.static_folder or "")
    marks = {
        path.name: sha256(path.read_bytes()).hexdigest()[:10]
        for path in folder.iterdir()
        if path.is_file()
    }
    app.config["SEND_FILE_MAX_AGE_DEFAULT"] = A_YEAR_S

    def asset(name: str) -> str:
        return url_for("static", filename=name, v=marks[name])

    app.jinja_env.globals["asset"] = asset
