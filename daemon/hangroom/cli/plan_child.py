"""`hangroom plan-child`: what is wanted from stdin, a humidity plan to stdout, for the daemon.

A process of its own for the same reasons as `forecast-child`.
"""

import argparse
import os
import sys

from hangroom.cli.forecast_child import NICER_BY
from hangroom.errors import InputError
from hangroom.forecast.plan import plan_room
from hangroom.store.plan_form import plan_answered_as_json, wanted_from_json


def run(_given: argparse.Namespace) -> int:
    """Answer with the plan; what keeps it from one is answered in words."""
    os.nice(NICER_BY)
    try:
        wanted = wanted_from_json(sys.stdin.buffer.read())
        answer = plan_answered_as_json(plan_room(wanted.groups, wanted.limits))
    except InputError as fault:
        answer = plan_answered_as_json(str(fault))
    print(answer)
    return 0
