import re
import sqlite3

import pytest
from flask.testing import FlaskClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from web.scenario import Scene, token
from werkzeug.test import TestResponse

WEDNESDAY_A1_G = 86.6  # what the scene weighed; green 104.0 g, so 83.3 %


@pytest.fixture
def client(scene: Scene) -> FlaskClient:
    return scene.client(logged_in=True)


def send(client: FlaskClient, tag: str = "A1", /, *, tail: str = "", **form: str) -> TestResponse:
    form = {"key": f"key{tag}", "csrf_token": token(client, "/inspect"), **form}
    return client.post(f"/inspect/{tag}{tail}", data=form)


def entries(scene: Scene, tag: str = "A1") -> list[tuple[float, int | None, float | None]]:
    db = sqlite3.connect(scene.path)
    try:
        return db.execute(
            "select weight_g, squeeze, wrinkle_mm from weigh_in join stick on stick.id = stick_id"
            " where tag = ? and weigh_in.key not like 'wednesday%' order by weigh_in.id",
            (tag,),
        ).fetchall()
    finally:
        db.close()


def test_a_weight_is_stored_and_the_yield_told(client: FlaskClient, scene: Scene) -> None:
    answer = send(client, weight="82.0", squeeze="3", wrinkle="0.5")
    assert answer.status_code == 303
    assert answer.headers["Location"].endswith("/inspect#stick-A2")
    assert entries(scene) == [(82.0, 3, 0.5)]
    # 82.0 / 104.0 = 78.8 %, and 86.6 / 104.0 = 83.3 %, so 4.4 down.
    assert "Yield 78.8 %, down 4.4 since Wed" in client.get("/inspect").get_data(as_text=True)


def test_the_same_entry_sent_twice_is_one(client: FlaskClient, scene: Scene) -> None:
    send(client, weight="82.0")
    again = send(client, weight="82.0")
    assert again.status_code == 303
    assert len(entries(scene)) == 1


def test_a_decimal_comma_is_a_decimal_point(client: FlaskClient, scene: Scene) -> None:
    send(client, weight="82,5")
    assert entries(scene)[0][0] == 82.5


def test_ounces_are_stored_as_grams(scene: Scene) -> None:
    scene.units = {"weight": "oz"}
    send(scene.client(logged_in=True), weight="2.9")
    assert entries(scene)[0][0] == pytest.approx(2.9 * 28.349523125)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("", "Enter a weight"),
        ("heavy", "Write the weight in digits"),
        ("1.234,5", "both a comma and a point"),
        ("0", "above zero"),
        ("-5", "above zero"),
    ],
)
def test_what_is_no_weight_is_told_beside_the_field_and_stays(
    client: FlaskClient, scene: Scene, typed: str, said: str
) -> None:
    answer = send(client, weight=typed, squeeze="4", note="end is soft")
    html = answer.get_data(as_text=True)
    assert answer.status_code == 422
    assert said in html
    assert re.search(r'name="squeeze" value="4" checked', html)
    assert 'value="end is soft"' in html
    assert entries(scene) == []


@pytest.mark.parametrize(
    ("field", "value"),
    [("squeeze", "6"), ("squeeze", "x"), ("wrinkle", "0.7"), ("diameter", "900"), ("key", "")],
)
def test_what_no_form_of_ours_sends_is_refused(
    client: FlaskClient, scene: Scene, field: str, value: str
) -> None:
    form = {"weight": "82", "key": "k", "csrf_token": token(client, "/inspect"), field: value}
    assert client.post("/inspect/A1", data=form).status_code == 422
    assert entries(scene) == []


def test_a_slip_of_the_point_is_asked_about_and_both_answers_work(
    client: FlaskClient, scene: Scene
) -> None:
    html = send(client, weight="822").get_data(as_text=True)
    assert "822 g is ten times the last weight. Did you mean 82.2?" in html
    assert entries(scene) == []
    send(client, weight="822", asked="822", use="82.2")
    assert entries(scene)[0][0] == 82.2
    send(client, "A2", weight="810", asked="810", keep="810")
    assert entries(scene, "A2")[0][0] == 810.0


def test_an_answer_counts_only_for_the_weight_that_was_asked_about(
    client: FlaskClient, scene: Scene
) -> None:
    for answer in ({"keep": "833"}, {"use": "82.2"}):
        html = send(client, weight="833", asked="822", **answer).get_data(as_text=True)
        assert "Did you mean 83.3?" in html
        assert entries(scene) == []


@pytest.mark.parametrize(
    ("weight", "question"),
    [
        pytest.param("8.2", "a tenth of the last weight. Did you mean 82?", id="a tenth"),
        pytest.param("0.18", "0.18 g looks like pounds. Did you mean 81.65?", id="pounds"),
        pytest.param("90", "heavier than the 86.6 g of Wed", id="heavier"),
        pytest.param("50", "less than the 86.6 g of Wed", id="lost too much"),
    ],
)
def test_an_unlikely_weight_is_asked_about(
    client: FlaskClient, scene: Scene, weight: str, question: str
) -> None:
    html = send(client, weight=weight).get_data(as_text=True)
    assert question in html
    assert entries(scene) == []
    send(client, weight=weight, asked=weight, keep=weight)
    assert entries(scene)[0][0] == float(weight)


def test_with_script_only_the_card_comes_back(client: FlaskClient) -> None:
    html = send(client, tail="?part=card", weight="82.0").get_data(as_text=True)
    assert "<html" not in html
    assert "data-saved" in html


def test_when_all_are_in_the_reminder_goes_and_estimates_are_compared(
    client: FlaskClient,
) -> None:
    for tag in ("A1", "A2", "A3", "B1", "B2", "B3"):
        html = client.get("/inspect").get_data(as_text=True)
        last = re.search(
            rf'id="stick-{tag}".*?<dt>Last, Wed</dt><dd>([\d.]+) g', html, flags=re.DOTALL
        )
        assert last is not None
        send(client, tag, weight=f"{float(last[1]) - 3:.1f}")
    room = client.get("/").get_data(as_text=True)
    assert "Inspection due since 08:00 today: 2 sticks" in room
    for tag, weight in (("F1", "82.0"), ("F2", "80.6")):
        send(client, tag, weight=weight)
    room = client.get("/").get_data(as_text=True)
    assert "Inspection due" not in room
    assert "Next inspection Fri 27 Nov 08:00" in room
    summary = client.get("/inspect").get_data(as_text=True)
    assert "today&#39;s weights say" in summary or "today's weights say" in summary
    told = re.findall(
        r"<dt>Before</dt><dd>(.*?)</dd><dt>Now</dt><dd><strong>(.*?)</strong>", summary
    )
    assert len(told) == 3
    assert "likely Fri 09:00" in told[0][0]  # as Wednesday's weights alone said
    assert all(before != now for before, now in told)


def test_a_stick_that_does_not_hang_is_not_found(client: FlaskClient) -> None:
    assert send(client, "Z9", weight="80").status_code == 404


def test_looking_is_open_but_offers_no_form(scene: Scene) -> None:
    html = scene.client().get("/inspect").get_data(as_text=True)
    assert "Log in to weigh" in html
    assert "<form" not in html


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    st.dictionaries(
        st.sampled_from(
            [
                *("weight", "squeeze", "wrinkle", "diameter", "note", "key", "keep", "use"),
                *("asked", "weighed", "taken_ms", "sent_ms", "again"),
            ]
        ),
        st.one_of(st.text(max_size=40), st.floats().map(str), st.integers().map(str)),
    )
)
def test_whatever_is_sent_is_taken_asked_about_or_refused_in_words(
    client: FlaskClient, form: dict[str, str]
) -> None:
    form = {"csrf_token": token(client, "/inspect?all=1"), **form}
    assert client.post("/inspect/A3?part=card", data=form).status_code in {200, 422}
