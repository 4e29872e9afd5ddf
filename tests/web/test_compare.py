"""Groups side by side, as the trade compares the part pulled after a day with that after three."""

import pytest
from flask.testing import FlaskClient
from web.recorded import recorded
from web.scenario import Scene


@pytest.fixture
def client(scene: Scene) -> FlaskClient:
    recorded(scene)
    return scene.client()


def page(client: FlaskClient, *groups: str) -> str:
    asked = "&".join(f"group={group}" for group in groups)
    return client.get(f"/batches/compare?{asked}").get_data(as_text=True)


def row(html: str, name: str) -> list[str]:
    """The cells of a row of the table."""
    found = html.split(f'<th scope="row">{name}</th>')[1].partition("</tr>")[0]
    return [cell.split("</td>")[0] for cell in found.split("<td>")[1:]]


def test_two_groups_stand_side_by_side_with_what_is_known_of_each(client: FlaskClient) -> None:
    html = page(client, "1-A", "1-B")
    # Weighed on Wednesday: hung at 88 % of green, then 5.4 and 5.8 % of that gone (A3 was struck
    # out), and for B 5.4, 5.8 and 6.2 %.
    green_pct = row(html, "Yield, of green weight")
    assert green_pct == ["83.1 %", "82.9 %"]
    assert row(html, "Squeeze, 1 soft to 5 hard") == ["2", "2"]
    assert row(html, "Rated, of 5") == ["4", ""]
    assert row(html, "Tasted") == ["holds itself up, moist", ""]
    assert row(html, "pH, measured") == ["never", "5.9"]
    assert row(html, "Water activity, measured") == ["never", "never"]
    assert all(cell.endswith(" days") for cell in row(html, "Hung"))
    assert "Moisture:protein, estimated" in html


def test_how_far_apart_they_are_is_said_per_base(client: FlaskClient) -> None:
    html = page(client, "1-A", "1-B")
    assert "1 B beside 1 A: its yield is 0.2 points lower on green weight" in html
    assert "points lower on cooked weight" in html
    assert "points lower on hung weight" in html


def test_both_are_drawn_to_one_scale(client: FlaskClient) -> None:
    html = page(client, "1-A", "1-B", "2-F")
    assert html.count('class="meat"') == 3
    assert html.count('class="ghost"') == 3


def test_groups_of_a_batch_without_a_recipe_have_no_makeup_and_say_nothing_of_it(
    client: FlaskClient,
) -> None:
    html = page(client, "2-F")
    assert "estimated</th>" not in html
    assert row(html, "Yield, of cooked weight") == ["no cooked weight"]


@pytest.mark.parametrize("group", ["9-A", "1-Z", "one", "1", "-A", "<b>-A"])
def test_a_group_that_is_not_there_is_left_out(client: FlaskClient, group: str) -> None:
    html = page(client, group)
    assert "Choose groups" in html
    assert "Yield, of green weight" not in html
    assert "<b>-A" not in html


def test_every_group_that_hung_is_offered_and_the_chosen_ones_are_ticked(
    client: FlaskClient,
) -> None:
    html = page(client, "1-A")
    assert html.count('type="checkbox"') == 3
    assert 'value="1-A" checked' in html


def test_a_tasted_finish_is_listed_with_what_it_was_like(client: FlaskClient) -> None:
    html = page(client)
    listed = html.split("Tasted finishes")[1]
    assert "1 A, supple" in listed
    assert "rated 4 of 5" in listed
    assert "holds itself up, moist" in listed
