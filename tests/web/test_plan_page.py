"""The page that plans a room's humidity, from the wish to the plan's end, beside a real daemon."""

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import pytest
from flask.testing import FlaskClient
from planning.in_process import Planner
from web.daemon import Daemon
from web.scenario import Scene, token

from hangroom.forecasting.humidity_plans import HumidityPlans
from hangroom.store.database import connect
from hangroom.store.plans import newest_plan, plan_runs, wishes

PLAN = "/rooms/closet/plan"


def words(html: str) -> str:
    """What stands on a page for somebody who reads it."""
    return " ".join(re.sub(r"<[^>]*>", " ", html).split())


@dataclass
class Keeper:
    """Somebody at the page of the closet's plans; `look` lets the plan desk look."""

    client: FlaskClient
    daemon: Daemon
    look: Callable[[], None]

    def post(self, act: str, page: str = PLAN, **form: str) -> str:
        form["csrf_token"] = token(self.client, PLAN)
        return words(self.client.post(f"{page}/{act}", data=form, follow_redirects=True).text)

    def page(self) -> str:
        return words(self.client.get(PLAN).text)


@pytest.fixture
def keeper(scene: Scene, daemon: Daemon) -> Iterator[Keeper]:
    plans = HumidityPlans(scene.path, scale_sd_g=0.5, now=scene.clock.now, child=Planner())

    def look() -> None:
        daemon.note_plans()
        plans.look()
        daemon.answer()

    yield Keeper(scene.client(logged_in=True), daemon, look)
    plans.stop()


def group_of(scene: Scene) -> str:
    """The number that the page gives its first group."""
    html = scene.client(logged_in=True).get(PLAN).text
    found = re.search(r'name="group" value="(\d+)"', html)
    assert found is not None
    return found[1]


def setpoint_pct(daemon: Daemon) -> float:
    humidity = daemon.plans["closet"].humidity
    assert humidity is not None
    return humidity.setpoint_pct


def test_from_wish_to_plan_to_its_end_by_hand(keeper: Keeper, scene: Scene, daemon: Daemon) -> None:
    group = group_of(scene)
    assert "Nothing is wanted of it yet" in keeper.page()
    # Noon on Sunday in New York, five hours behind UTC.
    said = keeper.post("wish", group=group, how="by", wanted_at="2026-11-29T12:00")
    assert "Done. A plan is being worked out" in said
    assert "Being worked out" in said
    assert "Wanted by Sun 29 Nov 12:00, says Ada." in said
    keeper.look()
    shown = keeper.page()
    assert "Proposal" in shown
    assert "Use this plan" in shown
    assert "as the room is set now" in shown
    kept = newest_plan(connect(scene.path), "closet")
    assert kept is not None
    assert kept.plan is not None
    first_pct = kept.plan.steps[0].humidity_pct
    assert f"{first_pct:.1f} %" in shown
    assert setpoint_pct(daemon) == 76.0

    assert "Done. The plan is in use" in keeper.post("use", plan=str(kept.number))
    keeper.look()
    assert setpoint_pct(daemon) == first_pct
    shown = keeper.page()
    assert "In use" in shown
    assert "Begun by Ada" in shown
    assert "Use this plan" not in shown

    said = words(
        keeper.client.post(
            "/rooms/closet/humidity",
            data={"setpoint": "77", "csrf_token": token(keeper.client, PLAN)},
            follow_redirects=True,
        ).text
    )
    assert "That ended the plan" in said
    shown = keeper.page()
    assert "Ada set the humidity by hand" in shown
    assert "that ended the plan" in shown
    assert "End the plan" not in shown
    assert setpoint_pct(daemon) == 77.0


def test_a_proposal_grown_old_is_said_to_be_and_has_no_button(keeper: Keeper, scene: Scene) -> None:
    keeper.post("wish", group=group_of(scene), how="by", wanted_at="2026-11-29T12:00")
    keeper.look()
    scene.clock.move(12 * 3600 - 60)
    scene.report()
    assert "Use this plan" in keeper.page()
    scene.clock.move(120)
    scene.report()
    shown = keeper.page()
    assert "Too old to be used" in shown
    assert "Use this plan" not in shown


def test_a_plan_is_ended_on_its_page(keeper: Keeper, scene: Scene, daemon: Daemon) -> None:
    keeper.post("wish", group=group_of(scene), how="gently")
    assert "Wanted as soon as it dries gently, by Ada." in keeper.page()
    keeper.look()
    kept = newest_plan(connect(scene.path), "closet")
    assert kept is not None
    keeper.post("use", plan=str(kept.number))
    keeper.look()
    held_pct = setpoint_pct(daemon)
    assert "Done. The plan is ended" in keeper.post("end")
    assert "Ada ended the plan" in keeper.page()
    assert setpoint_pct(daemon) == held_pct
    assert plan_runs(connect(scene.path))["closet"].ended_at is not None


def test_a_wish_is_taken_back(keeper: Keeper, scene: Scene) -> None:
    keeper.post("wish", group=group_of(scene), how="gently")
    assert "planned for no more" in keeper.post("forget", group=group_of(scene))
    assert wishes(connect(scene.path)) == {}
    assert "Nothing is wanted of it yet" in keeper.page()


@pytest.mark.parametrize(
    ("form", "says"),
    [
        ({"how": "by", "wanted_at": "2026-11-26T09:00"}, "That moment is past"),
        ({"how": "by", "wanted_at": ""}, "Write date and time"),
        ({"how": "by", "wanted_at": "noon"}, "Write date and time"),
        ({"how": "", "wanted_at": "2026-11-29T12:00"}, "Say whether"),
        ({"how": "by", "wanted_at": "2027-11-29T12:00"}, "Refused. A group can be wanted"),
        ({"how": "gently", "group": "9999"}, "Refused. That group does not hang"),
        ({"how": "gently", "group": "-1"}, "The form was not whole"),
    ],
)
def test_what_is_no_wish_is_told_and_changes_nothing(
    keeper: Keeper, scene: Scene, form: dict[str, str], says: str
) -> None:
    assert says in keeper.post("wish", **({"group": group_of(scene)} | form))
    assert wishes(connect(scene.path)) == {}


def test_a_failed_plan_says_why(keeper: Keeper, scene: Scene) -> None:
    keeper.post("wish", group=group_of(scene), how="gently")
    plans = HumidityPlans(
        scene.path,
        scale_sd_g=0.5,
        now=scene.clock.now,
        child=Planner(fails="The forecast was ended by signal 9."),
    )
    keeper.daemon.note_plans()
    plans.look()
    shown = keeper.page()
    assert "There is no plan. The forecast was ended by signal 9." in shown
    assert "Use this plan" not in shown


def test_who_only_looks_is_shown_no_form(scene: Scene) -> None:
    client = scene.client(logged_in=False)
    shown = client.get(PLAN).text
    assert "Log in to act" in shown
    assert "plan/wish" not in shown
    data = {"csrf_token": token(client, "/login"), "group": "1", "how": "gently"}
    assert client.post(f"{PLAN}/wish", data=data).status_code == 403


def test_only_a_room_with_humidity_has_plans(keeper: Keeper) -> None:
    assert keeper.client.get("/rooms/cellar/plan").status_code == 404
    assert keeper.client.get("/rooms/fridge/plan").status_code == 404
    assert PLAN in keeper.client.get("/rooms/closet").text
    assert PLAN in keeper.client.get("/batches/1").text
    assert "/rooms/fridge/plan" not in keeper.client.get("/rooms/fridge").text
