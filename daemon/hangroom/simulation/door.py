"""Air that an open door lets through."""

from math import cbrt, sqrt

from hangroom.simulation.vapour import ZERO_C_K

GRAVITY_M_PER_S2 = 9.81
# A door as high as a cube of the room's volume and half as wide, 1.8 m at most. Even between equal
# densities opening it stirs some air. Both are judgement.
HIGHEST_M = 1.8
STIRRING_M_PER_S = 0.02


def door_m3_per_s(*, room_m3: float, inside_c: float, outside_c: float) -> float:
    """Air exchanged through an open door by the difference in density, m3/s.

    Form of Gosney and Olama, as printed by T. Jekel (IRC, 2017): 0.221 A sqrt(1 - light/heavy)
    sqrt(g H) F, with F = (2 / (1 + (heavy/light)^(1/3)))^1.5.
    """
    height_m = min(HIGHEST_M, cbrt(room_m3))
    inside_k, outside_k = inside_c + ZERO_C_K, outside_c + ZERO_C_K
    light_ratio = min(inside_k, outside_k) / max(inside_k, outside_k)
    form = 2.0 / (1.0 + cbrt(1.0 / light_ratio))
    form *= sqrt(form)
    driven_m_per_s = 0.221 * sqrt(1.0 - light_ratio) * sqrt(GRAVITY_M_PER_S2 * height_m) * form
    return height_m**2 / 2.0 * max(driven_m_per_s, STIRRING_M_PER_S)
