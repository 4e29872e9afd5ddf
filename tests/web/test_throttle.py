from itertools import pairwise

import pytest
from web.scenario import PASSPHRASE, Scene, token

from hangroom_web.access import edition, write_anew
from hangroom_web.throttle import FORGOTTEN_AFTER_S, FREE_TRIES_OF_ALL, Throttle


def waits_of(throttle: Throttle, address: str, tries: int, *, known: str = "") -> list[float]:
    """Try, wait as long as is asked, try again; return what was asked before each try, s."""
    uptime_s, waits = 1000.0, []
    for _try in range(tries):
        wait_s = throttle.try_after_s(address, uptime_s=uptime_s, known=known)
        waits.append(wait_s)
        if wait_s:
            uptime_s += wait_s
            assert throttle.try_after_s(address, uptime_s=uptime_s, known=known) == 0
    return waits


def test_the_wait_grows_to_a_quarter_of_an_hour_and_no_further() -> None:
    waits = waits_of(Throttle(free_tries=5), "192.168.1.20", 14)
    assert waits[:9] == [0, 0, 0, 0, 0, 30, 60, 120, 240]
    assert waits[9:] == [480, 900, 900, 900, 900]


def test_tries_at_the_same_moment_are_counted_before_they_are_looked_at() -> None:
    throttle = Throttle(free_tries=5)
    assert [throttle.try_after_s("phone", uptime_s=0.0) for _ in range(7)] == [0] * 5 + [30, 30]


def test_whoever_gets_it_right_starts_anew() -> None:
    throttle = Throttle(free_tries=2)
    for _round in range(20):
        assert throttle.try_after_s("phone", uptime_s=0.0) == 0
        throttle.succeeded("phone")


def test_an_hour_without_a_try_is_forgotten_as_if_nothing_had_been() -> None:
    throttle = Throttle(free_tries=2)
    assert [throttle.try_after_s("phone", uptime_s=0.0) for _ in range(3)] == [0, 0, 30]
    later_s = 31.0 + FORGOTTEN_AFTER_S
    assert [throttle.try_after_s("phone", uptime_s=later_s) for _ in range(3)] == [0, 0, 30]


@pytest.mark.parametrize(
    "address", ["10.0.{}.7", "2001:db8:0:{}::1"], ids=["many addresses", "many IPv6 networks"]
)
def test_a_guesser_with_many_addresses_waits_as_well(address: str) -> None:
    throttle = Throttle(free_tries=5)
    waits = [
        throttle.try_after_s(address.format(n), uptime_s=0.0) for n in range(FREE_TRIES_OF_ALL + 1)
    ]
    assert waits == [0] * FREE_TRIES_OF_ALL + [30]


def test_the_addresses_of_one_ipv6_network_are_one_guesser() -> None:
    """RFC 8981: a machine takes as many addresses below its /64 as it likes."""
    throttle = Throttle(free_tries=5)
    waits = [throttle.try_after_s(f"2001:db8::{n:x}", uptime_s=0.0) for n in range(1, 7)]
    assert waits == [0] * 5 + [30]


def test_an_ipv4_address_written_as_ipv6_is_the_same_guesser() -> None:
    throttle = Throttle(free_tries=1)
    assert throttle.try_after_s("10.0.0.7", uptime_s=0.0) == 0
    assert throttle.try_after_s("::ffff:10.0.0.7", uptime_s=0.0) == 30


def test_a_browser_that_was_let_in_before_never_waits_for_others() -> None:
    """However many guess, and however long: else a neighbour could lock the household out."""
    throttle = Throttle(free_tries=5)
    for n in range(400):
        throttle.try_after_s(f"10.0.{n // 200}.{n % 200}", uptime_s=0.0)
    assert throttle.try_after_s("10.0.0.7", uptime_s=0.0) > 0
    assert throttle.try_after_s("10.0.0.7", uptime_s=0.0, known="ada") == 0


def test_a_known_browser_is_slowed_down_for_its_own_tries() -> None:
    assert waits_of(Throttle(free_tries=5), "phone", 6, known="ada") == [0] * 5 + [30]


def test_what_holds_for_all_outlives_any_number_of_addresses() -> None:
    throttle = Throttle(free_tries=5, most_addresses=8)
    for n in range(200):
        throttle.try_after_s(f"10.0.0.{n}", uptime_s=0.0)
    assert throttle.try_after_s("10.0.1.1", uptime_s=0.0) > 0


def test_logging_in_between_the_guesses_does_not_speed_them_up() -> None:
    throttle = Throttle(free_tries=5)
    guesses = 0
    for n in range(200):
        if throttle.try_after_s(f"10.1.0.{n}", uptime_s=0.0) == 0:
            throttle.succeeded(f"10.1.0.{n}")
        guesses += throttle.try_after_s(f"10.0.0.{n}", uptime_s=0.0) == 0
    assert guesses == FREE_TRIES_OF_ALL


def test_the_longest_a_household_ever_waits_is_a_quarter_of_an_hour() -> None:
    throttle, uptime_s = Throttle(free_tries=5), 0.0
    told = []
    for n in range(2000):
        uptime_s += 1.0
        throttle.try_after_s(f"10.0.{n % 7}.1", uptime_s=uptime_s)
        told.append(throttle.try_after_s("10.9.9.9", uptime_s=uptime_s))
    assert max(told) <= 900
    assert any(later > before for before, later in pairwise(told))


def test_the_shell_commands_end_every_wait_at_once(scene: Scene) -> None:
    client = scene.client()
    form = {"csrf_token": token(client, "/login"), "passphrase": "wrong wrong"}
    codes = [client.post("/login", data=form).status_code for _try in range(6)]
    assert codes == [403] * 5 + [429]
    before = edition(scene.folder)
    write_anew(scene.folder)
    assert edition(scene.folder) != before
    assert client.post("/login", data={**form, "passphrase": PASSPHRASE}).status_code == 303


def test_the_wait_is_told_on_the_form_with_the_name_still_in_it(scene: Scene) -> None:
    client = scene.client()
    form = {"csrf_token": token(client, "/login"), "passphrase": "wrong wrong", "who": "Ada"}
    for _try in range(5):
        client.post("/login", data=form)
    answer = client.post("/login", data=form)
    assert answer.status_code == 429
    assert "Wait 30 s" in answer.text
    assert 'value="Ada"' in answer.text
