"""Handing one message to the child that knows the services, and hearing what came of it.

The address goes in by the child's stdin: never by its arguments or environment, which others see.
"""

import json
import sys
from collections.abc import Sequence
from dataclasses import dataclass

from hangroom.children import ChildError, TimedChild
from hangroom.notices.channels import Secret
from hangroom.notices.wording import Letter
from hangroom.product.notice import Urgency

COMMAND = (sys.executable, "-m", "hangroom", "send-notice")

# Most services answer in a second or two; what takes longer is tried again. The task's own figure.
WITHIN_S = 20.0

NO_SENSE = "The part that sends gave no answer that makes sense."

# The longest reason that is taken over from the child.
MOST_LETTERS = 300


@dataclass(frozen=True, slots=True, kw_only=True)
class Sent:
    """What came of a try; `why`: in words, '' where the receiver said that it took it."""

    why: str = ""

    @property
    def delivered(self) -> bool:
        """Whether the receiver said that it took it."""
        return not self.why


class Carrier:
    """Sends, pings and tries addresses, one at a time, each in a child of its own."""

    def __init__(self, command: Sequence[str] = COMMAND, *, within_s: float = WITHIN_S) -> None:
        self._child = TimedChild(
            command,
            within_s=within_s,
            what="Sending",
            again="It is tried again.",
            # What a library prints beside the answer might name an address.
            quiet=True,
        )

    def send(self, secret: Secret, letter: Letter, *, urgency: Urgency, token: str) -> Sent:
        """Send a message and return what came of it; never raises for what a receiver does."""
        return self._ask(
            {
                "do": "send",
                "address": secret.address,
                "title": letter.title,
                "text": letter.text,
                "urgency": urgency,
                "token": token,
            }
        )

    def ping(self, secret: Secret) -> Sent:
        """Ask for a web address, so that who waits there knows that all is well."""
        return self._ask({"do": "ping", "address": secret.address})

    def check(self, secret: Secret) -> Sent:
        """Say whether an address could be sent to, as far as it can be told without sending."""
        return self._ask({"do": "check", "address": secret.address})

    def close(self) -> None:
        """End what runs and begin nothing more."""
        self._child.close()

    def _ask(self, question: dict[str, str]) -> Sent:
        try:
            said = json.loads(self._child.hear(json.dumps(question)))
        except ChildError as fault:
            return Sent(why=str(fault))
        except (ValueError, RecursionError):
            return Sent(why=NO_SENSE)
        why = said.get("why") if isinstance(said, dict) else None
        return Sent(why=why[:MOST_LETTERS]) if isinstance(why, str) else Sent(why=NO_SENSE)
