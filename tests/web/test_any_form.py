"""Whatever is sent to a form of the record: taken, asked about or refused in words, never a failure."""

import pytest
from flask.testing import FlaskClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from web.scenario import Scene, token

FORMS: dict[str, tuple[str, ...]] = {
    "/batches/new": (
        *("name", "note", "rows", "later", "more", "green", "green-unit", "casing"),
        *("casing-diameter", "A-finish", "A-target", "A-sticks", "A-room", "A-like"),
        *("A-0-tag", "A-0-green", "A-0-hung", "A-0-across", "A-0-length"),
    ),
    "/batches/1/recipe": (
        *("meats", "meat-0", "meat-0-weight", "meat-0-weight-unit", "meat-0-name", "meat-0-water"),
        *("meat-0-protein", "meat-0-fat", "salt", "cure", "cure-nitrite", "cure-nitrate", "wanted"),
        *("work", "more", "erythorbate", "erythorbate-kind"),
    ),
    "/batches/1/recipe/freeze": (),
    "/batches/1/steps/start": (
        *("kind", "air", "wet-bulb", "humidity", "room", "group", "from", "to", "ends", "note"),
    ),
    "/batches/1/temperatures/point": ("series", "core", "at", "seen", "probe", "probe-own"),
    "/batches/1/temperatures": ("series", "probe", "group", "lines", "day", "file"),
    "/batches/1/groups": ("letter", "rows", "C-finish", "C-target", "C-sticks", "C-0-tag"),
    "/batches/1/groups/A/hang": ("A-room", "A-at", "stick-1-hung", "stick-1-across"),
    "/batches/1/groups/A/pull": ("A-pulled",),
    "/batches/1/groups/A/sticks": ("stick-1-cooked", "stick-1-hung", "stick-1-length"),
    "/batches/1/groups/A/target": ("target",),
    "/batches/1/measurements": ("group", "aw", "ph", "instrument", "taken", "note"),
    "/batches/1/photos": ("photo", "caption", "group", "of", "taken"),
    "/batches/1/taste/A": ("rating", "squeeze", "words", "tasted"),
    "/batches/1/correct/weigh_in/wednesdayA1": (
        *("weight_g", "squeeze", "wrinkle_mm", "diameter_mm", "surface-mould", "taken_at", "note"),
        *("because", "because-words", "strike"),
    ),
    "/inspect/looks/1/A": ("surface-nothing", "surface-slime", "squeeze", "wrinkle", "note"),
}
LIKELY = st.sampled_from(
    [
        *("1", "0", "-1", "72,5", "1e5", "1.234,5", "9" * 30, "nan", "inf", "\u0663", "\x00"),
        *("smoke", "cook", "own", "10219", "closet", "A", "1-A", "lb", "mistyped", "2026-11-26"),
        *("2026-11-26T08:00", "2026-11-01T01:30", "0001-01-01T00:00", "9999-12-31T23:59"),
        *(
            "2026-11-26T08:00+14:00",
            "09:40 61.2",
            "name:x",
            "\ud800".encode("utf-8", "ignore").decode(),
        ),
    ]
)


@pytest.fixture
def client(scene: Scene) -> FlaskClient:
    return scene.client(logged_in=True)


@pytest.mark.parametrize("path", FORMS)
@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(data=st.data())
def test_whatever_is_sent_is_taken_asked_about_or_refused_in_words(
    client: FlaskClient, path: str, data: st.DataObject
) -> None:
    names = [*FORMS[path], "key", "use", "keep"]
    form = data.draw(
        st.dictionaries(st.sampled_from(names), st.one_of(LIKELY, st.text(max_size=20)))
    )
    answer = client.post(path, data={"csrf_token": token(client, "/batches/new"), **form})
    assert answer.status_code in {200, 303, 400, 404, 422}
