"""A second solution of the shrinking cylinder, made with scipy and nothing of the project.

The same equations in another discretisation: 120 shells crowded towards the surface, an implicit
solver of variable step (LSODA), the surface found as a root without any tangent, and the temperature
of the surface from its own heat balance::

    m_d dX/dt = F_in - F_out,  F = 2 pi r rho_d D f(X) dX/dr        per metre of stick
    k (a(X_s) p_s(T_s) - H p_s(T)) = rho_d D f (X_n - X_s) / half shell
    (h + h_r)(T - T_s) = lambda J,   1/k = 1/k_film + 1/k_casing
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import exp, pi

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

LATENT_J_PER_KG = 2.466e6
R_VAPOUR = 461.5


@dataclass(frozen=True, kw_only=True)
class Case:
    diameter_mm: float
    first_ratio: float
    temperature_c: float
    humidity_pct: float
    heat_w_per_m2_k: float
    activity: Callable[[float], float]
    diffusivity_m2_per_s: Callable[[float], float]
    slowing: Callable[[float], float]
    casing: Callable[[float], float]
    """Water activity at the surface to kg/m2 s Pa."""
    shrinks: bool = True


def pressure_pa(temperature_c: float) -> float:
    """Magnus form of drying tables: 610.94 exp(17.625 T / (243.04 + T)), within 0.3 %."""
    return 610.94 * exp(17.625 * temperature_c / (243.04 + temperature_c))


def losses(case: Case, hours: Sequence[float], *, shells: int = 120) -> list[float]:
    """Share of the weight as hung that is lost at each of the hours."""
    radius_m = case.diameter_mm / 2000.0
    # Dry mass per metre: many thin shells at the surface, fewer in the core.
    inner = 1.0 - np.linspace(1.0, 0.0, shells + 1) ** 1.7
    volume_per_dry = 1.0 / 1150.0 + case.first_ratio / 1000.0
    dry_kg = np.diff(inner) * pi * radius_m**2 / volume_per_dry
    slowing = np.vectorize(case.slowing)

    def change(_time_s: float, ratios: NDArray[np.float64]) -> NDArray[np.float64]:
        water = ratios if case.shrinks else np.full_like(ratios, case.first_ratio)
        volumes = dry_kg * (1.0 / 1150.0 + water / 1000.0)
        edges = np.sqrt(np.concatenate([[0.0], np.cumsum(volumes)]) / pi)
        middles = (edges[1:] + edges[:-1]) / 2.0
        share = dry_kg / volumes * slowing(ratios)
        rate, surface_c = evaporation(ratios[-1], edges[-1], edges[-1] - middles[-1], share[-1])
        between = 2 * pi * edges[1:-1] * (share[1:] + share[:-1]) / 2.0 / np.diff(middles)
        flows = np.concatenate(
            [
                [0.0],
                between * case.diffusivity_m2_per_s(surface_c) * (ratios[:-1] - ratios[1:]),
                [rate],
            ]
        )
        result: NDArray[np.float64] = -np.diff(flows) / dry_kg
        return result

    def evaporation(last: float, edge: float, half: float, share: float) -> tuple[float, float]:
        k_film = (
            0.9
            * case.heat_w_per_m2_k
            / (1.22 * 1006.0)
            / (R_VAPOUR * (case.temperature_c + 273.15))
        )
        air_pa = case.humidity_pct / 100.0 * pressure_pa(case.temperature_c)

        def leaving(surface: float) -> tuple[float, float]:
            k = 1.0 / (1.0 / k_film + 1.0 / case.casing(case.activity(surface)))

            def unbalanced(surface_c: float) -> float:
                flux = k * (case.activity(surface) * pressure_pa(surface_c) - air_pa)
                heat = (case.heat_w_per_m2_k + 4.0) * (case.temperature_c - surface_c)
                return heat - LATENT_J_PER_KG * flux

            surface_c = brentq(unbalanced, case.temperature_c - 15.0, case.temperature_c + 15.0)
            return k * (case.activity(surface) * pressure_pa(surface_c) - air_pa), surface_c

        def gap(surface: float) -> float:
            flux, surface_c = leaving(surface)
            return share * case.diffusivity_m2_per_s(surface_c) * (last - surface) / half - flux

        surface = brentq(gap, 0.02, 2.0 * last, xtol=1e-9)
        flux, surface_c = leaving(surface)
        return 2 * pi * edge * flux, surface_c

    run = solve_ivp(
        change,
        (0.0, hours[-1] * 3600.0),
        np.full(shells, case.first_ratio),
        method="LSODA",
        t_eval=[hour * 3600.0 for hour in hours],
        rtol=1e-5,
        atol=1e-7,
        lband=1,
        uband=1,
    )
    hung_kg = float(dry_kg.sum()) * (1.0 + case.first_ratio)
    waters = dry_kg @ run.y
    return [float(1.0 - (dry_kg.sum() + water) / hung_kg) for water in waters]
