"""A page that asks, a daemon's answers, and the journal, over one real database on a still clock."""

import json
import sqlite3
from collections.abc import Callable, Collection, Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path

from hangroom.answers import Answers
from hangroom.simulation.clock import SimulatedClock
from hangroom.store.database import connect, prepare_database
from hangroom.store.journal import Journal
from hangroom.store.proofs import Wirings
from hangroom.store.requests import Outcome, Request, Word, ask, request_by_number
from hangroom.terms import (
    Command,
    HumidityTarget,
    RelayKind,
    RelayRules,
    RoomPlan,
    Stage,
    StagePlan,
    TemperatureTarget,
)
from hangroom.units import Units

NOW = datetime(2026, 11, 1, 7, 0, tzinfo=UTC)
SENSORS: Mapping[str, Collection[str]] = {"closet": ("rail", "floor"), "fridge": ("shelf",)}
HUMIDITY = HumidityTarget(setpoint_pct=75, band_pct=3, low_limit_pct=50, high_limit_pct=92)
MOIST = HumidityTarget(setpoint_pct=85, band_pct=3, low_limit_pct=50, high_limit_pct=92)
COLD = TemperatureTarget(setpoint_c=4, band_c=1, low_limit_c=0, high_limit_c=12)
RULES = RelayRules(min_on_s=2, min_off_s=60)
CLOSET = RoomPlan(
    name="closet",
    stage=Stage.HANG,
    humidity=HUMIDITY,
    temperature=None,
    relays={RelayKind.HUMIDIFIER: RULES, RelayKind.EXHAUST_FAN: RULES},
    stages={
        Stage.CASING_DRY: StagePlan(
            humidity=HUMIDITY, temperature=None, for_s=3600, then=Stage.REST
        ),
        Stage.HANG: StagePlan(humidity=HUMIDITY, temperature=None),
        Stage.REST: StagePlan(humidity=MOIST, temperature=None, for_s=7200, then=Stage.HANG),
        Stage.HOLD: StagePlan(humidity=MOIST, temperature=None),
        Stage.EMPTY: StagePlan(humidity=HUMIDITY, temperature=None),
    },
)
FRIDGE = RoomPlan(
    name="fridge",
    stage=Stage.HOLD,
    humidity=None,
    temperature=COLD,
    relays={RelayKind.COOLING: RULES},
)
PLANS = {"closet": CLOSET, "fridge": FRIDGE}


# Kind, room, figures and words.
Event = tuple[str, str | None, dict[str, float], dict[str, str]]


class Desk:
    """The page on one side, the daemon on the other; `plans` are those that hold.

    `wirings`: of the relays that are not simulated. `foresee`: as the loop does.
    """

    def __init__(
        self,
        folder: Path,
        *,
        plans: Mapping[str, RoomPlan] = PLANS,
        wirings: Wirings | None = None,
    ) -> None:
        self.path = prepare_database(folder)
        self.page = connect(self.path)  # what it reads has really been committed
        self.clock = SimulatedClock(start=NOW, uptime_s=1000.0)
        self.settings = plans
        self.wirings = wirings
        self.foresee: Callable[[RoomPlan], Sequence[Command]] = lambda _plan: ()
        self.plans = dict(plans)
        self.alarms_asked: list[Request] = []
        self.boots = 0
        self._begin()

    def ask(
        self, kind: str, *, room: str = "closet", by: str = "keeper", key: str = "", **body: Word
    ) -> int:
        """Ask as the page does, and return the number of the wish."""
        return ask(
            self.page,
            key=key or f"{kind} {self.page['request'].count}",
            kind=kind,
            room=room,
            body=body,
            asked_by=by,
            now=self.clock.now(),
        )

    def tick(self, *, after_s: float = 2.0) -> Mapping[str, RoomPlan]:
        """Let time pass, do one round, and return the plans that hold from then on."""
        self.clock.wait_until(self.clock.uptime_s() + after_s)
        self.plans = dict(
            self.answers.plans_now(self.plans, self.clock.now(), self.clock.uptime_s())
        )
        return self.plans

    def applied(self, kind: str, **asked: Word) -> str:
        """Ask, answer, and return what was said; the wish must have been applied."""
        outcome, said = self._outcome(kind, **asked)
        assert outcome is Outcome.APPLIED, said
        return said

    def refused(self, kind: str, **asked: Word) -> str:
        """Ask, answer, and return the reason; the wish must have been refused and changed nothing."""
        before = dict(self.plans)
        outcome, said = self._outcome(kind, **asked)
        assert outcome is Outcome.REFUSED, said
        assert self.plans == before
        return said

    def stage(self, room: str = "closet") -> Stage:
        """Return the stage that a room is in."""
        return self.plans[room].stage

    def request(self, number: int) -> Request:
        """Return a wish as the page sees it."""
        found = request_by_number(self.page, number)
        assert found is not None
        return found

    def events(self) -> list[Event]:
        """Return what the journal holds, oldest first."""
        assert self.journal.flush(now=self.clock.now())
        rows = self.page.execute(
            "select kind, name, figures, words from event"
            " left join room on room.id = room_id order by event.id"
        )
        return [
            (kind, room, json.loads(figures), json.loads(words))
            for kind, room, figures, words in rows
        ]

    def restart(
        self, *, off_s: float = 5.0, boot: bool = False, wall_lost_s: float = 0.0
    ) -> Mapping[str, RoomPlan]:
        """End the daemon, let time pass, start it again; return the plans it starts with.

        `boot`: the machine too, whose monotonic clock then begins anew. `wall_lost_s`: how far
        its wall clock is behind after that.
        """
        self.journal.flush(now=self.clock.now())
        self.close(page=False)
        self.clock.wait_until(self.clock.uptime_s() + off_s)
        if boot:
            self.boots += 1
            self.clock = SimulatedClock(start=self.clock.now(), uptime_s=20.0)
            self.clock.step_wall(-wall_lost_s)
        self._begin()
        self.plans = dict(self.answers.kept(self.settings, self.clock.now(), self.clock.uptime_s()))
        return self.plans

    def close(self, *, page: bool = True) -> None:
        """Let go of every file."""
        self.answers.close()
        self.journal.close()
        if page:
            self.page.close()

    def _begin(self) -> None:
        boot_id = f"boot-{self.boots}"
        self.journal = Journal(self.path)
        self.journal.start(
            {room: list(names) for room, names in SENSORS.items()},
            boot_id=boot_id,
            version="0.0.1",
            now=self.clock.now(),
        )
        self.answers = Answers(
            self.path,
            journal=self.journal,
            boot_id=boot_id,
            sensors=SENSORS,
            units=Units(),
            alarm_acts=self._alarm_acts,
            wirings=self.wirings,
            foresee=self._foreseen,
        )

    def _foreseen(self, plan: RoomPlan) -> Sequence[Command]:
        return self.foresee(plan)

    def _alarm_acts(self, request: Request, now: datetime, uptime_s: float) -> tuple[Outcome, str]:
        assert (now, uptime_s) == (self.clock.now(), self.clock.uptime_s())
        self.alarms_asked.append(request)
        return Outcome.APPLIED, "Seen to."

    def _outcome(self, kind: str, **asked: Word) -> tuple[Outcome | None, str]:
        number = self.ask(kind, **asked)  # type: ignore[arg-type]  # the rest is the body
        self.tick()
        request = self.request(number)
        assert request.answer
        return request.outcome, request.answer


def locked(desk: Desk) -> sqlite3.Connection:
    """Hold the database as another writer does, until this connection rolls back."""
    other = sqlite3.connect(desk.path, isolation_level=None)
    other.execute("begin immediate")
    return other
