"""`hangroom forecast-child`: one question from stdin, one forecast to stdout, for the daemon alone.

A process of its own, because it loads numpy, which neither daemon nor page shall carry, and because
it may be ended at any moment without harm.
"""

import argparse
import os
import sys
from contextlib import suppress
from pathlib import Path

from hangroom.errors import InputError
from hangroom.store.forecast_form import answered_as_json, question_from_json

# Behind everything else on the machine: control comes first.
NICER_BY = 10
# Where memory runs out, this process goes, never the daemon it came from (-1000 to 1000).
GOES_FIRST = "900"


def run(_given: argparse.Namespace) -> int:
    """Answer the question; what keeps it from a forecast is answered in words."""
    os.nice(NICER_BY)
    with suppress(OSError):
        Path("/proc/self/oom_score_adj").write_text(GOES_FIRST, encoding="ascii")
    # Here, and not above: to load numpy is most of the work on a small machine.
    from hangroom.forecast import forecast  # noqa: PLC0415

    try:
        answer = answered_as_json(forecast(question_from_json(sys.stdin.buffer.read())))
    except InputError as fault:
        answer = answered_as_json(str(fault))
    print(answer)
    return 0
