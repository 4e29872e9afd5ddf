"""The channels' file: every fault named at once and in the evening, and no secret in any of them."""

from pathlib import Path

import pytest
from notices.house import ROOMS
from notices.receivers import free_port, web

from hangroom.cli import main
from hangroom.errors import SettingsError
from hangroom.notices.channels import Secret, read_channels
from hangroom.product.notice import Urgency
from hangroom.settings import check_settings

SECRET = "s3cret"


def written(folder: Path, text: str, *, mode: int = 0o600) -> Path:
    file = folder / "channels.toml"
    file.touch(mode=mode)
    file.chmod(mode)
    file.write_text(text, encoding="utf-8")
    return file


def channel(name: str, address: str, least: str = "low") -> str:
    return f'[[channel]]\nname = "{name}"\naddress = "{address}"\nleast = "{least}"\n'


def settings_file(folder: Path, channels: Path | None) -> Path:
    file = folder / "hangroom.toml"
    named = f'[notices]\nchannels_file = "{channels}"\n' if channels else ""
    file.write_text(
        f'[store]\nfolder = "{folder}"\n{named}'
        '[room.closet]\ntitle = "Closet"\n[room.closet.sensor.rail]\nkind = "dht22"\npin = 4\n',
        encoding="utf-8",
    )
    return file


def test_what_stands_in_the_file_is_read(tmp_path: Path) -> None:
    file = written(
        tmp_path,
        'ping_url = "https://watch.example/x"\n'
        + channel("phone", f"ntfys://{SECRET}", "high")
        + '[[channel]]\nname = "mail"\naddress = "mailtos://a:b@example.org"\n',
    )
    found = read_channels(file)
    assert [(one.name, one.scheme, one.least) for one in found.channels] == [
        ("phone", "ntfys", Urgency.HIGH),
        ("mail", "mailtos", Urgency.LOW),
    ]
    assert found.secrets["phone"].address == f"ntfys://{SECRET}"
    assert found.ping is not None


def test_an_address_shows_itself_to_nobody() -> None:
    secret = Secret(f"json://{SECRET}")
    assert SECRET not in f"{secret} {secret!r} {[secret]} {vars(type(secret))}"


@pytest.mark.parametrize("mode", [0o640, 0o604, 0o660, 0o644, 0o610])
def test_a_file_that_others_may_touch_is_refused_with_what_to_do(tmp_path: Path, mode: int) -> None:
    file = written(tmp_path, channel("phone", f"json://{SECRET}"), mode=mode)
    with pytest.raises(SettingsError, match=f"mode {mode:04o}.*chmod 600"):
        read_channels(file)


def test_every_fault_is_named_at_once_and_none_shows_an_address(tmp_path: Path) -> None:
    file = written(
        tmp_path,
        f'ping_url = "ftp://{SECRET}"\n{SECRET} = 1\n'
        + channel("Phone!", f"json://{SECRET}")
        + channel("two", f"{SECRET}@example.org")
        + channel("two", f"json://{SECRET}", "urgent")
        + f'[[channel]]\nname = "three"\n{SECRET} = "x"\n',
    )
    with pytest.raises(SettingsError) as refused:
        read_channels(file)
    said = str(refused.value)
    for told in (
        "ping_url is no web address",
        "neither [[channel]] nor ping_url",
        "channel 1 has no usable name",
        "'two' has no usable address",
        "'two' stands there twice",
        "'two': least must be low, medium or high",
        "'three' has entries that are none of",
        "'three' has no usable address",
    ):
        assert told in said
    assert SECRET not in said


@pytest.mark.parametrize(
    "text",
    [
        f'[[channel]]\naddress = "json://{SECRET}\n',
        f"channel = {SECRET}",
        f'channel = "{SECRET}"\n',
        f'channel = ["{SECRET}"]\n',
        f'[channel]\naddress = "{SECRET}"\n',
        f"{SECRET} {SECRET}",
    ],
)
def test_a_file_that_is_no_list_of_channels_is_refused_without_a_secret(
    tmp_path: Path, text: str
) -> None:
    with pytest.raises(SettingsError) as refused:
        read_channels(written(tmp_path, text))
    assert SECRET not in str(refused.value)


def test_a_missing_file_says_so(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match="no such file"):
        read_channels(tmp_path / "none.toml")


def test_check_names_every_bad_address_in_the_evening(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Which services there are, and what parts an address needs, is for the library to say."""
    file = written(
        tmp_path,
        channel("right", f"json://127.0.0.1:9/{SECRET}")
        + channel("unknown", f"nosuch://{SECRET}")
        + channel("short", "tgram://")
        + channel("alien", f"discord://{SECRET}"),
    )
    assert main(["check", "--settings", str(settings_file(tmp_path, file))]) == 2
    said = capsys.readouterr()
    assert "channel 'unknown': No service goes by nosuch://" in said.err
    assert "channel 'short': This address for tgram:// lacks a part" in said.err
    assert "channel 'alien': This address for discord:// lacks a part" in said.err
    assert "right" not in said.err
    assert SECRET not in said.err + said.out


def test_check_lists_the_channels_that_are_in_order(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = written(tmp_path, channel("right", f"json://127.0.0.1:9/{SECRET}", "medium"))
    assert main(["check", "--settings", str(settings_file(tmp_path, file))]) == 0
    said = capsys.readouterr().out
    assert "right: by json, medium and above" in said
    assert SECRET not in said


def test_notify_sends_a_test_and_says_what_came_of_each(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    port = free_port()
    file = written(
        tmp_path,
        channel("right", f"json://127.0.0.1:{port}/{SECRET}")
        + channel("dead", f"json://127.0.0.1:{free_port()}/{SECRET}"),
    )
    settings = str(settings_file(tmp_path, file))
    with web(port) as box:
        assert main(["notify", "--test", "--settings", settings]) == 1
        assert main(["notify", "--test", "--channel", "right", "--settings", settings]) == 0
    said = capsys.readouterr().out
    assert said.splitlines() == [
        "right: delivered",
        "dead: not delivered. The receiver refused the connection. Does its service run?",
        "right: delivered",
    ]
    assert [body["title"] for _mark, body in box.got] == ["Hang room: test"] * 2


@pytest.mark.parametrize(
    ("more", "told"),
    [
        (["--test", "--channel", "nobody"], "There is no channel 'nobody'. There are: right."),
        ([], "Say what to send"),
    ],
)
def test_notify_refuses_what_it_cannot_do(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], more: list[str], told: str
) -> None:
    file = written(tmp_path, channel("right", f"json://127.0.0.1:9/{SECRET}"))
    assert main(["notify", *more, "--settings", str(settings_file(tmp_path, file))]) == 2
    assert told in capsys.readouterr().err


def test_notify_without_channels_says_how_to_get_some(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["notify", "--test", "--settings", str(settings_file(tmp_path, None))]) == 2
    assert "No channel is set up" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("notices", "told"),
    [
        ({"quiet_from": "22:00"}, "quiet_from and quiet_until together"),
        ({"quiet_from": "22:00", "quiet_until": "22:00"}, "are the same moment"),
        ({"quiet_from": "10 pm", "quiet_until": "06:00"}, "is no time of day"),
        ({"alive_at": "noon"}, "is no time of day"),
        ({"alive_weekday": "someday"}, "alive_weekday"),
        ({"most_per_hour": 0}, "most_per_hour"),
        ({"page_address": "hangroom.local"}, "is no address"),
        ({"address": "json://x"}, "no setting 'address'"),
    ],
)
def test_faults_of_the_settings_are_named(notices: dict[str, object], told: str) -> None:
    with pytest.raises(SettingsError, match=told):
        check_settings({"notices": notices, "room": ROOMS}, source="test")
