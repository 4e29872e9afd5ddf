"""The calendar, read by other readers than the library that wrote it.

recurring-ical-events, and the rules of RFC 5545 on lines (3.1) and escapes (3.3.11), written here
again.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import icalendar
import pytest
import recurring_ical_events
from flask.testing import FlaskClient
from web.foretelling import FORECAST, MADE_AT, store
from web.scenario import BOOT, HUNG_AT, START, Scene, token

from hangroom.store.batches import Batch, Group, NewGroup, add_batch, pull_group
from hangroom.store.calendar_events import CalendarEntry, PublishedEvent
from hangroom.store.database import connect
from hangroom_web.app import create_app
from hangroom_web.calendar_feed.entries import Rail, entries, to_the_hour
from hangroom_web.calendar_feed.ics import as_ics
from hangroom_web.calendar_feed.publishing import KEPT_AFTER, published
from hangroom_web.forecasts.foretold import Foretold
from hangroom_web.rail import HangingGroup

NEW_YORK = ZoneInfo("America/New_York")
ADDRESS = re.compile(r'value="(http://localhost(/calendar/[\w-]+\.ics))"')


def subscribe(client: FlaskClient, label: str = "Ada's phone") -> str:
    """Make an address on Setup, as a browser does, and return its path."""
    form = {"label": label, "csrf_token": token(client, "/setup/calendar"), "key": f"key{label}"}
    answer = client.post("/setup/calendar", data=form)
    assert answer.status_code == 200, answer.get_data(as_text=True)
    found = ADDRESS.search(answer.get_data(as_text=True))
    assert found is not None
    return found[2]


def fetch(scene: Scene, path: str) -> bytes:
    """Fetch the feed as a phone does: another client, without a session."""
    answer = scene.client().get(path)
    assert answer.status_code == 200
    assert answer.mimetype == "text/calendar"
    return answer.get_data()


def lines(feed: bytes) -> list[str]:
    """Return the content lines by RFC 5545, 3.1: CRLF, at most 75 octets, unfolded by one blank."""
    assert feed.endswith(b"\r\n")
    assert b"\n" not in feed.replace(b"\r\n", b"")
    assert max(len(line) for line in feed.split(b"\r\n")) <= 75
    return feed.decode().replace("\r\n ", "").replace("\r\n\t", "").split("\r\n")[:-1]


def properties(feed: bytes, name: str) -> list[str]:
    """Return the values of a property, unescaped by RFC 5545, 3.3.11, in one pass."""
    told = [line.partition(":") for line in lines(feed)]
    escaped = [value for key, _, value in told if key.split(";")[0] == name]
    # A bare comma or semicolon would part one text into several (3.3.11, its grammar).
    assert all(re.fullmatch(r"(?:[^\\;,]|\\[\\;,nN])*", value) for value in escaped)
    return [
        re.sub(r"\\([\\;,nN])", lambda m: "\n" if m[1] in "nN" else m[1], value)
        for value in escaped
    ]


def events(feed: bytes) -> dict[str, Any]:
    found: list[Any] = icalendar.Calendar.from_ical(feed).walk("VEVENT")
    told = {str(event["UID"]): event for event in found}
    assert len(told) == len(found)
    return told


def window_of(feed: bytes, group: str = "Batch 1 A") -> Any:  # noqa: ANN401 - of a library with many types
    (event,) = (
        e for e in events(feed).values() if group in str(e["SUMMARY"]) and "window" in e["UID"]
    )
    return event


def occurring(feed: bytes, since: date, until: date) -> list[tuple[datetime, str]]:
    """What an independent reader finds between two days."""
    calendar = icalendar.Calendar.from_ical(feed)
    return sorted(
        (event.start, str(event["SUMMARY"]))
        for event in recurring_ical_events.of(calendar).between(since, until)
    )


@pytest.fixture
def foretold(scene: Scene) -> Scene:
    store(scene)
    return scene


def test_looks_and_windows_are_read_by_an_independent_reader(foretold: Scene) -> None:
    feed = fetch(foretold, subscribe(foretold.client(logged_in=True)))
    # Thursday 26 November, 09:52 in New York; the look is at 08:00 there, 13:00 UTC.
    found = occurring(feed, date(2026, 11, 26), date(2026, 12, 31))
    looks = [(at, title) for at, title in found if title.startswith("Weigh and look")]
    assert [at for at, _ in looks] == [
        datetime(2026, 11, 26, 13, tzinfo=UTC) + timedelta(days=day) for day in range(15)
    ]
    assert looks[1][1] == "Weigh and look: 8 sticks"
    # Hung on Tuesday at 14:00 UTC; P10 64 h, P90 96 h, P50 77 h later.
    assert (HUNG_AT + timedelta(hours=64), "Batch 1 A, supple: 72 % expected") in found
    window = window_of(feed)
    assert window.end == HUNG_AT + timedelta(hours=96)
    (alarm,) = window.walk("VALARM")
    assert alarm["TRIGGER"].dt == timedelta(hours=77 - 64)
    assert window["STATUS"] == "TENTATIVE"
    said = str(window["DESCRIPTION"])
    assert "Between Fri 27 Nov 01:00 and Sat 28 Nov 09:00 8 times in 10" in said
    assert "most likely Fri 27 Nov 14:00" in said
    assert "A forecast, made Thu 26 Nov 09:30" in said
    rings = [e.walk("VALARM")[0]["TRIGGER"].dt for e in events(feed).values() if "look" in e["UID"]]
    assert set(rings) == {timedelta()}
    top: Any = icalendar.Calendar.from_ical(feed)
    assert "METHOD" not in top
    assert top["REFRESH-INTERVAL"].to_ical() == b"PT1H"
    assert top["REFRESH-INTERVAL"].params["VALUE"] == "DURATION"  # RFC 7986, 5.7
    assert str(top["X-PUBLISHED-TTL"]) == "PT1H"


def test_a_group_is_looked_for_until_a_day_after_it_should_be_pulled(foretold: Scene) -> None:
    feed = fetch(foretold, subscribe(foretold.client(logged_in=True)))
    told = {
        event.start.date(): str(event["DESCRIPTION"])
        for event in events(feed).values()
        if "look" in event["UID"]
    }
    # P90 is Saturday 28 November, 14:00 UTC: the looks up to a day later name group A.
    assert [day for day, said in told.items() if "A1, A2, A3" in said] == [
        date(2026, 11, day) for day in (26, 27, 28, 29)
    ]
    assert all("B1, B2, B3" in said for said in told.values())  # nobody can tell of B


def test_titles_survive_commas_semicolons_backslashes_line_breaks_and_every_letter(
    scene: Scene,
) -> None:
    name = 'Sücuk; pork, "fine" \\ n\\n: 70/30 — ' + "香腸🌶" * 30
    finish = "dry; snaps, \\;\\,"
    db = connect(scene.path)
    add_batch(
        db,
        name=f"{name}\nBEGIN:VEVENT\r\nSUMMARY:smuggled\x07",
        started_at=HUNG_AT,
        groups=[
            NewGroup(
                letter="A", finish=finish, target_yield_pct=72.0, sticks=3, tagged=[],
                room="closet", hung_at=HUNG_AT,
            )
        ],
    )  # fmt: skip
    db.close()
    store(scene, number=4)
    feed = fetch(scene, subscribe(scene.client(logged_in=True)))
    title = f"Batch 3 A, {finish}: 72 % expected"
    assert title in properties(feed, "SUMMARY")
    assert title in [title for _, title in occurring(feed, date(2026, 11, 26), date(2026, 12, 9))]
    (said,) = (s for s in properties(feed, "DESCRIPTION") if s.startswith(name))
    assert said.splitlines()[0] == (
        f"{name} BEGIN:VEVENT SUMMARY:smuggled. Target: 72 % of green weight."
    )
    assert str(window_of(feed, "Batch 3 A")["DESCRIPTION"]) == said
    assert lines(feed).count("BEGIN:VEVENT") == len(events(feed)) == 15 + 4


def test_a_new_forecast_moves_its_event_and_makes_no_second_one(foretold: Scene) -> None:
    path = subscribe(foretold.client(logged_in=True))
    before = window_of(fetch(foretold, path))
    again = window_of(fetch(foretold, path))
    assert again.to_ical() == before.to_ical()
    foretold.clock.move(3600.0)
    later = replace(FORECAST, p10_h=70.0, p50_h=84.0, p90_h=108.0)
    store(foretold, later, made_at=MADE_AT + timedelta(hours=1))
    moved = window_of(fetch(foretold, path))
    assert moved["UID"] == before["UID"]
    assert (before["SEQUENCE"], moved["SEQUENCE"]) == (0, 1)
    assert (moved.start, moved.end) == (
        HUNG_AT + timedelta(hours=70),
        HUNG_AT + timedelta(hours=108),
    )
    assert (
        moved["DTSTAMP"].dt
        == moved["LAST-MODIFIED"].dt
        == START.replace(microsecond=0) + timedelta(hours=1)
    )


def test_a_forecast_that_moves_by_minutes_moves_nothing_in_the_phone(foretold: Scene) -> None:
    path = subscribe(foretold.client(logged_in=True))
    before = window_of(fetch(foretold, path))
    foretold.clock.move(3600.0)
    hardly = replace(FORECAST, p10_h=64.2, p50_h=77.3, p90_h=95.8)
    store(foretold, hardly, made_at=MADE_AT + timedelta(hours=1))
    after = window_of(fetch(foretold, path))
    assert (after["SEQUENCE"], after.start, after.end) == (0, before.start, before.end)
    assert "made Thu 26 Nov 10:30" in str(after["DESCRIPTION"])


def test_without_an_end_it_says_not_before(scene: Scene) -> None:
    store(scene, replace(FORECAST, p50_h=90.0, p90_h=None, never_pct=22.0))
    window = window_of(fetch(scene, subscribe(scene.client(logged_in=True))))
    assert window["SUMMARY"] == "Batch 1 A, supple: 72 % not before this"
    assert window.end - window.start == timedelta(hours=1)
    said = str(window["DESCRIPTION"])
    assert "Hardly before Fri 27 Nov 01:00; no end can be given." in said
    assert "Never, in the air that is planned: 22 in 100." in said
    assert window.walk("VALARM")[0]["TRIGGER"].dt == timedelta(hours=26)


def test_what_never_arrives_and_what_was_never_weighed_has_no_window(scene: Scene) -> None:
    store(scene, replace(FORECAST, p10_h=None, p50_h=None, p90_h=None, never_pct=99.0))
    feed = fetch(scene, subscribe(scene.client(logged_in=True)))
    titles = [str(e["SUMMARY"]) for e in events(feed).values() if "window" in e["UID"]]
    # Group A has a forecast that says never. B and F have a straight line only.
    assert not [title for title in titles if "Batch 1 A" in title]
    (of_b,) = (e for e in events(feed).values() if "Batch 1 B" in str(e["SUMMARY"]))
    assert "a straight line through the last two looks" in str(of_b["DESCRIPTION"])


def test_a_pulled_group_s_event_is_cancelled_and_comes_back_under_its_uid(foretold: Scene) -> None:
    path = subscribe(foretold.client(logged_in=True))
    before = window_of(fetch(foretold, path))
    db = connect(foretold.path)
    pull_group(db, 1, now=foretold.clock.now())
    cancelled = window_of(fetch(foretold, path))
    assert (cancelled["UID"], cancelled["STATUS"]) == (before["UID"], "CANCELLED")
    assert cancelled["SEQUENCE"] == before["SEQUENCE"] + 1
    assert not cancelled.walk("VALARM")
    db.execute("update hang set to_ms = null where group_id = 1")
    db.conn.commit()
    db.close()
    back = window_of(fetch(foretold, path))
    assert (back["UID"], back["STATUS"]) == (before["UID"], "TENTATIVE")
    assert back["SEQUENCE"] == before["SEQUENCE"] + 2


def test_a_clock_that_starts_in_1970_cancels_nothing(foretold: Scene) -> None:
    path = subscribe(foretold.client(logged_in=True))
    before = fetch(foretold, path)
    foretold.clock._now = datetime(1970, 1, 1, tzinfo=UTC)  # the monotonic one goes on
    assert fetch(foretold, path) == before


@pytest.mark.parametrize(
    ("zone", "first", "offsets_h"),
    [
        # Northern winter begins on 25 October 2026, southern summer on 4 October 2026 (tz database).
        ("Europe/Berlin", date(2026, 10, 24), (2, 1, 1)),
        ("America/New_York", date(2026, 3, 7), (-5, -4, -4)),
        ("Australia/Sydney", date(2026, 10, 3), (10, 11, 11)),
        ("Australia/Sydney", date(2026, 4, 4), (11, 10, 10)),
    ],
)
def test_a_look_keeps_its_local_time_across_a_change_of_the_clocks(
    zone: str, first: date, offsets_h: Sequence[int]
) -> None:
    hung_at = datetime.combine(first - timedelta(days=1), time(12), tzinfo=UTC)
    rail = Rail(hanging=[hung(hung_at)], foretold={1: Foretold(now=hung_at)}, rooms={})
    found = entries(
        rail, look_times=[time(8)], zone=ZoneInfo(zone), now=hung_at + timedelta(hours=1)
    )
    feed = feed_of(found)
    told = occurring(feed, first - timedelta(days=2), first + timedelta(days=4))
    midnight = datetime.combine(first, time(0), tzinfo=ZoneInfo(zone))
    utc = [at for at, _ in told if at >= midnight]
    assert utc[:3] == [
        datetime.combine(first + timedelta(days=day), time(8), tzinfo=UTC) - timedelta(hours=hours)
        for day, hours in enumerate(offsets_h)
    ]
    assert all(line.endswith("Z") for line in lines(feed) if line.startswith("DTSTART"))


def test_an_hour_that_comes_twice_is_the_right_one_of_the_two() -> None:
    """25 October 2026, Berlin: 02:00 to 03:00 comes twice, at 00:00 and 01:00 UTC."""
    berlin = ZoneInfo("Europe/Berlin")
    for at in (
        datetime(2026, 10, 25, 0, 10, tzinfo=UTC),
        datetime(2026, 10, 25, 1, 10, tzinfo=UTC),
    ):
        assert to_the_hour(at, berlin) == at.replace(minute=0)


def test_what_is_over_or_cancelled_leaves_the_feed_after_a_while() -> None:
    entry = CalendarEntry(
        uid="look-1", starts_at=START, ends_at=START + timedelta(hours=1), remind_at=None,
        tentative=False, title="t", text="", path="/",
    )  # fmt: skip
    first = published([], [entry], now=START - timedelta(days=1))
    assert [e.sequence for e in first.events] == [0]
    while_on = published(first.changed, [], now=START)
    assert [(e.cancelled, e.sequence) for e in while_on.changed] == [(True, 1)]
    over = published(first.changed, [], now=START + timedelta(hours=2))
    assert (over.events, over.changed) == (list(first.changed), [])
    for before, since in ((first, entry.ends_at), (while_on, START)):
        assert published(before.changed, [], now=since + KEPT_AFTER).events
        assert not published(
            before.changed, [], now=since + KEPT_AFTER + timedelta(seconds=1)
        ).events


def test_an_address_lets_in_no_one_but_its_own_and_a_revoked_one_nobody(scene: Scene) -> None:
    keeper = scene.client(logged_in=True)
    ada, ben = subscribe(keeper, "Ada"), subscribe(keeper, "Ben")
    stranger = scene.client()
    assert stranger.get(ada).status_code == stranger.get(ben).status_code == 200
    for wrong in ("/calendar/none.ics", ada.replace(".ics", "x.ics"), "/calendar/%ED%A0%80.ics"):
        assert stranger.get(wrong).status_code == 404, wrong
    form = {"csrf_token": token(keeper, "/setup/calendar")}
    assert keeper.post("/setup/calendar/1/revoke", data=form).status_code == 303
    assert stranger.get(ada).status_code == 404
    assert stranger.get(ben).status_code == 200
    assert keeper.post("/setup/calendar/1/revoke", data=form).status_code == 404


def test_guessing_is_slowed_down_and_keeps_no_other_phone_waiting(scene: Scene) -> None:
    path = subscribe(scene.client(logged_in=True))
    client = scene.client()
    answers = [client.get("/calendar/guess.ics") for _ in range(25)]
    assert [a.status_code for a in answers].count(404) == 20
    assert answers[-1].status_code == 429
    assert 0 < int(answers[-1].headers["Retry-After"]) <= 900
    other = {"REMOTE_ADDR": "192.0.2.7"}
    assert client.get(path, environ_base=other).status_code == 200
    scene.clock.move(901.0)
    assert client.get(path).status_code == 200


def test_only_the_hash_of_a_secret_is_kept_and_it_is_shown_once(scene: Scene) -> None:
    keeper = scene.client(logged_in=True)
    path = subscribe(keeper)
    secret = path.removeprefix("/calendar/").removesuffix(".ics")
    assert len(secret) == 43  # 32 bytes in base 64 without padding, RFC 4648
    assert secret not in keeper.get("/setup/calendar").get_data(as_text=True)
    scene.client().get(path)
    db = connect(scene.path)
    assert secret not in "".join(db.conn.iterdump())
    db.close()
    form = {"label": "x", "csrf_token": token(keeper, "/setup/calendar"), "key": "keyAda's phone"}
    twice = keeper.post("/setup/calendar", data=form).get_data(as_text=True)
    assert "shown once" in twice
    assert not ADDRESS.search(twice)


def test_making_revoking_and_the_file_ask_for_the_log_in(scene: Scene) -> None:
    keeper, stranger = scene.client(logged_in=True), scene.client()
    subscribe(keeper)
    form = {"label": "x", "csrf_token": token(stranger, "/login")}
    assert stranger.post("/setup/calendar", data=form).status_code == 403
    assert stranger.post("/setup/calendar/1/revoke", data=form).status_code == 403
    assert stranger.get("/calendar.ics").status_code == 403
    assert "Ada's phone" not in stranger.get("/setup/calendar").get_data(as_text=True)
    file = keeper.get("/calendar.ics")
    assert file.headers["Content-Disposition"] == "attachment; filename=hangroom.ics"
    assert len(events(file.get_data())) == 15 + 3


def test_the_address_lets_in_where_looking_asks_for_the_passphrase(scene: Scene) -> None:
    path = subscribe(scene.client(logged_in=True))
    here = scene.settings
    closed = here.model_copy(update={"web": here.web.model_copy(update={"looking": "log-in"})})
    phone = create_app(closed, clock=scene.clock, boot_id=BOOT).test_client()
    assert phone.get(path).status_code == 200
    assert phone.get("/calendar/none.ics").status_code == 404
    assert phone.get("/calendar.ics").status_code == 303
    assert phone.get("/setup/calendar").status_code == 303


def test_what_has_not_changed_is_not_sent_again(foretold: Scene) -> None:
    path = subscribe(foretold.client(logged_in=True))
    phone = foretold.client()
    first = phone.get(path)
    foretold.clock.move(600.0)
    unchanged = phone.get(path, headers={"If-None-Match": first.headers["ETag"]})
    assert (unchanged.status_code, unchanged.get_data()) == (304, b"")
    store(foretold, replace(FORECAST, p10_h=66.0), made_at=MADE_AT + timedelta(hours=1))
    assert phone.get(path, headers={"If-None-Match": first.headers["ETag"]}).status_code == 200


@pytest.mark.parametrize(
    ("label", "said"), [("", "a text of 1 to 40"), ("x" * 41, "a text of 1 to 40")]
)
def test_an_address_without_a_name_is_refused_in_words(scene: Scene, label: str, said: str) -> None:
    keeper = scene.client(logged_in=True)
    form = {"label": label, "csrf_token": token(keeper, "/setup/calendar")}
    answer = keeper.post("/setup/calendar", data=form)
    assert answer.status_code == 422
    assert said in answer.get_data(as_text=True)


def hung(hung_at: datetime) -> HangingGroup:
    group = Group(number=1, letter="A", finish="dry", target_yield_pct=70.0, sticks=3, room="closet",
                  hung_at=hung_at, tagged=(), key="k1")  # fmt: skip
    return HangingGroup(
        batch=Batch(number=1, name="n", started_at=hung_at, note="", sample=False, groups=(group,)),
        group=group,
    )


def feed_of(found: Sequence[CalendarEntry]) -> bytes:
    def told() -> Iterator[PublishedEvent]:
        for entry in found:
            yield PublishedEvent(entry=entry, sequence=0, changed_at=START)

    return as_ics(told(), name="x", domain="d", page="http://h/", version="0")
