"""The child that computes a forecast: slow, dead, deaf or lying, it costs a reason and no more."""

import os
import signal
import subprocess
import sys
import threading
import time
from dataclasses import replace
from pathlib import Path

import pytest
from forecasting.asked import FORECAST, QUESTION

from hangroom.errors import HangroomError
from hangroom.forecasting.child import COMMAND, MOST_BYTES, Child, ChildError
from hangroom.store.forecast_form import answered_as_json

ANSWER = answered_as_json(FORECAST)
HEARS = "import sys, os, time, signal; sys.stdin.buffer.read();"


def child(code: str, *, within_s: float = 20.0) -> Child:
    return Child([sys.executable, "-c", code], within_s=within_s)


def is_running(number: int) -> bool:
    try:
        return ") Z " not in Path(f"/proc/{number}/stat").read_text()
    except OSError:
        return False


def test_an_answer_is_the_forecast_it_says() -> None:
    assert child(f"{HEARS} print({ANSWER!r})").ask(QUESTION) == FORECAST


@pytest.mark.parametrize(
    ("code", "told"),
    [
        ("raise SystemExit(3)", "ended with status 3"),
        (f"{HEARS} raise SystemExit(1)", "ended with status 1"),
        (f"{HEARS} os.kill(os.getpid(), signal.SIGKILL)", "ended by signal 9"),
        (f"{HEARS} print({ANSWER!r}); sys.stdout.flush(); os.abort()", "ended by signal 6"),
        (f"{HEARS} pass", "no JSON"),
        (f"{HEARS} print('forty-two')", "no JSON"),
        (f"{HEARS} sys.stdout.buffer.write(os.urandom(1000))", "no JSON"),
        (f"{HEARS} print({ANSWER[:-40]!r})", "no JSON"),
        (f"{HEARS} print({ANSWER!r} * 2)", "no JSON"),
    ],
)
def test_a_child_that_dies_or_babbles_costs_a_reason(code: str, told: str) -> None:
    with pytest.raises(HangroomError, match=told):
        child(code).ask(QUESTION)


@pytest.mark.parametrize(
    "code",
    [
        "import time; time.sleep(60)",  # deaf as well
        f"{HEARS} time.sleep(60)",
        f"{HEARS} print({ANSWER!r}); sys.stdout.flush(); time.sleep(60)",
        # Says it is done and stays all the same.
        f"{HEARS} print({ANSWER!r}); sys.stdout.flush(); os.close(1); time.sleep(60)",
        # Does not let itself be ended kindly.
        f"{HEARS} signal.signal(signal.SIGTERM, signal.SIG_IGN); time.sleep(60)",
    ],
)
def test_a_slow_child_is_ended_when_its_time_is_over(code: str) -> None:
    began_s = time.monotonic()
    with pytest.raises(ChildError, match=r"longer than 1 s"):
        child(code, within_s=1.0).ask(QUESTION)
    assert time.monotonic() - began_s < 10.0


def test_an_answer_without_an_end_is_cut_off() -> None:
    code = f"{HEARS}\nwhile True: sys.stdout.buffer.write(b'9' * {MOST_BYTES // 4})"
    with pytest.raises(ChildError, match="no end"):
        child(code).ask(QUESTION)


def test_nothing_of_a_slow_child_is_left_not_even_its_own_children(tmp_path: Path) -> None:
    noted = tmp_path / "pids"
    code = (
        "import os, time\n"
        "other = os.fork()\n"
        f"open({str(noted)!r}, 'a').write(f'{{os.getpid()}}\\n')\n"
        "time.sleep(60)"
    )
    with pytest.raises(ChildError):
        child(code, within_s=1.5).ask(QUESTION)
    numbers = [int(line) for line in noted.read_text().split()]
    assert len(numbers) == 2
    until_s = time.monotonic() + 5.0
    while any(map(is_running, numbers)) and time.monotonic() < until_s:
        time.sleep(0.05)
    assert not any(map(is_running, numbers))


def test_a_command_that_is_not_there_costs_a_reason() -> None:
    with pytest.raises(ChildError, match="could not be begun"):
        Child(["/nonexistent/command"]).ask(QUESTION)


def test_closing_ends_what_runs_at_once_and_begins_nothing_more() -> None:
    slow = child("import time; time.sleep(60)")
    told: list[str] = []

    def ask() -> None:
        with pytest.raises(ChildError) as raised:
            slow.ask(QUESTION)
        told.append(str(raised.value))

    asking = threading.Thread(target=ask)
    asking.start()
    time.sleep(0.3)
    slow.close()
    asking.join(timeout=5.0)
    assert told
    with pytest.raises(ChildError, match="ending"):
        slow.ask(QUESTION)
    slow.close()


def test_the_real_child_answers() -> None:
    told = Child().ask(QUESTION)
    assert told.target_yield_ratio == QUESTION.target_yield_ratio
    assert [one.tag for one in told.sticks] == ["A1"]


def test_the_real_child_makes_way_for_others() -> None:
    own = os.getpriority(os.PRIO_PROCESS, 0)
    waiting = subprocess.Popen(COMMAND, stdin=subprocess.PIPE, stdout=subprocess.DEVNULL)
    assert waiting.stdin is not None
    until_s = time.monotonic() + 20.0
    while os.getpriority(os.PRIO_PROCESS, waiting.pid) == own and time.monotonic() < until_s:
        time.sleep(0.05)
    try:
        assert os.getpriority(os.PRIO_PROCESS, waiting.pid) == min(19, own + 10)
        time.sleep(0.2)
        assert Path(f"/proc/{waiting.pid}/oom_score_adj").read_text().strip() == "900"
    finally:
        waiting.kill()
        waiting.wait()
        waiting.stdin.close()


def test_a_question_that_cannot_be_is_answered_in_words() -> None:
    with pytest.raises(HangroomError, match="diameter"):
        Child().ask(replace(QUESTION, diameter_mm=900.0))


def test_signals_are_what_the_messages_call_them() -> None:
    assert (signal.SIGKILL, signal.SIGABRT) == (9, 6)
