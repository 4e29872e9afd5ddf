"""A keeper at the page's forms: fills one in, sends it, reads what came back and what was stored."""

import html
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from flask.testing import FlaskClient
from web.scenario import Scene, token
from werkzeug.test import TestResponse

from hangroom.store.database import connect
from hangroom.store.record.whole import BatchRecord, batch_record

TAGS = re.compile(r"<[^>]+>")


@dataclass(kw_only=True)
class Keeper:
    """Somebody logged in; every form sent has a key of its own unless one is given."""

    scene: Scene
    client: FlaskClient
    sent: int = 0
    token: str = field(init=False)

    def __post_init__(self) -> None:
        self.token = token(self.client, "/batches/new")

    def send(self, path: str, form: Mapping[str, Any] | None = None, **more: Any) -> TestResponse:  # noqa: ANN401 - strings and files
        """Send a form and return the answer."""
        self.sent += 1
        data = {"csrf_token": self.token, "key": f"key{self.sent:04}", **(form or {}), **more}
        return self.client.post(path, data=data)

    def stored(self, path: str, form: Mapping[str, Any] | None = None, **more: Any) -> None:  # noqa: ANN401
        """Send a form that must be taken."""
        answer = self.send(path, form, **more)
        assert answer.status_code == 303, said(answer)

    def refused(self, path: str, form: Mapping[str, Any] | None = None, **more: Any) -> str:  # noqa: ANN401
        """Send a form that must come back with a fault, and return the page's words."""
        answer = self.send(path, form, **more)
        assert answer.status_code == 422, said(answer)
        return said(answer)

    def asked(self, path: str, form: Mapping[str, Any] | None = None, **more: Any) -> str:  # noqa: ANN401
        """Send a form that must come back with a question, and return the page's words."""
        answer = self.send(path, form, **more)
        assert answer.status_code == 200, said(answer)
        return said(answer)

    def see(self, path: str) -> str:
        """Return a page's words."""
        answer = self.client.get(path)
        assert answer.status_code == 200, said(answer)
        return said(answer)

    def record(self, number: int) -> BatchRecord:
        """Return what is stored of a batch."""
        db = connect(self.scene.path)
        try:
            found = batch_record(db, number)
        finally:
            db.close()
        assert found is not None
        return found

    def start(self, name: str = "pork and venison, juniper", **form: str) -> int:
        """Start a batch and return its number."""
        answer = self.send("/batches/new", {"name": name, "later": "1", **form})
        assert answer.status_code == 303, said(answer)
        return int(answer.headers["Location"].rsplit("/", 1)[1])


def keeper(scene: Scene, who: str = "Ada") -> Keeper:
    return Keeper(scene=scene, client=scene.client(logged_in=True, who=who))


def said(answer: TestResponse) -> str:
    """Return an answer's words, without markup, on one line."""
    return " ".join(html.unescape(TAGS.sub(" ", answer.get_data(as_text=True))).split())


def value_of(answer: TestResponse, name: str) -> str:
    """Return what a field of the page holds."""
    found = re.search(rf'name="{name}"[^>]*value="([^"]*)"', answer.get_data(as_text=True))
    assert found is not None, f"no field {name}"
    return html.unescape(found[1])
