"""What every answer carries: what the browser may do with it, and how small it travels."""

import gzip

from flask import Flask, Response, request

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
    "connect-src 'self'; manifest-src 'self'; form-action 'self'; frame-ancestors 'none'; "
    "base-uri 'none'"
)
HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Permissions-Policy": "geolocation=(), microphone=(), camera=()",
}
TEXT = ("text/", "application/json", "application/javascript", "image/svg+xml")
WORTH_PACKING_BYTES = 800


def register_answers(app: Flask) -> None:
    """Finish every answer of the app."""
    app.after_request(_finished)


def _finished(answer: Response) -> Response:
    answer.headers.update(HEADERS)
    if answer.mimetype == "text/html":
        # Back never shows old numbers, and a shared machine keeps no page.
        answer.headers["Cache-Control"] = "no-store"
    return _packed(answer)


def _packed(answer: Response) -> Response:
    """Gzip what is text and long enough.

    Packing secrets with what an attacker can mix in leaks them by length where he can send the
    user's cookies along; SameSite=Lax keeps other sites from that.
    """
    if (
        answer.status_code != 200  # noqa: PLR2004 - 304 and redirects carry nothing
        or not (answer.mimetype or "").startswith(TEXT)
        or "Content-Encoding" in answer.headers
        or not request.accept_encodings.quality("gzip")
    ):
        return answer
    answer.direct_passthrough = False
    body = answer.get_data()
    if len(body) < WORTH_PACKING_BYTES:
        return answer
    answer.set_data(gzip.compress(body, compresslevel=6, mtime=0))
    answer.headers["Content-Encoding"] = "gzip"
    answer.vary.add("Accept-Encoding")
    etag, weak = answer.get_etag()
    if etag and not weak:
        answer.set_etag(etag, weak=True)
    return answer
