"""The child that computes one forecast, with a library that the daemon shall not carry."""

import sys
from collections.abc import Sequence

from hangroom.children import MOST_BYTES, ChildError, TimedChild
from hangroom.product.forecast import Forecast, Question
from hangroom.store.forecast_form import answer_from_json, asked_as_json

__all__ = ["COMMAND", "MOST_BYTES", "WITHIN_S", "Child", "ChildError"]

COMMAND = (sys.executable, "-m", "hangroom", "forecast-child")

# A Raspberry Pi takes seconds, most of them to load the library. Our judgement.
WITHIN_S = 30.0


class Child(TimedChild):
    """Asks one question at a time, each of a process of its own. `close` ends one that runs."""

    def __init__(self, command: Sequence[str] = COMMAND, *, within_s: float = WITHIN_S) -> None:
        super().__init__(
            command,
            within_s=within_s,
            what="The forecast",
            again="The machine may be busy; it is tried again within the hour.",
            # One core, so that the others are there for control.
            environment={"OPENBLAS_NUM_THREADS": "1"},
        )

    def ask(self, question: Question) -> Forecast:
        """Return the forecast; InputError where the question has none, ChildError otherwise."""
        return answer_from_json(self.hear(asked_as_json(question)))
