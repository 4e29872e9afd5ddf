"""What is believed of a stick's drying before it was weighed, each figure with its source.

Learned figures of a room and a recipe take the place of the first two.
"""

from dataclasses import dataclass

from hangroom.product.findings import Source, Standing
from hangroom.product.forecast import Belief, Beliefs

TRANSFER_SOURCE = Source(
    "backed out of the first day of four dry-sausage curves (Foods 10 (2021) 1460, table 3) with"
    " room and size assumed, beside a film in still air alone, 5.1e-8; casings have no published"
    " figure that could be trusted, and how much a fan runs is not known beforehand",
    Standing.CALCULATED,
)
DIFFUSIVITY_SOURCE = Source(
    "pepperoni 4.7e-11 to 5.7e-11 (Palumbo et al. 1977, J. Food Sci. 42:1029, abstract), ham pieces"
    " 0.5e-11 to 6.6e-11 (DryMeat project), biltong at 30 to 40 degC 1.6e-10 to 2.3e-10 brought"
    " down to 12 degC (Muga et al. 2020, J. Biosyst. Eng. 45:362)",
    Standing.CALCULATED,
)
PUBLISHED = Beliefs(
    transfer_kg_per_m2_s_pa=Belief(median=1.2e-8, ln_sd=0.50),
    diffusivity_m2_per_s=Belief(median=6.5e-11, ln_sd=0.45),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Activation:
    """How diffusion quickens with warmth: a normal belief, kJ/mol."""

    mean_kj_per_mol: float
    sd_kj_per_mol: float
    source: Source


ACTIVATION = Activation(
    mean_kj_per_mol=25.0,
    sd_kj_per_mol=4.0,
    source=Source(
        "15.1 to 31.9 kJ/mol along and across pork muscle (Gomez et al. 2017, J. Food Eng.), 17.7"
        " and 28.2 for biltong (Muga et al. 2020)",
        Standing.CALCULATED,
    ),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Isotherm:
    """A (log-normal) and r (normal) of aw = exp(-A X^-r) for a usual snack stick."""

    strength_median_ratio: float
    strength_ln_sd_ratio: float
    steepness_mean_ratio: float
    steepness_sd_ratio: float
    source: Source


ISOTHERM = Isotherm(
    strength_median_ratio=0.072,
    strength_ln_sd_ratio=0.20,
    steepness_mean_ratio=0.85,
    steepness_sd_ratio=0.08,
    source=Source(
        "the fit named in hangroom.product.sorption, made a little wetter for less salt and sugar",
        Standing.JUDGEMENT,
    ),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fading:
    """How much both ways of the water narrow as it dries: medians, log-normal, no unit."""

    meat_ratio: float
    casing_ratio: float
    ln_sd_ratio: float
    source: Source


FADING = Fading(
    meat_ratio=0.25,
    casing_ratio=0.08,
    ln_sd_ratio=0.5,
    source=Source(
        "that diffusivity in dry sausage depends strongly on its water is published (J. Food Eng."
        " 97 (2010) 311-318, abstract), and that casings let less through once they have dried is"
        " common practice; the figures are our own judgement",
        Standing.JUDGEMENT,
    ),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Spreads:
    """How far the rest may be off; ratios are standard deviations of a natural logarithm.

    `water_ln_sd_ratio`: of water per dry matter as hung, from recipe and cook loss.
    `radius_*`: by caliper, or only the casing's nominal size. `humidity_sd_pct`: the sensor's bias.
    `stick_ln_sd_ratio`: of single sticks' rates; bundles of one batch lost 39.8, 35.3, 39.1 and
    38.5 % (an amateur's, and the place in the room adds to it). `model_sd_ratio`: what the model
    itself gets wrong, per square root of the share lost: set so that 80 % ranges hold a little more
    than 80 % of simulated batches of another model (tests/bench, seeds 5 and 6, others untouched).
    `reading_sd_ratio`: of a look besides the scale, as share of weight: drips, tags, handling.
    """

    water_ln_sd_ratio: float = 0.06
    measured_radius_ln_sd_ratio: float = 0.015
    nominal_radius_ln_sd_ratio: float = 0.06
    humidity_sd_pct: float = 2.0
    stick_ln_sd_ratio: float = 0.08
    model_sd_ratio: float = 0.018
    reading_sd_ratio: float = 0.0015


SPREADS = Spreads()

# Air that nobody measured: how far it may have been from what stands in for it. Judgement: a
# closet's humidity wanders by so much when nothing is known of it.
GAP_HUMIDITY_SD_PCT, GAP_TEMPERATURE_SD_C = 6.0, 1.5
# Neither air nor plan: a cool, moist room as sticks are usually hung in. Common practice, no
# source.
UNKNOWN_TEMPERATURE_C, UNKNOWN_HUMIDITY_PCT = 13.0, 75.0

# What smoking and cooking leave of the green weight of a snack stick, where it was not weighed
# when hung. Common practice, no source.
HUNG_MEAN_RATIO, HUNG_SD_RATIO = 0.88, 0.04

# Weak evidence, only where nothing was weighed. A caliper on a wrinkled stick: 5 points of yield;
# how diameter follows volume: exponent 2 (across only) to 3 (all round). Both judged from caliper
# errors of 0.3 to 0.5 mm.
CALIPER_SD_RATIO = 0.05
SHRINKAGE_MEAN_RATIO, SHRINKAGE_SD_RATIO = 2.3, 0.3
# No relation of squeeze to loss is published that could be carried over: firmness hangs on skin,
# temperature and fat too. Loss of the weight as hung at each step from soft to hard: judgement.
SQUEEZE_LOSS_RATIO = {1: 0.05, 2: 0.13, 3: 0.21, 4: 0.29, 5: 0.38}
SQUEEZE_SD_RATIO = 0.08
