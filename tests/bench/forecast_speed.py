"""What one forecast costs: milliseconds by number of ways, and the memory of a child that makes it.

    python tests/bench/forecast_speed.py

Fourteen days hourly, three sticks weighed daily on a scale of 0.5 g, best and median of several
runs; then one child like the daemon's, measured from outside. Goals on a desk machine: 100 ms at
1024 ways, 90 MB. An invented batch.
"""

import resource
import subprocess
import sys
from math import exp
from statistics import median
from time import perf_counter

import numpy as np

from hangroom.air import saturation_pressure_fast_pa
from hangroom.forecast import forecast
from hangroom.product.drying import Air, Maths, Stick, hung, step
from hangroom.product.forecast import AirPlanned, AirSeen, Question, TaggedStick, Weighing

DAYS = 14
RUNS = 9
WAYS = (128, 256, 512, 1024, 2048)
GREEN_G = {"A1": 101.0, "A2": 112.0, "A3": 94.0}
HUNG_RATIO = 0.88


def lost_ratio(days: int) -> list[float]:
    """Loss at the end of each day, of a stick that dries somewhat otherwise than is believed."""
    stick = Stick(
        transfer_kg_per_m2_s_pa=1.0e-8,
        diffusivity_m2_per_s=5.0e-11,
        activation_kj_per_mol=25.0,
        strength=0.072,
        steepness=0.85,
        water_ratio=1.25,
        radius_m=0.0104,
    )
    air = Air(
        temperature_c=12.0, saturation_pa=saturation_pressure_fast_pa(12.0), humidity_ratio=0.76
    )
    drying, lost = hung(stick), []
    for hour in range(1, 24 * days + 1):
        drying = step(stick, drying, air, 1.0, Maths(exp=exp, larger=max))
        if hour % 24 == 0:
            lost.append(float(drying.loss_ratio) * (1.0 + 0.01 * (-1) ** (hour // 24)))
    return lost


def asked(days: int) -> Question:
    """A group on its way to 0.58 of its green weight, at the end of so many days."""
    hours = 24 * days
    return Question(
        tagged=tuple(
            TaggedStick(tag=tag, green_weight_g=green_g, hang_weight_g=HUNG_RATIO * green_g)
            for tag, green_g in GREEN_G.items()
        ),
        sticks_in_group=12,
        target_yield_ratio=0.58,
        water_fraction=0.56,
        diameter_mm=21.0,
        diameter_measured=True,
        scale_sd_g=0.5,
        now_h=float(hours),
        air=tuple(
            AirSeen(
                at_h=hour + 0.5,
                temperature_c=12.0 + float(np.sin(hour / 4.0)),
                humidity_pct=76.0 + 2.0 * float(np.sin(hour / 3.0)),
            )
            for hour in range(hours)
        ),
        plan=(AirPlanned(from_h=0.0, temperature_c=12.0, humidity_pct=76.0),),
        weighings=tuple(
            Weighing(
                at_h=24.0 * day,
                tag=tag,
                weight_g=HUNG_RATIO * green_g * (1.0 - lost),
            )
            for day, lost in enumerate(lost_ratio(days), start=1)
            for tag, green_g in GREEN_G.items()
        ),
    )


def child_peak_mb() -> float:
    """Most memory of a child that imports, forecasts once and ends."""
    subprocess.run([sys.executable, __file__, "child"], check=True, stdout=subprocess.DEVNULL)
    return resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024.0


def main() -> None:
    """Print the table."""
    # First, because a child begins with the most that its parent had.
    print(f"child: {child_peak_mb():.0f} MB at most")
    for days in (1, 4, DAYS):
        question = asked(days)
        print(f"{days} days, {len(question.weighings)} weights")
        for ways in WAYS:
            found, took_ms = forecast(question, particles=ways), []
            for _ in range(RUNS):
                started_s = perf_counter()
                forecast(question, particles=ways)
                took_ms.append(1000.0 * (perf_counter() - started_s))
            print(
                f"  {ways:5d} ways: best {min(took_ms):6.1f} ms, median {median(took_ms):6.1f} ms,"
                f" effective {found.effective_particles:5.0f}, p50 {found.p50_h or np.inf:6.1f} h"
            )


if __name__ == "__main__":
    if sys.argv[1:] == ["child"]:
        forecast(asked(DAYS))
    else:
        main()
