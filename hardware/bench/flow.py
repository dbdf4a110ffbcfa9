"""How thick the bowl's content is, and what that asks of the stirrer.

Responsible for the Casson law, its thickening with cold and crystals, and the stirrer's load; not
for how the motor turns. Only ratios mean something: see `Filling`.
"""

import math

from hardware.bench.parameters import Filling

GAS_J_PER_MOL_K = 8.314462618  # CODATA 2018
ZERO_C_IN_K = 273.15  # exact, by definition of the Celsius scale
MELTED_K = ZERO_C_IN_K + 40.0  # the temperature at which rheometers measure chocolate
ACTIVATION_J_PER_MOL = 30_000.0  # own engineering value, not published
CRYSTALS_THICKEN = 30.0  # own engineering value: exponent per fraction of the fat solid
# The law is meant for a few percent of crystals; beyond, a paddle cuts a channel in the paste.
MOST_CRYSTALS = 0.10  # own engineering value, not published
NOMINAL_C = 31.5  # where `Filling.stirrer_w` holds
NOMINAL_CRYSTALS = 0.02
NOMINAL_KG = 1.5


def casson_pa(yield_pa: float, plastic_pa_s: float, rate_per_s: float) -> float:
    """Shear stress by the Casson law, Pa (IOCCC 1973)."""
    root = math.sqrt(yield_pa) + math.sqrt(plastic_pa_s * rate_per_s)
    return root * root


def thickening(temp_c: float, crystals: float) -> float:
    """By how much yield value and plastic viscosity exceed those of the melt at 40 °C."""
    cold = ACTIVATION_J_PER_MOL / GAS_J_PER_MOL_K * (1.0 / (temp_c + ZERO_C_IN_K) - 1.0 / MELTED_K)
    return math.exp(cold + CRYSTALS_THICKEN * min(crystals, MOST_CRYSTALS))


def unit_load_w(filling: Filling, rate_per_s: float, nominal_per_s: float) -> float:
    """Load at the shaft, W, of 1 kg of a melt at 40 °C: stress times shear rate, scaled.

    Times `thickening` and the mass in kg it is the load of the moment.
    """
    turning = rate_per_s * casson_pa(filling.yield_pa, filling.plastic_pa_s, rate_per_s)
    nominal = nominal_per_s * casson_pa(filling.yield_pa, filling.plastic_pa_s, nominal_per_s)
    thick = thickening(NOMINAL_C, NOMINAL_CRYSTALS if filling.fat else 0.0)
    return filling.stirrer_w / NOMINAL_KG * turning / nominal / thick
