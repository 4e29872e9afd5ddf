"""The few files of our own that go with the pages, each under an address that names its content."""

from collections.abc import Mapping
from hashlib import sha256
from pathlib import Path
from types import MappingProxyType

from flask import Flask, Response, abort, url_for

A_YEAR_S = 365 * 24 * 3600

# Scripts that a page needs together: one answer is smaller than several, and their heads, are.
BUNDLES: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "waiting.js": ("queue.js",),
        "watching.js": ("queue.js", "app.js", "clock.js"),
        "weighing.js": ("queue.js", "photo.js", "entry.js", "inspect.js"),
    }
)


def register_assets(app: Flask) -> None:
    """Give templates `asset(name)`; what it points to may be kept for a year."""
    folder = Path(app.static_folder or "")
    marks = {
        path.relative_to(folder).as_posix(): sha256(path.read_bytes()).hexdigest()[:10]
        for path in folder.rglob("*")
        if path.is_file()
    }
    app.config["SEND_FILE_MAX_AGE_DEFAULT"] = A_YEAR_S

    bundles = {
        name: "\n".join(_packed((folder / part).read_text(encoding="utf-8")) for part in parts)
        for name, parts in BUNDLES.items()
    }

    def asset(name: str) -> str:
        if name in bundles:
            mark = sha256(bundles[name].encode()).hexdigest()[:10]
            return url_for("bundle", name=name, v=mark)
        return url_for("static", filename=name, v=marks[name])

    @app.get("/bundles/<name>")
    def bundle(name: str) -> Response:
        if name not in bundles:
            abort(404)
        answer = Response(bundles[name], mimetype="text/javascript")
        answer.headers["Cache-Control"] = f"public, max-age={A_YEAR_S}"
        return answer

    app.jinja_env.globals["asset"] = asset


def _packed(script: str) -> str:
    """Return a script without its indents and the lines that are comments; no string has lines."""
    lines = (line.strip() for line in script.splitlines())
    return "\n".join(line for line in lines if line and not line.startswith("//"))
