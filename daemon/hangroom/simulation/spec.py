"""The physical room of a rehearsal, key by key as in a scenario's `[room.NAME]` table."""

from dataclasses import dataclass, fields
from math import cbrt, inf

from hangroom.errors import InputError

# Below this the lining would follow the air within a few steps, faster than it is stepped.
LIGHTEST_WALL_KJ_PER_K_M2 = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadSpec:
    """The sticks as hung: total mass, one diameter, water as a share of their weight.

    `casing_kg_per_m2_s_pa`: what their casing lets through; None is a casing that hinders nothing,
    the moistest load a room can get. `hangroom.simulation.casing` has a likely figure.
    """

    mass_kg: float = 5.0
    diameter_mm: float = 21.0
    water_fraction: float = 0.55
    casing_kg_per_m2_s_pa: float | None = None

    def __post_init__(self) -> None:
        """Refuse what cannot hang; raises InputError naming every fault."""
        faults = _not_positive(self, ("mass_kg", "diameter_mm"))
        if self.casing_kg_per_m2_s_pa is not None:
            faults += _not_positive(self, ("casing_kg_per_m2_s_pa",))
        if not 0.0 < self.water_fraction < 1.0:
            faults.append(
                f"water_fraction is {self.water_fraction:g}; give a share between 0 and 1"
            )
        if faults:
            raise InputError("\n".join(f"load: {fault}" for fault in faults))


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomSpec:
    """Size, leaks, appliances and lining of one room.

    `ach_per_h`: air changes with the door shut. `fan_m3_per_h`: exhaust fan. `buffer_g_per_pct`:
    water the lining takes up per %RH. `cooling_w`: net compressor power; 0 means no coil.
    """

    volume_m3: float = 1.0
    ach_per_h: float = 3.0
    fan_m3_per_h: float = 30.0
    humidifier_g_per_h: float = 300.0
    tank_g: float = 1500.0
    ua_w_per_k: float = 6.0
    wall_kj_per_k: float = 40.0
    buffer_g_per_pct: float = 0.0
    cooling_w: float = 0.0
    heater_w: float = 0.0
    load: LoadSpec | None = None

    def __post_init__(self) -> None:
        """Refuse a room that cannot be; raises InputError naming every fault."""
        faults = _not_positive(self, ("volume_m3",))
        faults += [
            f"{field.name} is {value:g}; give a number that is 0 or more"
            for field in fields(self)
            if field.name not in {"volume_m3", "load"}
            and not 0.0 <= (value := getattr(self, field.name)) < inf
        ]
        if not faults and self.wall_kj_per_k < LIGHTEST_WALL_KJ_PER_K_M2 * self.wall_m2:
            faults.append(
                f"wall_kj_per_k is {self.wall_kj_per_k:g}; a lining of {self.wall_m2:.1f} m2 holds "
                f"at least {LIGHTEST_WALL_KJ_PER_K_M2 * self.wall_m2:.1f}"
            )
        if faults:
            raise InputError("\n".join(faults))

    @property
    def wall_m2(self) -> float:
        """Inner surface, m2, taken as that of a cube of the same volume."""
        return 6.0 * cbrt(self.volume_m3) ** 2


def _not_positive(spec: object, names: tuple[str, ...]) -> list[str]:
    return [
        f"{name} is {value:g}; give a number above 0"
        for name in names
        if not 0.0 < (value := getattr(spec, name)) < inf
    ]
