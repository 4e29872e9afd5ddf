"""What the air of a room touches: walls with their lining, the coil, the load.

Each part offers the air a *way* for water and heat, fixed for one stretch, and afterwards takes
what the way carried. What leaves the air is exactly what the part is handed.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple, Protocol

from hangroom.simulation.load import Load
from hangroom.simulation.spec import RoomSpec
from hangroom.simulation.vapour import coil_saturation_kg_per_m3, saturation_kg_per_m3
from hangroom.terms import RelayKind

# Textbook values at 15 degC (from memory).
AIR_J_PER_M3_K = 1.22 * 1006.0
EVAPORATION_J_PER_KG = 2.466e6
MELTING_J_PER_KG = 0.334e6
# Natural convection at walls and product, 2-8 W/m2K (textbook, from memory).
WALL_FILM_W_PER_M2_K = 4.0
LOAD_FILM_W_PER_M2_K = 3.0
# By the Lewis analogy from the film above, 2-6e-3 m/s (from memory).
LOAD_FILM_M_PER_S = 2.5e-3
# Judgement: moving air carries half as much again, heat and water alike.
FAN_BOOST_RATIO = 1.5
# Judgement: two layers, the thin one next to the air holding 15 %, reached three times as fast.
LINING_S = 1800.0
LINING_OUTER_RATIO = 0.15
LINING_OUTER_SPEED_RATIO = 3.0
# Estimates for a small evaporator; a coil gives water back more slowly than it takes it.
COIL_W_PER_K = 6.0
COIL_J_PER_K = 3000.0
COIL_COLDEST_C = -18.0
COIL_GIVING_BACK_RATIO = 0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class OutsideAir:
    """The air that leaks in."""

    temperature_c: float
    vapour_kg_per_m3: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Drive:
    """What holds in a room from now on: the appliances that work, the door, the air outside."""

    working: Collection[RelayKind]
    door_open: bool
    outside: OutsideAir

    @property
    def stirred(self) -> bool:
        """Whether a fan moves the air."""
        return RelayKind.EXHAUST_FAN in self.working or RelayKind.CIRCULATION_FAN in self.working


class Way(NamedTuple):
    """Conductances between the air and one part, and the state at the part's end."""

    vapour_m3_per_s: float
    vapour_kg_per_m3: float
    heat_w_per_k: float
    heat_c: float


class Taken(NamedTuple):
    """What a part did with what it was handed: water taken, and heat let in from outside."""

    water_kg: float
    heat_in_j: float = 0.0


class Part(Protocol):
    """Something that holds water and heat and meets the air."""

    def way(self, drive: Drive, *, vapour_kg_per_m3: float) -> Way:
        """The way between it and the air for the coming stretch."""

    def take(self, drive: Drive, *, water_kg: float, heat_j: float, stretch_s: float) -> Taken:
        """Take what came over the way in a stretch (give, where negative)."""

    @property
    def water_kg(self) -> float:
        """Water it holds."""

    @property
    def heat_j(self) -> float:
        """Heat it holds, from 0 degC and liquid water."""

    def snapshot(self) -> dict[str, Any]:
        """State as a JSON-able dict."""

    def restore(self, snapshot: Mapping[str, Any]) -> None:
        """Go on from such a dict."""


class Walls:
    """Inner walls and the lining on them; `outer_ratio` and `inner_ratio` in equilibrium RH, 0-1.

    C_w dT_w/dt = h A_w (T - T_w) + UA (T_out - T_w) + L J
    J = g_1 (RH - phi_1), with RH at the temperature of the lining, not of the air
    .15 C_b dphi_1/dt = J - g (phi_1 - phi_2);  .85 C_b dphi_2/dt = g (phi_1 - phi_2)
    g = C_b / tau_b, g_1 = 3 g

    Taking up vapour warms the wall by the heat of evaporation; the few per cent of binding heat on
    top of it are left out.
    """

    def __init__(self, spec: RoomSpec, *, temperature_c: float, equilibrium_ratio: float) -> None:
        self.temperature_c = temperature_c
        self.outer_ratio = equilibrium_ratio
        self.inner_ratio = equilibrium_ratio
        lining_kg = spec.buffer_g_per_pct / 10.0
        self._outer_kg = LINING_OUTER_RATIO * lining_kg
        self._inner_kg = (1.0 - LINING_OUTER_RATIO) * lining_kg
        self._lining_kg_per_s = lining_kg / LINING_S
        self._film_w_per_k = WALL_FILM_W_PER_M2_K * spec.wall_m2
        self._outward_w_per_k = spec.ua_w_per_k
        self._heat_j_per_k = spec.wall_kj_per_k * 1000.0

    def way(self, drive: Drive, *, vapour_kg_per_m3: float) -> Way:  # noqa: ARG002  # a Part's
        """Heat by the film, vapour into the outer layer of the lining."""
        if self._outer_kg == 0.0:
            return Way(0.0, 0.0, self._film_w_per_k, self.temperature_c)
        saturation = saturation_kg_per_m3(self.temperature_c)
        return Way(
            LINING_OUTER_SPEED_RATIO * self._lining_kg_per_s / saturation,
            self.outer_ratio * saturation,
            self._film_w_per_k,
            self.temperature_c,
        )

    def take(self, drive: Drive, *, water_kg: float, heat_j: float, stretch_s: float) -> Taken:
        """Warm the wall, wet the lining, lose heat outward."""
        if self._outer_kg > 0.0:
            deeper_kg = self._lining_kg_per_s * stretch_s * (self.outer_ratio - self.inner_ratio)
            self.outer_ratio += (water_kg - deeper_kg) / self._outer_kg
            self.inner_ratio += deeper_kg / self._inner_kg
            heat_j += EVAPORATION_J_PER_KG * water_kg
        # Implicit in the outward half, so that even the thinnest wall cannot swing.
        outside_c = drive.outside.temperature_c
        outward_j_per_k = self._outward_w_per_k * stretch_s
        self.temperature_c = (
            self._heat_j_per_k * self.temperature_c + heat_j + outward_j_per_k * outside_c
        ) / (self._heat_j_per_k + outward_j_per_k)
        return Taken(water_kg, outward_j_per_k * (outside_c - self.temperature_c))

    @property
    def water_kg(self) -> float:
        """Water in both layers of the lining."""
        return self._outer_kg * self.outer_ratio + self._inner_kg * self.inner_ratio

    @property
    def heat_j(self) -> float:
        """Heat of the wall."""
        return self._heat_j_per_k * self.temperature_c

    def snapshot(self) -> dict[str, Any]:
        """State as a JSON-able dict."""
        return {
            "temperature_c": self.temperature_c,
            "outer_ratio": self.outer_ratio,
            "inner_ratio": self.inner_ratio,
        }

    def restore(self, snapshot: Mapping[str, Any]) -> None:
        """Go on from such a dict."""
        self.temperature_c = snapshot["temperature_c"]
        self.outer_ratio = snapshot["outer_ratio"]
        self.inner_ratio = snapshot["inner_ratio"]


class Coil:
    """A fridge's evaporator: takes heat and vapour, keeps what freezes on it.

    C_e dT_e/dt = UA (T - T_e) + (L + L_melt) J - Q
    J = UA / (rho c_p) (rho_v - rho_sat(T_e)); 0.3 of it when giving back, as long as frost is left
    """

    def __init__(self, spec: RoomSpec, *, temperature_c: float) -> None:
        self.temperature_c = temperature_c
        self.frost_kg = 0.0
        self._compressor_w = spec.cooling_w

    def way(self, drive: Drive, *, vapour_kg_per_m3: float) -> Way:  # noqa: ARG002  # a Part's
        """Heat and vapour alike, by the Lewis analogy."""
        saturation = coil_saturation_kg_per_m3(self.temperature_c)
        vapour_m3_per_s = COIL_W_PER_K / AIR_J_PER_M3_K
        if vapour_kg_per_m3 < saturation:
            vapour_m3_per_s *= COIL_GIVING_BACK_RATIO if self.frost_kg > 0.0 else 0.0
        return Way(vapour_m3_per_s, saturation, COIL_W_PER_K, self.temperature_c)

    def take(self, drive: Drive, *, water_kg: float, heat_j: float, stretch_s: float) -> Taken:
        """Freeze what came, give back no more than there is, and let the compressor draw heat."""
        water_kg = max(water_kg, -self.frost_kg)
        self.frost_kg += water_kg
        heat_j += (EVAPORATION_J_PER_KG + MELTING_J_PER_KG) * water_kg
        drawn_j = 0.0
        if RelayKind.COOLING in drive.working:
            to_coldest_j = (self.temperature_c - COIL_COLDEST_C) * COIL_J_PER_K + heat_j
            drawn_j = max(0.0, min(self._compressor_w * stretch_s, to_coldest_j))
        self.temperature_c += (heat_j - drawn_j) / COIL_J_PER_K
        return Taken(water_kg, -drawn_j)

    @property
    def water_kg(self) -> float:
        """Frost on it."""
        return self.frost_kg

    @property
    def heat_j(self) -> float:
        """Heat of the metal, less what the frost would need to melt."""
        return COIL_J_PER_K * self.temperature_c - MELTING_J_PER_KG * self.frost_kg

    def snapshot(self) -> dict[str, Any]:
        """State as a JSON-able dict."""
        return {"temperature_c": self.temperature_c, "frost_kg": self.frost_kg}

    def restore(self, snapshot: Mapping[str, Any]) -> None:
        """Go on from such a dict."""
        self.temperature_c = snapshot["temperature_c"]
        self.frost_kg = snapshot["frost_kg"]


class HangingLoad:
    """The load with its temperature: m_p c_p dT_p/dt = h_p A_p (T - T_p) - L E."""

    def __init__(self, load: Load, *, temperature_c: float) -> None:
        self.load = load
        self.temperature_c = temperature_c

    def way(self, drive: Drive, *, vapour_kg_per_m3: float) -> Way:  # noqa: ARG002  # a Part's
        """Heat by the film, vapour by film and surface; both half as much again with a fan."""
        boost_ratio = FAN_BOOST_RATIO if drive.stirred else 1.0
        saturation = saturation_kg_per_m3(self.temperature_c)
        vapour_m3_per_s, activity_ratio = self.load.evaporation(
            film_m_per_s=LOAD_FILM_M_PER_S * boost_ratio, saturation_kg_per_m3=saturation
        )
        return Way(
            vapour_m3_per_s,
            activity_ratio * saturation,
            LOAD_FILM_W_PER_M2_K * boost_ratio * self.load.surface_m2,
            self.temperature_c,
        )

    def take(self, drive: Drive, *, water_kg: float, heat_j: float, stretch_s: float) -> Taken:  # noqa: ARG002  # a Part's
        """Dry, and cool by it."""
        self.temperature_c += (
            heat_j + EVAPORATION_J_PER_KG * water_kg
        ) / self.load.heat_capacity_j_per_k
        self.load.give_off(-water_kg, over_s=stretch_s, temperature_c=self.temperature_c)
        return Taken(water_kg)

    @property
    def water_kg(self) -> float:
        """Water in the load."""
        return self.load.water_kg

    @property
    def heat_j(self) -> float:
        """Heat of the load."""
        return self.load.heat_capacity_j_per_k * self.temperature_c

    def snapshot(self) -> dict[str, Any]:
        """State as a JSON-able dict."""
        return {"temperature_c": self.temperature_c, "load": self.load.snapshot()}

    def restore(self, snapshot: Mapping[str, Any]) -> None:
        """Go on from such a dict."""
        self.temperature_c = snapshot["temperature_c"]
        self.load.restore(snapshot["load"])
