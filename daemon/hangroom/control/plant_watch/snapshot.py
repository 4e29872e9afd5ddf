"""What the plant watch has learned and found as plain data, and back, for the next program.

The air of the last minutes and runs under way are not kept: nobody watched what came of them. A
door that stood open counts as open until the air says otherwise.

Moments are kept as they stand on the monotonic clock of their boot, and learned figures to two
digits, so that a snapshot changes only with what it says and need not be written again and again.
"""

from dataclasses import replace
from math import inf, isfinite
from typing import Any

from hangroom.control.plant_watch.cooling import Cooling
from hangroom.control.plant_watch.door import Door, Jump
from hangroom.control.plant_watch.effect import Effect
from hangroom.control.plant_watch.runs import Runs
from hangroom.control.plant_watch.watch import Memory, starting_memory


def snapshot(memory: Memory) -> dict[str, Any]:
    """Return what has to outlive the program, as JSON knows it."""
    door, cooling = memory.door, memory.cooling
    return {
        "doses": _effect_kept(memory.doses.effect),
        "airing": _effect_kept(memory.airing.effect),
        "cooling": {"idle_s": _rounded(cooling.idle_s), "judged": cooling.judged},
        "door": {
            "drift_g_per_m3_per_s": round(door.drift_g_per_m3_per_s, 4),
            "vapour": _jump_kept(door.vapour),
            "temperature": _jump_kept(door.temperature),
        },
        "stuck_above_pct": memory.stuck_above_pct,
    }


def restored(
    kept: object, *, saved_uptime_s: float, gap_s: float, uptime_s: float
) -> tuple[Memory, str | None]:
    """Return the memory of a program that has just opened every relay, from a snapshot.

    Where it cannot be understood, all of it is forgotten and the second value says why.
    `saved_uptime_s`: where the clock of that boot stood when it was made; `gap_s`: how long ago
    that was, 0 where it is not known.
    """
    fresh = starting_memory(uptime_s=uptime_s)
    try:
        return _understood(kept, fresh, moved_s=uptime_s - gap_s - saved_uptime_s), None
    except (ArithmeticError, AttributeError, LookupError, TypeError, ValueError) as wrong:
        return fresh, f"{type(wrong).__name__}: {wrong}"


def _effect_kept(effect: Effect) -> dict[str, Any]:
    return {
        "gain_g_per_m3_per_s": _rounded(effect.gain_g_per_m3_per_s),
        "difference_g_per_m3": _rounded(effect.difference_g_per_m3),
        "worked_uptime_s": _moment_s(effect.worked_uptime_s),
        "failed_uptime_s": _moment_s(effect.failed_uptime_s),
        "failures": effect.failures,
        "failed_s": effect.failed_s,
        "moved_pct": effect.moved_pct,
        "expected_pct": effect.expected_pct,
    }


def _moment_s(uptime_s: float) -> float | None:
    return uptime_s if isfinite(uptime_s) else None


def _jump_kept(jump: Jump | None) -> list[float] | None:
    return None if jump is None else [jump.before, jump.farthest]


def _understood(
    kept: Any,  # noqa: ANN401 - whatever JSON can be
    fresh: Memory,
    *,
    moved_s: float,
) -> Memory:
    door, cooling = kept["door"], kept["cooling"]
    return replace(
        fresh,
        doses=Runs(effect=_effect(kept["doses"], moved_s)),
        airing=Runs(effect=_effect(kept["airing"], moved_s)),
        cooling=Cooling(idle_s=_number(cooling["idle_s"]), judged=cooling["judged"] is True),
        door=Door(
            drift_g_per_m3_per_s=_number(door["drift_g_per_m3_per_s"]),
            vapour=_jump(door["vapour"]),
            temperature=_jump(door["temperature"]),
        ),
        stuck_above_pct=_number_or_none(kept["stuck_above_pct"]),
    )


def _effect(kept: Any, moved_s: float) -> Effect:  # noqa: ANN401 - whatever JSON can be
    def moment_s(key: str) -> float:
        before_s = _number_or_none(kept[key])
        return -inf if before_s is None else before_s + moved_s

    return Effect(
        gain_g_per_m3_per_s=_number_or_none(kept["gain_g_per_m3_per_s"]),
        difference_g_per_m3=_number_or_none(kept["difference_g_per_m3"]),
        worked_uptime_s=moment_s("worked_uptime_s"),
        failed_uptime_s=moment_s("failed_uptime_s"),
        failures=int(_number(kept["failures"])),
        failed_s=_number(kept["failed_s"]),
        moved_pct=_number_or_none(kept["moved_pct"]),
        expected_pct=_number_or_none(kept["expected_pct"]),
    )


def _jump(kept: Any) -> Jump | None:  # noqa: ANN401 - whatever JSON can be
    if kept is None:
        return None
    before, farthest = map(_number, kept)
    if before == farthest:
        raise ValueError("a jump from where it went")
    return Jump(before, farthest)


def _rounded(value: float | None) -> float | None:
    return None if value is None else float(f"{value:.2g}")


def _number_or_none(value: object) -> float | None:
    return None if value is None else _number(value)


def _number(value: object) -> float:
    # true is a number to Python, and so is what JSON calls NaN.
    if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value):
        raise ValueError(f"{value!r:.40} is no number")
    return float(value)
