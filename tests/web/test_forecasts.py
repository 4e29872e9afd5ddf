"""The page's forecasts: as stored, as old as they are, and a straight line only where there is none."""

import re
from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from html import unescape
from zoneinfo import ZoneInfo

import pytest
from web.foretelling import BELIEFS, FORECAST, MADE_AT, fail, store
from web.scenario import GREEN_G, HUNG_AT, Scene, token

from hangroom.product.day_ahead import ahead_of
from hangroom.product.forecast import Belief
from hangroom.product.learning import Kind
from hangroom.store.database import connect
from hangroom.store.learned import Learned, keep_learned
from hangroom_web.draw.yields import draw_yields
from hangroom_web.forecasts.foretold import Band
from hangroom_web.forecasts.wording import say_never


def page(scene: Scene, path: str) -> str:
    answer = scene.client(logged_in=True).get(path)
    assert answer.status_code == 200
    return re.sub(r"\s+", " ", answer.get_data(as_text=True)).replace("\N{NO-BREAK SPACE}", " ")


def group_a(scene: Scene) -> str:
    """The sheet of group A on its batch's page."""
    html = page(scene, "/batches/1")
    return html[html.index('id="group-A"') : html.index('id="group-B"')]


def words(html: str) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]*>", " ", html)))


def test_a_forecast_says_where_the_group_is_and_when_it_arrives(scene: Scene) -> None:
    store(scene)
    said = words(group_a(scene))
    # 0.367 h after it was made, 0.07 % further down its curve; 1.2816 * 1.0 = 1.3.
    assert "78.9 % now (± 1.3) of green weight" in said
    assert "72 % likely Fri 14:00; 8 times in 10 between Fri 01:00 and Sat 09:00." in said
    assert "5.1 % of hung weight" in said
    assert "3 in 100" in said
    assert "76 %, 13.1 °C" in said
    assert "Made 22 min ago from the air and 1 look on the scale." in said
    assert "straight line" not in said


def test_every_stick_has_its_yield_now_weighed_today_or_not(scene: Scene) -> None:
    store(scene)
    said = words(group_a(scene))
    for pct in ("78.7", "78.9", "79.1"):
        assert f"By the forecast {pct} % now (± 1.3)" in said
    room = page(scene, "/")
    assert room.count("± 1.3</text>") == 3
    assert "<td>78.7 ± 1.3 %</td>" in room


def test_on_the_room_page_the_bracket_holds_the_range(scene: Scene) -> None:
    store(scene)
    room = words(page(scene, "/"))
    assert "72 %: Fri 01:00 to Sat 09:00" in room
    assert "78.9 % now (± 1.3) of green weight" in room
    # The other groups have no forecast yet, and say so.
    assert room.count("No forecast yet: this is a straight line from the weights alone.") == 2
    assert "straight line" in words(page(scene, "/batches"))


def test_without_any_forecast_the_straight_line_stands_in_and_says_so(scene: Scene) -> None:
    said = words(group_a(scene))
    assert "72 % of green weight likely" in said
    assert "No forecast yet: this is a straight line from the weights alone." in said
    assert "Green:" not in said


def test_an_old_forecast_is_marked_and_names_its_moment_instead_of_now(scene: Scene) -> None:
    store(scene, made_at=MADE_AT)
    scene.clock.move(4 * 3600.0)
    html = group_a(scene)
    said = words(html)
    assert "Old: made 4 h 22 min ago, so it may no longer hold." in said
    assert "79.0 % (± 1.3) of green weight at 09:30" in said
    assert " now (" not in said
    assert "By the forecast" not in said
    room = page(scene, "/")
    assert "± 1.3</text>" not in room


def test_three_hours_are_not_old_yet(scene: Scene) -> None:
    store(scene)
    scene.clock.move(2.5 * 3600.0)
    assert "Old:" not in group_a(scene)


def test_a_failed_try_tells_why_beside_the_last_forecast(scene: Scene) -> None:
    store(scene)
    fail(scene, "The forecast took longer than 30 s and was ended.", scene.clock.now())
    said = words(group_a(scene))
    assert "78.9 % now" in said
    assert "The newest try, 09:52, failed. The forecast took longer than 30 s" in said


def test_a_failed_try_without_any_forecast_tells_why_beside_the_line(scene: Scene) -> None:
    fail(scene, "The forecast ended with status 1.", scene.clock.now())
    said = words(group_a(scene))
    assert "this is a straight line" in said
    assert "The newest try failed. The forecast ended with status 1." in said


def test_hostile_reasons_stay_words(scene: Scene) -> None:
    fail(scene, "<script>alert(1)</script>", scene.clock.now())
    assert "<script>alert" not in group_a(scene)


def test_a_forecast_towards_another_target_is_none(scene: Scene) -> None:
    store(scene, replace(FORECAST, target_yield_ratio=0.65))
    assert "No forecast yet" in words(group_a(scene))


def test_a_forecast_of_another_version_is_none(scene: Scene) -> None:
    store(scene)
    db = connect(scene.path)
    with db.atomic():
        db.execute("update forecast set body = json_set(body, '$.version', 77)")
    db.close()
    assert "No forecast yet" in words(group_a(scene))


@pytest.mark.parametrize(
    ("told", "said"),
    [
        ({"yield_ratio": 0.715}, "The target of 72 % is reached. Pull it when it suits you."),
        (
            {"p10_h": None, "p50_h": None, "p90_h": None, "never_pct": 95.0},
            "In the air that is planned it most likely never gets to 72 %.",
        ),
        (
            {"p50_h": None, "p90_h": None, "never_pct": 70.0},
            "most likely never gets to 72 %. If it does, hardly before Fri 01:00.",
        ),
        (
            {"p90_h": None, "never_pct": 30.0},
            "72 % likely Fri 14:00, at the earliest Fri 01:00, and perhaps never.",
        ),
        (
            {"p10_h": 20.0, "p50_h": 30.0, "p90_h": 40.0},
            "72 % should be behind by now. Weigh it to know.",
        ),
    ],
)
def test_arrived_never_and_late_have_their_own_words(
    scene: Scene, told: dict[str, object], said: str
) -> None:
    store(scene, replace(FORECAST, **told))  # type: ignore[arg-type]  # each row names fields
    assert said in words(group_a(scene))


@pytest.mark.parametrize(
    ("told", "window"),
    [
        ({"yield_ratio": 0.715}, "72 %: at its target"),
        ({"p10_h": None, "p50_h": None, "p90_h": None}, "72 %: not in this air"),
        ({"p90_h": None}, "72 %: Fri 01:00 at the earliest"),
    ],
)
def test_the_bracket_has_short_words_for_them(
    scene: Scene, told: dict[str, object], window: str
) -> None:
    store(scene, replace(FORECAST, **told))  # type: ignore[arg-type]  # each row names fields
    assert window in words(page(scene, "/"))


# Limits and their words from the model's own criterion: 0.65 and 0.50, or a dry skin on a wet core.
@pytest.mark.parametrize(
    ("told", "light", "word"),
    [
        ({"surface_to_core_ratio": 0.65}, "green", "Green: dries evenly"),
        ({"surface_to_core_ratio": 0.649}, "amber", "Amber: the surface runs ahead"),
        ({"surface_to_core_ratio": 0.50}, "amber", "Amber: the surface runs ahead"),
        ({"surface_to_core_ratio": 0.499}, "red", "Red: the surface is far drier"),
        ({"surface_aw": 0.79, "core_aw": 0.93}, "red", "Red: the surface is far drier"),
    ],
)
def test_the_light_is_told_by_shape_and_word(
    scene: Scene, told: dict[str, object], light: str, word: str
) -> None:
    store(scene, replace(FORECAST, **told))  # type: ignore[arg-type]  # each row names fields
    html = group_a(scene)
    shape = {"green": "<circle", "amber": '<path d="M9', "red": '<path d="M1.5'}[light]
    mark = re.search(r'<svg class="light (\w+)"[^>]*>(.*?)</svg>', html)
    assert mark is not None
    assert mark[1] == light
    assert mark[2].startswith(shape)
    assert word in words(html)


def test_what_must_be_acted_on_today_is_told_on_the_room_page_too(scene: Scene) -> None:
    store(scene, replace(FORECAST, surface_to_core_ratio=0.4))
    for said in (words(group_a(scene)), words(page(scene, "/"))):
        assert "Today: Group A dries too fast" in said
    assert "It is not known what the air will be from now on." in words(group_a(scene))
    assert "It is not known what" not in words(page(scene, "/"))


def test_an_old_forecast_warns_of_nothing(scene: Scene) -> None:
    store(scene, replace(FORECAST, surface_to_core_ratio=0.4))
    scene.clock.move(4 * 3600.0)
    assert "Today:" not in group_a(scene)


def test_the_chart_holds_the_band_its_middle_and_the_weights_as_dots(scene: Scene) -> None:
    store(scene)
    html = group_a(scene)
    assert html.count('<path class="band"') == 1
    assert html.count('<path class="expected"') == 1
    assert html.count('class="window"') == 0
    assert html.count('<circle class="dot"') == 6  # three sticks, as hung and on Wednesday
    assert "the forecast ends between 64.0 and 73.0 %" in html


def test_the_band_lies_between_its_edges_and_around_its_middle() -> None:
    band = [
        Band(at=HUNG_AT + timedelta(hours=h), low_pct=low, middle_pct=middle, high_pct=high)
        for h, low, middle, high in ((0.0, 84.0, 85.0, 86.0), (48.0, 64.0, 70.0, 75.0))
    ]
    until = HUNG_AT + timedelta(hours=24)
    picture = draw_yields(
        [], target_pct=72.0, told=None, band=band, until=until, zone=ZoneInfo("UTC")
    )
    number = re.compile(r"-?(?:\d+\.?\d*|\.\d+)")

    def corners(css: str) -> list[tuple[float, float]]:
        found = re.search(rf'<path class="{css}" d="([^"]*)"', picture)
        assert found is not None
        steps = [float(one) for one in number.findall(found[1])]
        x = y = 0.0
        places = []
        for dx, dy in zip(steps[::2], steps[1::2], strict=True):
            x, y = x + dx, y + dy
            places.append((x, y))
        return places

    # By hand: 60 to 90 % fill the 150 px below 22, so that a per cent is 5 px.
    area, middle = corners("band"), corners("expected")
    assert [y for _x, y in area] == pytest.approx([42.0, 97.0, 152.0, 52.0], abs=0.1)
    assert [y for _x, y in middle] == pytest.approx([47.0, 122.0], abs=0.1)
    assert [x for x, _y in area] == pytest.approx([34.0, middle[1][0], middle[1][0], 34.0], abs=0.1)


def test_an_unweighed_group_has_a_band_all_the_same(scene: Scene) -> None:
    db = connect(scene.path)
    with db.atomic():
        db.execute("update stick set hang_weight_g = null")
        db.execute("delete from weigh_in")
    db.close()
    store(scene, weighings=0)
    html = group_a(scene)
    assert '<path class="band"' in html
    assert "from the air, the recipe and the casing; no weight yet" in words(html)


def expected(html: str, tag: str) -> str:
    card = html[html.index(f'id="stick-{tag}"') :]
    found = re.search(r"<dt>Expected</dt><dd>([^<]*)</dd>", card)
    assert found is not None
    return found[1]


def test_the_weight_expected_of_a_stick_is_the_forecasts(scene: Scene) -> None:
    store(scene)
    html = page(scene, "/inspect")
    # A1: 104 g green at 78.73 % is 81.9 g; 1.33 g of the stick and 0.64 g of the scale make 1.5 g.
    low_g, high_g = 104.0 * 0.7873 - 1.478, 104.0 * 0.7873 + 1.478
    assert expected(html, "A1") == f"{low_g:.1f} to {high_g:.1f} g"
    assert "<dd>78.7 ± 1.3 %</dd>" in html
    # Of a group without a forecast the usual losses count, as ever.
    assert expected(html, "B1") != expected(html, "A1")
    assert GREEN_G["A1"] == 104.0


def weigh(scene: Scene, tag: str, grams: str) -> None:
    client = scene.client(logged_in=True)
    form = {"weight": grams, "key": f"today{tag}", "csrf_token": token(client, "/inspect")}
    assert client.post(f"/inspect/{tag}", data=form).status_code == 303


def test_todays_weights_are_held_against_the_forecast_of_the_day_before(scene: Scene) -> None:
    earlier = replace(FORECAST, now_h=24.0, yield_ratio=0.82, p50_h=90.0)
    store(scene, earlier, made_at=HUNG_AT + timedelta(hours=24))
    store(scene)
    weigh(scene, "A1", "81.6")
    summary = page(scene, "/inspect")
    summary = words(summary[summary.index('id="summary"') :])
    assert "82.0 % (± 1.3) of green weight at Wed 25 Nov 09:00" in summary
    # Weighed after the newest forecast: until the next one a line, which says so.
    assert "the forecast with today's weights follows within a minute" in summary
    later = replace(FORECAST, now_h=49.0, yield_ratio=0.786)
    store(scene, later, made_at=scene.clock.now() + timedelta(seconds=20))
    scene.clock.move(30.0)
    summary = page(scene, "/inspect")
    summary = words(summary[summary.index('id="summary"') :])
    assert "78.6 % now (± 1.3)" in summary
    assert "By the forecast" in summary


def test_newer_weights_are_said_to_be_on_their_way(scene: Scene) -> None:
    store(scene)
    weigh(scene, "A1", "81.6")
    assert "Newer weights are being worked in" in words(group_a(scene))


def test_a_pulled_group_has_no_forecast_on_its_sheet(scene: Scene) -> None:
    store(scene)
    db = connect(scene.path)
    with db.atomic():
        db.execute("update hang set to_ms = from_ms + 1000 where group_id = 1")
    db.close()
    html = group_a(scene)
    assert "likely" not in words(html)
    assert '<path class="band"' not in html


def learn(scene: Scene, kind: Kind, name: str, batches: int = 2) -> None:
    one = Learned(
        kind=kind,
        name=name,
        beliefs=replace(BELIEFS, diffusivity_m2_per_s=Belief(median=9e-11, ln_sd=0.25)),
        batches=batches,
        updated_at=datetime(2026, 11, 1, tzinfo=UTC),
    )
    db = connect(scene.path)
    keep_learned(db, [one])
    db.close()


def test_what_batches_taught_about_a_room_stands_on_its_page(scene: Scene) -> None:
    learn(scene, Kind.ROOM, "closet")
    said = words(page(scene, "/"))
    assert "Learned from the weights of 2 batches: the closet takes water off" in said
    assert "1.5 times faster than assumed" in said  # 1.8e-8 over 1.2e-8
    assert "Water moves inside" not in said


def test_what_batches_of_a_name_taught_stands_on_their_page(scene: Scene) -> None:
    learn(scene, Kind.RECIPE, "pork and venison, juniper", batches=1)
    said = words(page(scene, "/batches/1"))
    assert "Learned from the weights of 1 batch: water moves inside these sticks 1.4" in said
    assert "Learned from" not in words(page(scene, "/batches/2"))


def test_what_a_group_s_own_weights_taught_stands_on_its_sheet(scene: Scene) -> None:
    store(scene)
    assert "From this group's weights: The closet takes water off" in words(group_a(scene))


@pytest.mark.parametrize(
    ("pct", "said"),
    [(0.0, "under 1 in 100"), (0.99, "under 1 in 100"), (12.4, "12 in 100"), (100.0, "99 in 100")],
)
def test_a_chance_is_neither_nought_nor_certain(pct: float, said: str) -> None:
    assert say_never(pct) == said


@pytest.mark.parametrize("path", ["/", "/batches/1", "/batches", "/inspect", "/batches/1/record"])
def test_no_forecast_judges_the_food(scene: Scene, path: str) -> None:
    store(scene, replace(FORECAST, surface_to_core_ratio=0.4))
    assert not re.search(r"\bsafe\b|\bready to eat\b|\bok\b", words(page(scene, path)).lower())


# Hung on Tuesday at 09:00 in New York (UTC-5): hours since then, by hand.
@pytest.mark.parametrize(
    ("now_h", "look_h", "night"),
    [
        (48.0, 71.0, (61.0, 69.0)),  # Thursday 09:00: look Friday 08:00, night from 22:00 to 06:00
        (62.0, 71.0, (61.0, 69.0)),  # Thursday 23:00, in that night
        (66.0, 71.0, (61.0, 69.0)),  # Friday 03:00, in it still
        (69.5, 71.0, (85.0, 93.0)),  # Friday 06:30: the next one
        (46.9, 47.0, (61.0, 69.0)),  # Thursday 07:54
    ],
)
def test_the_day_ahead_is_the_next_look_and_the_night_that_matters(
    now_h: float, look_h: float, night: tuple[float, float]
) -> None:
    ahead = ahead_of(
        HUNG_AT + timedelta(hours=now_h),
        HUNG_AT,
        zone=ZoneInfo("America/New_York"),
        look_at=[time(8)],
    )
    assert ahead.inspection_h == look_h
    assert (ahead.night_from_h, ahead.night_to_h) == night


def test_a_group_without_a_tagged_stick_stands_on_the_room_page_too(scene: Scene) -> None:
    store(scene, replace(FORECAST, sticks=()), weighings=0)
    db = connect(scene.path)
    with db.atomic():
        db.execute("delete from weigh_in")
        db.execute("delete from stick where tag not like 'F%'")
    db.close()
    said = words(page(scene, "/"))
    assert "None of these sticks is tagged, so none can be drawn." in said
    assert "78.9 % now (± 1.3) of green weight" in said
