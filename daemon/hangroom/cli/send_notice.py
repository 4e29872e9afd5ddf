"""`hangroom send-notice`: one message to one receiver, for `hangroom notices` alone.

A process of its own, because it loads a library that knows a hundred services (some 40 MB), and
because a receiver may hang: it may be ended at any moment without harm. What it is to do comes by
stdin, what came of it goes to stdout, both as JSON.

What the library says is never passed on: it may name an address. Only numbers and known words of it
become one of the sentences below.
"""

import argparse
import json
import logging
import re
import sys
from collections.abc import Callable, Mapping, Sequence
from contextlib import redirect_stderr, redirect_stdout
from http import HTTPStatus
from io import StringIO
from typing import Any
from urllib.error import HTTPError
from urllib.request import Request, urlopen

# A receiver that takes a message and answers late would get it twice: rather wait, within the
# 20 s that this process has in all.
ANSWERS_WITHIN_S = 15.0
CONNECTS_WITHIN_S = 10.0

# On these a message can carry a mark by which the receiver knows one that comes again.
WEBHOOKS = frozenset({"json", "jsons", "xml", "xmls", "form", "forms"})

DID_NOT_TAKE_IT = "The receiver did not take it."

# What the library says, and what that means; the first that fits. Nothing else of it is told.
REASONS: Sequence[tuple[re.Pattern[str], str]] = tuple(
    (re.compile(pattern, re.IGNORECASE), said)
    for pattern, said in (
        (r"refused", "The receiver refused the connection. Does its service run?"),
        (
            r"not known|resolution|resolve|getaddrinfo|no address associated",
            "The receiver's name could not be found. Is the network there, and the name right?",
        ),
        (r"unreachable|no route", "The receiver could not be reached. Is the network there?"),
        (r"certificate", "The receiver's certificate is not valid, so nothing was sent."),
        (r"timed out|timeout", "The receiver did not answer in time."),
        (
            r"closed|reset|aborted|disconnect|bad ?status|incomplete|invalid header|protocol",
            "The receiver broke off or answered nonsense.",
        ),
    )
)
HTTP_ERROR = re.compile(r"error=(\d{3})\b")
SMTP_ERROR = re.compile(r"\((\d{3}), b['\"]")


def run(_given: argparse.Namespace) -> int:
    """Do what stdin asks for, and say what came of it."""
    asked = json.loads(sys.stdin.buffer.read())
    with redirect_stdout(StringIO()), redirect_stderr(StringIO()):
        why = _DO[asked["do"]](asked)
    print(json.dumps({"why": why}))
    return 0


def _send(asked: Mapping[str, str]) -> str:
    import apprise  # noqa: PLC0415 - here, and not above: it is most of the work

    heard: list[str] = []
    log = logging.getLogger("apprise")
    log.setLevel(logging.DEBUG)
    log.addHandler(_Ear(heard))
    log.propagate = False
    service = _service(asked["address"])
    if service is None:
        return _check(asked)
    service.socket_read_timeout = ANSWERS_WITHIN_S
    service.socket_connect_timeout = CONNECTS_WITHIN_S
    service.overflow_mode = apprise.OverflowMode.TRUNCATE
    _mark(service, asked["address"], asked["token"])
    kind = {
        "high": apprise.NotifyType.FAILURE,
        "medium": apprise.NotifyType.WARNING,
    }.get(asked["urgency"], apprise.NotifyType.INFO)
    heard.clear()
    taken = service.notify(
        title=asked["title"],
        body=asked["text"],
        notify_type=kind,
        body_format=apprise.NotifyFormat.TEXT,
    )
    return "" if taken else _reason(heard)


def _check(asked: Mapping[str, str]) -> str:
    import apprise  # noqa: PLC0415 - as above

    logging.getLogger("apprise").setLevel(logging.CRITICAL)
    scheme = asked["address"].partition("://")[0].lower()
    known = apprise.NotificationManager()  # type: ignore[no-untyped-call]
    if scheme not in known:
        return f"No service goes by {scheme}://. Look it up among the addresses that apprise knows."
    if not known[scheme].enabled:
        return f"{scheme}:// needs a Python library that is not installed here."
    if _service(asked["address"]) is None:
        return (
            f"This address for {scheme}:// lacks a part or has one too many. Compare it with the"
            " form that apprise gives for this service."
        )
    return ""


def _ping(asked: Mapping[str, str]) -> str:
    request = Request(asked["address"], headers={"User-Agent": "hangroom"})  # noqa: S310 - http or https, by the channels' file
    try:
        with urlopen(request, timeout=ANSWERS_WITHIN_S) as answer:  # noqa: S310 - as above
            answer.read(1)
    except HTTPError as fault:
        return _answered(fault.code)
    except Exception as fault:  # noqa: BLE001 - a receiver may do anything; what it means is said
        return _reason([str(fault) or type(fault).__name__])
    return ""


_DO: Mapping[str, Callable[[Mapping[str, str]], str]] = {
    "send": _send,
    "check": _check,
    "ping": _ping,
}


def _service(address: str) -> Any:  # noqa: ANN401 - the library's own, one class per service
    import apprise  # noqa: PLC0415 - as above

    try:
        service = apprise.Apprise.instantiate(address, suppress_exceptions=True)
    except Exception:  # noqa: BLE001 - an address that breaks the library is no address
        return None
    if service is not None and "format=" not in address:
        # Plain words: nothing is gained by making a page of three lines.
        service.notify_format = apprise.NotifyFormat.TEXT
    return service


def _mark(service: Any, address: str, token: str) -> None:  # noqa: ANN401 - as above
    """Give the message a mark that stays the same however often it is tried."""
    if address.partition("://")[0].lower() in WEBHOOKS and isinstance(
        getattr(service, "headers", None), dict
    ):
        # The form of the IETF's draft "The Idempotency-Key HTTP Header Field": a quoted string.
        service.headers["Idempotency-Key"] = f'"{token}"'
    from apprise.plugins.email import base as mail  # noqa: PLC0415 - as above

    # RFC 5322, 3.6.4: the same message bears the same Message-ID; the library would make a new one.
    def message_id(idstring: str | None = None, domain: str | None = None) -> str:  # noqa: ARG001 - as the library calls it
        return f"<{token}@{domain or 'hangroom.local'}>"

    mail.make_msgid = message_id  # type: ignore[attr-defined]


def _reason(heard: Sequence[str]) -> str:
    said = "\n".join(heard)
    http, mail = HTTP_ERROR.search(said), SMTP_ERROR.search(said)
    if http:
        return _answered(int(http[1]))
    if mail:
        return f"The mail server answered {mail[1]}."
    for pattern, words in REASONS:
        if pattern.search(said):
            return words
    return DID_NOT_TAKE_IT


def _answered(code: int) -> str:
    try:
        phrase = f" ({HTTPStatus(code).phrase})"
    except ValueError:
        phrase = ""
    return f"The receiver answered {code}{phrase}."


class _Ear(logging.Handler):
    def __init__(self, heard: list[str]) -> None:
        super().__init__()
        self._heard = heard

    def emit(self, record: logging.LogRecord) -> None:
        self._heard.append(record.getMessage())
