"""Backup on the page: how the last one went, and one to take away; none is put back from it."""

import json
from datetime import UTC, datetime, timedelta
from io import BytesIO
from pathlib import Path
from zipfile import ZipFile
from zoneinfo import ZoneInfo

import pytest
from flask.testing import FlaskClient
from store.backup.conftest import rows
from web.scenario import PASSPHRASE, START, Scene, token
from werkzeug.test import TestResponse

from hangroom.store.backup.checking import check_whole_file
from hangroom.store.backup.outcome import Good, Outcome, read_outcome, write_outcome
from hangroom.store.in_use import in_use
from hangroom_web.app import create_app
from hangroom_web.backup import backup_view

NEW_YORK = ZoneInfo("America/New_York")
STICK = Path("/mnt/hangroom-backup")


def good(hours_ago: float) -> Good:
    return Good(
        made_at=START - timedelta(hours=hours_ago),
        folder=str(STICK),
        file="hangroom-20261126-033000.zip",
        size=12_340_000,
        batches=2,
        photos=5,
    )


def taken(client: FlaskClient) -> TestResponse:
    """The answer read to its end and closed, as a server does."""
    form = {"csrf_token": token(client, "/setup/backup")}
    return client.post("/setup/backup", data=form, buffered=True)


def test_the_last_one_is_told_with_when_where_and_how_large() -> None:
    view = backup_view(Outcome(good=good(6.0)), STICK, now=START, zone=NEW_YORK)
    assert view.trouble == ""
    assert view.last == (
        "03:52, 12.3 MB, read back and found whole: 2 batches, 5 photos. "
        "It is /mnt/hangroom-backup/hangroom-20261126-033000.zip."
    )


@pytest.mark.parametrize(("hours_ago", "old"), [(47.9, False), (48.1, True), (400.0, True)])
def test_one_older_than_two_days_is_trouble_where_one_is_due_each_night(
    hours_ago: float, *, old: bool
) -> None:
    outcome = Outcome(good=good(hours_ago))
    view = backup_view(outcome, STICK, now=START, zone=NEW_YORK)
    assert ("The last backup is old" in view.trouble) is old
    assert backup_view(outcome, None, now=START, zone=NEW_YORK).trouble == ""


def test_why_the_last_try_failed_is_told_beside_the_last_good_one() -> None:
    failed = Outcome(good=good(20.0), failed_at=START, fault="The stick is not mounted.")
    view = backup_view(failed, STICK, now=START, zone=NEW_YORK)
    assert view.trouble == "The last try failed, 09:52. The stick is not mounted."
    assert "found whole" in view.last


def test_no_backup_and_no_folder_are_told() -> None:
    view = backup_view(Outcome(), None, now=START, zone=NEW_YORK)
    assert "No backup was made yet" in view.last
    assert "no folder is set" in view.nightly


def test_what_is_kept_of_it_is_read_again_and_nonsense_is_none(tmp_path: Path) -> None:
    outcome = Outcome(good=good(1.0), failed_at=datetime(2026, 11, 27, tzinfo=UTC), fault="x")
    write_outcome(tmp_path, outcome)
    assert read_outcome(tmp_path) == outcome
    for text in ("", "[]", json.dumps({"good": {"size": "large"}})):
        (tmp_path / "backup.json").write_text(text, encoding="utf-8")
        assert read_outcome(tmp_path) == Outcome()


def test_setup_tells_it_and_leads_there(scene: Scene) -> None:
    write_outcome(scene.folder, Outcome(good=good(6.0), failed_at=START, fault="No room."))
    page = scene.client().get("/setup").get_data(as_text=True)
    assert "hangroom-20261126-033000.zip" in page
    assert "The last try failed, 09:52. No room." in page
    assert 'href="/setup/backup"' in page


def test_one_is_handed_over_whole_and_nothing_of_it_stays(scene: Scene, tmp_path: Path) -> None:
    before = {file.name for file in scene.folder.iterdir()}
    client = scene.client(logged_in=True)
    answer = taken(client)
    assert (answer.status_code, answer.mimetype) == (200, "application/zip")
    assert "hangroom-20261126-095204.zip" in answer.headers["Content-Disposition"]
    assert answer.headers["Cache-Control"] == "no-store"
    assert answer.content_length == len(answer.data)
    file = tmp_path / "taken.zip"
    file.write_bytes(answer.data)
    assert check_whole_file(file).rows["batch"] == 2
    assert {one.name for one in scene.folder.iterdir()} - before <= {".in-use-backup"}


def test_the_settings_file_goes_with_it_where_there_is_one(scene: Scene, tmp_path: Path) -> None:
    settings_file = tmp_path / "hangroom.toml"
    settings_file.write_text("# mine\n", encoding="utf-8")
    client = create_app(
        scene.settings, clock=scene.clock, boot_id="this-boot", settings_file=settings_file
    ).test_client()
    form = {"passphrase": PASSPHRASE, "csrf_token": token(client, "/login")}
    assert client.post("/login", data=form).status_code == 303
    answer = taken(client)
    assert ZipFile(BytesIO(answer.data)).read("settings.toml") == b"# mine\n"


def test_it_is_for_those_who_gave_the_passphrase_lately(scene: Scene) -> None:
    stranger = scene.client()
    assert "Log in to make one" in stranger.get("/setup/backup").get_data(as_text=True)
    form = {"csrf_token": token(stranger, "/login")}
    assert stranger.post("/setup/backup", data=form).status_code == 403
    client = scene.client(logged_in=True)
    form = {"csrf_token": token(client, "/setup/backup")}
    scene.clock.move(16 * 60.0)
    asked = client.post("/setup/backup", data=form)
    assert asked.mimetype == "text/html"
    assert "Passphrase again" in asked.get_data(as_text=True)
    given = client.post(
        "/setup/backup", data=form | {"passphrase-again": PASSPHRASE}, buffered=True
    )
    assert given.mimetype == "application/zip"


def test_while_the_nightly_one_is_made_it_waits_its_turn_in_words(scene: Scene) -> None:
    client = scene.client(logged_in=True)
    form = {"csrf_token": token(client, "/setup/backup")}
    with in_use(scene.folder, "backup"):
        answer = client.post("/setup/backup", data=form)
    assert answer.status_code == 503
    assert "another cannot begin" in answer.get_data(as_text=True)


def test_it_names_the_command_that_puts_one_back(scene: Scene) -> None:
    page = scene.client().get("/setup/backup").get_data(as_text=True)
    assert "hangroom restore FILE.zip" in page
    assert "systemctl stop hangroom-daemon hangroom-web" in page


def sent(client: FlaskClient, data: bytes) -> TestResponse:
    form = {
        "csrf_token": token(client, "/setup/backup/restore"),
        "backup": (BytesIO(data), "any name.zip"),
    }
    return client.post("/setup/backup/restore", data=form, buffered=True)


def test_one_that_is_sent_is_looked_at_shown_and_laid_ready_and_nothing_else(scene: Scene) -> None:
    client = scene.client(logged_in=True)
    backup = taken(client).data
    before = rows(scene.path)
    page = sent(client, backup).get_data(as_text=True)
    assert "2 batches, 8 weigh-ins, 1320 readings" in page
    assert "made Thu 26 Nov 2026 09:52 by hangroom" in page
    waiting = scene.folder / "restore-pending.zip"
    assert not waiting.exists()
    form = {"csrf_token": token(client, "/setup/backup/restore")}
    assert client.post("/setup/backup/restore/ready", data=form).status_code == 303
    assert waiting.read_bytes() == backup
    assert "One is laid ready" in client.get("/setup").get_data(as_text=True)
    assert "A backup is laid ready" in client.get("/setup/backup/restore").get_data(as_text=True)
    assert rows(scene.path) == before
    assert client.post("/setup/backup/restore/forget", data=form).status_code == 303
    assert not [file.name for file in scene.folder.iterdir() if "restor" in file.name]


def test_a_bad_one_is_refused_in_words_and_not_kept(scene: Scene) -> None:
    client = scene.client(logged_in=True)
    good = taken(client).data
    for data, said in ((good[: len(good) // 2], "no whole zip file"), (b"", "Choose the backup")):
        answer = (
            sent(client, data)
            if data
            else client.post(
                "/setup/backup/restore", data={"csrf_token": token(client, "/setup/backup/restore")}
            )
        )
        assert answer.status_code == 422
        assert said in answer.get_data(as_text=True)
    assert not [file.name for file in scene.folder.iterdir() if "restor" in file.name]
    form = {"csrf_token": token(client, "/setup/backup/restore")}
    assert client.post("/setup/backup/restore/ready", data=form).status_code == 409


def test_a_stranger_sends_none(scene: Scene) -> None:
    stranger = scene.client()
    form = {"csrf_token": token(stranger, "/login"), "backup": (BytesIO(b"x"), "x.zip")}
    assert stranger.post("/setup/backup/restore", data=form).status_code == 403
    assert stranger.get("/setup/backup/restore").status_code == 403
