"""The casing between the meat and the air film: a skin that lets vapour through."""

from dataclasses import dataclass

from hangroom.simulation.meat import Value
from hangroom.simulation.vapour import GAS_CONSTANT_J_PER_KG_K, ZERO_C_K

# Collagen or sheep, 50-100 um: no trustworthy permeance is published. Taken so that with the film
# of a room's quiet to moved air (1.9e-8 to 2.9e-8) the whole way is 1.0e-8 to 1.2e-8: worked back
# from the first day of a dry sausage, Foods 10 (2021) 1460, table 3, the whole way is 1.06e-8,
# with size and humidity of that room assumed.
CASING_KG_PER_M2_S_PA = 2.0e-8
# Judgement, no source: a casing that closes begins to where its meat side falls below the first
# water activity, and is as tight as it gets at the second.
OPEN_ABOVE_AW = 0.92
TIGHT_BELOW_AW = 0.75


@dataclass(frozen=True, slots=True, kw_only=True)
class Casing:
    """Permeance when moist, and the share of it that is left where it has dried out."""

    permeance_kg_per_m2_s_pa: Value = CASING_KG_PER_M2_S_PA
    dry_share: Value = 1.0

    def conductance_m_per_s(self, activity_ratio: Value, *, temperature_c: Value) -> Value:
        """Return what it lets through, per difference in vapour density, at its meat side's aw."""
        moist = (activity_ratio - TIGHT_BELOW_AW) / (OPEN_ABOVE_AW - TIGHT_BELOW_AW)
        moist_share = (abs(moist) - abs(moist - 1.0) + 1.0) / 2.0  # within 0 and 1
        share = self.dry_share + (1.0 - self.dry_share) * moist_share
        gas_j_per_kg = GAS_CONSTANT_J_PER_KG_K * (temperature_c + ZERO_C_K)
        return self.permeance_kg_per_m2_s_pa * share * gas_j_per_kg
