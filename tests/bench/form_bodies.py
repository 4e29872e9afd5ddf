"""Thousands of forms with anything in them, over every form that the page has; none may fail.

    python tests/bench/form_bodies.py [--forms 10000] [--seed 0]

Prints how each was answered, and ends with 1 at the first that failed. The suite sends fewer
(`FORM_BODIES` in tests/web/test_security.py). The household is a fresh one for every 500 forms,
since what is taken fills it.
"""

import argparse
import sys
import time
from collections import Counter
from pathlib import Path
from tempfile import TemporaryDirectory

from hypothesis import given, seed, settings
from hypothesis import strategies as st

sys.path.insert(0, str(Path(__file__).parents[1]))

from web.attacking import ANSWERED, ANY_FORMS, Attacked, any_form
from web.scenario import Scene

from hangroom_web import wishes

IN_ONE_HOUSEHOLD = 500


def send_some(
    attacked: Attacked, forms: int, seed_: int, codes: Counter[int], routes: Counter[str]
) -> None:
    """Send some to one household, and count them by answer and by route."""
    fields = attacked.fields()

    @seed(seed_)
    @settings(ANY_FORMS, max_examples=forms)
    @given(data=st.data())
    def send(data: st.DataObject) -> None:
        route, form = any_form(data, attacked, fields)
        answer = attacked.send(route, form)
        codes[answer.status_code] += 1
        routes[route.endpoint] += 1
        if answer.status_code not in ANSWERED:
            raise AssertionError(f"{answer.status_code}: {route} {form!r}")

    send()


def main() -> int:
    """Send them and print what became of them."""
    wanted = argparse.ArgumentParser(description="Send forms with anything in them.")
    wanted.add_argument("--forms", type=int, default=10_000)
    wanted.add_argument("--seed", type=int, default=0)
    given_ = wanted.parse_args()
    wishes.WAIT_S = 0.0
    codes: Counter[int] = Counter()
    routes: Counter[str] = Counter()
    began_s = time.process_time()
    for part in range(0, given_.forms, IN_ONE_HOUSEHOLD):
        with TemporaryDirectory() as folder:
            attacked = Attacked(scene=Scene.household(Path(folder)))
            forms = min(IN_ONE_HOUSEHOLD, given_.forms - part)
            send_some(attacked, forms, given_.seed + part, codes, routes)
    print(
        f"{codes.total()} forms over {len(routes)} routes, {time.process_time() - began_s:.0f} s of CPU"
    )
    print(f"fewest at one route {min(routes.values())}, most {max(routes.values())}")
    for code, count in sorted(codes.items()):
        print(f"  {code}  {count}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
