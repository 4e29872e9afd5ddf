"""A planner that needs no process of its own, and remembers what it was asked."""

from collections.abc import Callable

from hangroom.forecast.plan import plan_room
from hangroom.forecasting.child import Child, ChildError
from hangroom.store.plan_form import RoomWanted, plan_answered_as_json, wanted_from_json

# Few, so that the tests are quick; what a plan is like does not hang on how sure it is.
PARTICLES = 128


class Planner(Child):
    """Stands where the daemon's child stands; `fails` and `spoils` are what may go wrong."""

    def __init__(self, *, fails: str = "") -> None:
        super().__init__(())
        self.asked: list[RoomWanted] = []
        self.fails = fails
        self.spoils: Callable[[str], str] = lambda text: text

    def hear(self, question: str) -> bytes:
        if self.fails:
            raise ChildError(self.fails)
        wanted = wanted_from_json(question)
        self.asked.append(wanted)
        plan = plan_room(wanted.groups, wanted.limits, particles=PARTICLES)
        return self.spoils(plan_answered_as_json(plan)).encode()
