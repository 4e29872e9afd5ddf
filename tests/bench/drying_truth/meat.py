"""The truth's meat: water bound by salt and by protein, and diffusion that falls as it dries.

Another shape than any forecaster's single power law: the salt's part falls to that of saturated
brine and stays there.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

SALT_KG_PER_MOL = 0.05844
# 1 - aw = 0.0309 m + 0.0015 m2, fitted to NaCl's 0.967 at 1 molal and 0.760 at 6 (Robinson and
# Stokes); saturated brine is at 0.755.
FIRST_ORDER, SECOND_ORDER = 0.0309, 0.0015
SATURATED_MOLAL = 6.1


@dataclass(frozen=True, kw_only=True)
class Meat:
    """Salt per dry matter; protein's part exp(-A X^-r); f(X) = exp(-a (1/X - 1/X0))."""

    salt_ratio: Floats
    protein_strength: Floats
    protein_steepness: Floats
    fading: Floats
    hung_ratio: Floats

    def activity(self, water_ratio: Floats) -> tuple[Floats, Floats]:
        """Return water activity and its slope."""
        full_molal = self.salt_ratio / SALT_KG_PER_MOL / water_ratio
        molal = np.minimum(full_molal, SATURATED_MOLAL)
        salt = 1.0 - FIRST_ORDER * molal - SECOND_ORDER * molal**2
        salt_slope = np.where(
            full_molal < SATURATED_MOLAL,
            (FIRST_ORDER + 2.0 * SECOND_ORDER * molal) * molal / water_ratio,
            0.0,
        )
        hold = self.protein_strength * water_ratio**-self.protein_steepness
        protein = np.exp(-hold)
        protein_slope = protein * hold * self.protein_steepness / water_ratio
        return salt * protein, salt_slope * protein + salt * protein_slope

    def slowing(self, water_ratio: Floats) -> Floats:
        """Return the share of the fresh mass's diffusivity that is left."""
        share: Floats = np.exp(-self.fading * (1.0 / water_ratio - 1.0 / self.hung_ratio))
        return share
