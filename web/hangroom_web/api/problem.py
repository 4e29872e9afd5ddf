"""What went wrong, for other programs: RFC 9457, with what to do in the same words as on a page."""

import json
from http import HTTPStatus

from flask import request

from hangroom_web.bearer import IN_API

MIME_TYPE = "application/problem+json"

# RFC 6750, section 3: how a program learns what it lacks.
ASKS = {
    401: "Bearer",
    403: 'Bearer error="insufficient_scope"',
}

Answer = tuple[str, int, dict[str, str]]


def for_a_program() -> bool:
    """Return whether this request is one of another program."""
    return request.path.startswith(IN_API)


def problem(said: str, code: int, headers: dict[str, str] | None = None) -> Answer:
    """Return the answer; `said` says what happened, what it means, what to do."""
    told = {"type": "about:blank", "title": HTTPStatus(code).phrase, "status": code, "detail": said}
    more = {"Content-Type": MIME_TYPE, "Cache-Control": "no-store", **(headers or {})}
    if code in ASKS:
        more["WWW-Authenticate"] = ASKS[code]
    return json.dumps(told, ensure_ascii=False), code, more
