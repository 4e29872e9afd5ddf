"""`hangroom forecast`: how done one group is and when it arrives, from three files."""

import argparse
import json
from typing import Any

from hangroom.cli.forecast_files import read_question
from hangroom.forecast import forecast
from hangroom.product.forecast import Forecast
from hangroom.product.forecast_words import say


def run(given: argparse.Namespace) -> int:
    """Forecast, and say it in words or as one JSON object."""
    question = read_question(given.batch, given.air, given.weights, now_h=given.now_h)
    found = forecast(question)
    if given.json:
        print(json.dumps(as_json(found), indent=2, allow_nan=False))
    else:
        print("\n".join(told(found)))
    return 0


def as_json(found: Forecast) -> dict[str, Any]:
    """Return the forecast as the JSON object that other programs read; keys only ever come."""
    return {
        "p10_h": found.p10_h,
        "p50_h": found.p50_h,
        "p90_h": found.p90_h,
        "never_pct": found.never_pct,
        "yield_now": found.yield_ratio,
        "yield_now_sd": found.yield_sd_ratio,
        "loss_pct_per_day": found.loss_pct_per_day,
        "surface_to_core": found.surface_to_core_ratio,
        "effective_particles": found.effective_particles,
        "ms": found.ms,
        "sticks": {
            stick.tag: {"yield_now": stick.yield_ratio, "yield_now_sd": stick.yield_sd_ratio}
            for stick in found.sticks
        },
        "remarks": [
            {"code": remark.code, "figures": dict(remark.figures), "says": say(remark)}
            for remark in found.remarks
        ],
    }


def told(found: Forecast) -> list[str]:
    """Return the forecast in sentences, remarks last."""
    return [
        _standing(found),
        _arrival(found),
        _skin(found),
        *(
            f"Stick {stick.tag}: {100.0 * stick.yield_ratio:.1f} % of its green weight"
            f" (standard deviation {100.0 * stick.yield_sd_ratio:.1f})."
            for stick in found.sticks
        ),
        *(say(remark) for remark in found.remarks),
    ]


def _standing(found: Forecast) -> str:
    pace = f"{abs(found.loss_pct_per_day):.1f} % of its hang weight a day"
    return (
        f"At hour {found.now_h:.0f} since hanging the group stands at"
        f" {100.0 * found.yield_ratio:.1f} % of its green weight (standard deviation"
        f" {100.0 * found.yield_sd_ratio:.1f}) and"
        f" {'loses' if found.loss_pct_per_day >= 0.0 else 'gains'} {pace}."
    )


def _skin(found: Forecast) -> str:
    return (
        f"The surface holds {100.0 * found.surface_to_core_ratio:.0f} % of the core's water per dry"
        f" matter, and {100.0 * found.least_surface_to_core_ratio:.0f} % at the least on the way."
    )


def _arrival(found: Forecast) -> str:
    target = f"its target of {100.0 * found.target_yield_ratio:.1f} % of green weight"
    never = ""
    if found.never_pct >= 1.0:
        never = f" In {found.never_pct:.0f} cases of 100 it is not there within 60 days, or never."
    if found.p50_h is None:
        early = ""
        if found.p10_h is not None:
            early = f" The quickest tenth of cases is there by hour {found.p10_h:.0f}."
        return f"In this air it is not likely to reach {target}.{early}{never}"
    if found.p50_h <= found.now_h:
        return f"It has probably reached {target}, at about hour {found.p50_h:.0f}."
    early_h = found.now_h if found.p10_h is None else found.p10_h
    range_ = f"9 times of 10 not before hour {early_h:.0f}"
    if found.p90_h is not None:
        range_ = f"8 times of 10 between hour {early_h:.0f} and hour {found.p90_h:.0f}"
    return f"It reaches {target} at about hour {found.p50_h:.0f}, {range_}.{never}"
