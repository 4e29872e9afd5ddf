"""`hangroom forecast`: one group from three files. Everything in them is invented."""

import json
import re
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from hangroom.cli.forecast_files import read_question
from hangroom.forecast import forecast
from hangroom.product.forecast import TaggedStick

Run = Callable[..., subprocess.CompletedProcess[str]]

BATCH = """
diameter_mm = 19.0
water_fraction_at_hang = 0.56
target_yield_on_green = 0.62
scale_sd_g = 0.5
sticks = 12

[plan]
temperature_c = 13.0
humidity_pct = 75.0

[[plan.change]]
at_h = 84.0
temperature_c = 13.0
humidity_pct = 68.0
"""
AIR = "hours,temperature_c,humidity_pct\n" + "".join(
    f"{hour},13.0,{75 + hour % 3}\n" for hour in range(49)
)
WEIGHTS = """hours,stick,weight_g,diameter_mm
-30,A1,100.4,
-30,A2,112.0,21.4
0,A1,88.1,
0,A2,98.4,19.0
24,A1,82.6,
24.1,A2,92.4,
48,A1,78.2,17.9
48,A2,,18.0
"""
# The keys that other programs read, of the contract.
KEYS = (
    *("p10_h", "p50_h", "p90_h", "never_pct", "yield_now", "yield_now_sd"),
    *("loss_pct_per_day", "surface_to_core", "effective_particles", "ms"),
)


@pytest.fixture
def files(tmp_path: Path) -> dict[str, Path]:
    """The three files as above."""
    made = {"batch": tmp_path / "B.toml", "air": tmp_path / "A.csv", "weights": tmp_path / "W.csv"}
    for name, text in (("batch", BATCH), ("air", AIR), ("weights", WEIGHTS)):
        made[name].write_text(text, encoding="utf-8")
    return made


def asked(files: dict[str, Path], now_h: str = "49", *more: str) -> list[str | Path]:
    named = [part for name, file in files.items() for part in (f"--{name}", file)]
    return ["forecast", *named, "--now-h", now_h, *more]


def test_the_json_has_the_agreed_keys_and_the_forecasters_numbers(
    run: Run, files: dict[str, Path]
) -> None:
    ran = run(*asked(files, "49", "--json"))
    assert (ran.returncode, ran.stderr) == (0, "")
    found = json.loads(ran.stdout)
    assert set(KEYS) <= set(found)
    direct = forecast(read_question(files["batch"], files["air"], files["weights"], now_h=49.0))
    assert found["p10_h"] == direct.p10_h
    assert found["p90_h"] == direct.p90_h
    assert found["p10_h"] < found["p50_h"] < found["p90_h"]
    assert found["yield_now"] == direct.yield_ratio
    assert found["sticks"].keys() == {"A1", "A2"}


def test_the_files_are_understood_as_agreed(files: dict[str, Path]) -> None:
    question = read_question(files["batch"], files["air"], files["weights"], now_h=49.0)
    assert question.tagged == (
        TaggedStick(tag="A1", green_weight_g=100.4, hang_weight_g=88.1),
        TaggedStick(tag="A2", green_weight_g=112.0, hang_weight_g=98.4),
    )
    assert [(w.at_h, w.tag, w.weight_g, w.diameter_mm) for w in question.weighings] == [
        (24.0, "A1", 82.6, None),
        (48.0, "A1", 78.2, 17.9),
        (24.1, "A2", 92.4, None),
        (48.0, "A2", None, 18.0),
    ]
    assert [(each.from_h, each.humidity_pct) for each in question.plan] == [
        (0.0, 75.0),
        (84.0, 68.0),
    ]
    assert len(question.air) == 49
    assert (question.sticks_in_group, question.scale_sd_g, question.now_h) == (12, 0.5, 49.0)


def test_the_first_weight_counts_as_hung_within_half_an_hour_only(files: dict[str, Path]) -> None:
    files["weights"].write_text(
        "hours,stick,weight_g\n-9,A,100\n-2,A,90\n0.4,A,88\n-9,B,100\n2,B,87\n", encoding="utf-8"
    )
    question = read_question(files["batch"], files["air"], files["weights"], now_h=49.0)
    assert question.tagged == (
        TaggedStick(tag="A", green_weight_g=100.0, hang_weight_g=88.0),
        TaggedStick(tag="B", green_weight_g=100.0, hang_weight_g=None),
    )
    assert [(w.at_h, w.tag) for w in question.weighings] == [(2.0, "B")]


def test_in_words_it_says_the_same(run: Run, files: dict[str, Path]) -> None:
    ran = run(*asked(files))
    found = json.loads(run(*asked(files, "49", "--json")).stdout)
    assert (ran.returncode, ran.stderr) == (0, "")
    assert f"{100 * found['yield_now']:.1f} % of its green weight" in ran.stdout
    assert (
        f"at about hour {found['p50_h']:.0f}, 8 times of 10 between hour {found['p10_h']:.0f} and"
        f" hour {found['p90_h']:.0f}" in ran.stdout
    )
    assert not re.search(r"\bsafe\b", ran.stdout)


def test_p90_is_null_where_more_than_a_tenth_never_arrives(
    run: Run, files: dict[str, Path]
) -> None:
    files["batch"].write_text(BATCH.replace("humidity_pct = 68.0", "humidity_pct = 86.0"))
    found = json.loads(run(*asked(files, "49", "--json")).stdout)
    assert found["never_pct"] > 10.0
    assert found["p90_h"] is None


def test_a_gap_in_the_air_is_told(run: Run, files: dict[str, Path]) -> None:
    rows = AIR.splitlines()
    files["air"].write_text("\n".join([*rows[:20], "19.5,,", *rows[32:]]))
    ran = run(*asked(files))
    assert ran.returncode == 0
    assert "No air was measured for" in ran.stdout


def test_every_fault_of_all_files_is_named_at_once(run: Run, files: dict[str, Path]) -> None:
    files["batch"].write_text(
        BATCH.replace("diameter_mm = 19.0", "diameter = 19.0").replace("= 0.56", "= 56")
        + "temperature = 3\n"
    )
    files["air"].write_text(AIR.replace("\n3,13.0,", "\n3,warm,").replace("\n5,13.0,", "\n4,130,"))
    files["weights"].write_text(
        WEIGHTS.replace("24,A1,82.6,", "24,A1,eighty,").replace("-30,A2", "1,A2")
        + "49,,3,\n50,A1\n"
    )
    ran = run(*asked(files))
    faults = ran.stderr.splitlines()
    assert (ran.returncode, ran.stdout) == (2, "")
    assert "Traceback" not in ran.stderr
    expected = [
        ("A.csv line 5", "warm"),
        ("A.csv line 7", "130"),
        ("W.csv line 6", "eighty"),
        ("W.csv line 10", "stick is empty"),
        ("W.csv line 11", "cells"),
        ("W.csv", "A2 has no green weight"),
        ("B.toml", "no 'diameter'"),
        ("B.toml", "diameter_mm is missing"),
        ("B.toml", "water_fraction_at_hang is 56"),
        ("B.toml", "temperature"),
    ]
    for where, what in expected:
        assert any(where in fault and what in fault for fault in faults), (where, what, faults)
    assert len(faults) == len(expected)


@pytest.mark.parametrize("name", ["batch", "air", "weights"])
def test_a_missing_file_is_one_line(run: Run, files: dict[str, Path], name: str) -> None:
    files[name].unlink()
    ran = run(*asked(files))
    assert ran.returncode == 2
    (line,) = ran.stderr.splitlines()
    assert str(files[name]) in line
    assert "there is no such file" in line


@pytest.mark.parametrize("content", [b"\xff\xfe\x00", b'a,"b\nc', b"", b"\x00\x01", b"= ="])
@pytest.mark.parametrize("name", ["batch", "air", "weights"])
def test_no_content_makes_a_traceback(
    run: Run, files: dict[str, Path], name: str, content: bytes
) -> None:
    files[name].write_bytes(content)
    ran = run(*asked(files))
    assert ran.returncode == 2
    assert "Traceback" not in ran.stderr
    assert str(files[name]) in ran.stderr


@pytest.mark.parametrize("now_h", ["nan", "-3", "inf", "1e9"])
def test_a_moment_that_cannot_be_is_bad_input(run: Run, files: dict[str, Path], now_h: str) -> None:
    ran = run(*asked(files, f"{now_h}")) if now_h != "-3" else run(*asked(files)[:-1], "-3")
    assert ran.returncode == 2
    assert "now-h" in ran.stderr
    assert "Traceback" not in ran.stderr


def test_before_any_weight_and_with_empty_air(run: Run, files: dict[str, Path]) -> None:
    files["air"].write_text("hours,temperature_c,humidity_pct\n")
    files["weights"].write_text("hours,stick,weight_g\n")
    found = json.loads(run(*asked(files, "0", "--json")).stdout)
    assert found["p90_h"] > 2.0 * found["p10_h"]
    assert [remark["code"] for remark in found["remarks"]] == ["hang-weight-assumed"]
