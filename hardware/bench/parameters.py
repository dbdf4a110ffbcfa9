"""What the benches are made of: sizes, conductances, sensors, and what lies in the bowl.

Responsible for every physical number that a bench may differ in; not for the laws between them.
"""

from dataclasses import dataclass

from controller.ports import Kind

# Where no published source is named, a number is an own engineering value, not published.


@dataclass(frozen=True, slots=True, kw_only=True)
class Parameters:
    """One machine, lumped. The defaults are the slow end of home-built machines.

    The conductances from bath to bowl and from bowl to chocolate, in series, make 6.2 W/K.
    """

    heater_w: float = 500.0  # own engineering value: a small immersion heater
    heater_lag_s: float = 20.0  # own engineering value: element sheath, 10 to 30 s in practice
    water_kg: float = 3.0  # own engineering value: a pot of 4 L, three quarters full
    pot_j_per_k: float = 400.0  # own engineering value: 0.8 kg of steel at 0.5 kJ/(kg K)
    bowl_j_per_k: float = 300.0  # own engineering value: 0.6 kg of steel
    bath_bowl_w_per_k: float = 29.0  # own engineering value: still water on the bowl's outside
    bowl_mass_stirred_w_per_k: float = 7.8  # own engineering value: at `stirred_rpm`
    bowl_mass_still_w_per_k: float = 2.3  # own engineering value: conduction, no stirring
    pot_room_w_per_k: float = 2.0  # own engineering value: bare pot in still air
    mass_air_w_per_k: float = 0.33  # own engineering value: the free surface of the chocolate
    water_surface_m2: float = 0.015  # own engineering value: the gap between bowl and pot
    air_m_per_s: float = 0.0  # own engineering value: no draught
    room_c: float = 20.0  # common practice, no source: 18 to 21 °C for chocolate work
    room_humidity: float = 0.5  # relative, 0 to 1; common practice, no source: below 0.5 to 0.6
    stirred_rpm: float = 30.0  # own engineering value: 0.5 rev/s with a paddle of 0.16 m
    stirred_per_s: float = 12.5  # own engineering value: shear rate at `stirred_rpm`, 1/s
    most_rpm: float = 120.0  # own engineering value: what the geared motor can
    spin_up_s: float = 1.0  # own engineering value: lag of a small geared motor
    bath_probe_lag_s: float = 5.0  # own engineering value: steel sleeve in water
    probe_step_k: float = 0.0625  # 1-wire digital thermometer at 12 bit (data sheet)
    probe_conversion_s: float = 0.75  # the same: longest conversion at 12 bit
    probe_noise_k: float = 0.02  # own engineering value: standard deviation
    shaft_pulses_per_rev: float = 4.0  # own engineering value: four magnets on the shaft
    shaft_patience_s: float = 1.5  # own engineering value: no pulse for so long reads 0 rpm
    load_noise: float = 0.01  # own engineering value: relative standard deviation


@dataclass(frozen=True, slots=True, kw_only=True)
class Filling:
    """What is in the bowl. Viscosity is meant for ratios, never for absolute values.

    Ring tests differ by 2 to 7 times between laboratories (Aeschlimann & Beckett 2000).
    """

    cool_j_per_kg_k: float  # specific heat at 15 to 40 °C
    warm_j_per_kg_k: float  # specific heat at 40 to 60 °C
    fat: float  # fraction of the mass that is cocoa butter or behaves like it; 0 for water
    shift_k: float  # by how much lower than in dark chocolate its fat melts
    yield_pa: float  # Casson yield value, melted at 40 °C
    plastic_pa_s: float  # Casson plastic viscosity, melted at 40 °C
    probe_lag_s: float  # of the bowl's thermometer in it
    stirrer_w: float  # stirrer load at `stirred_rpm`, 1.5 kg; chocolate: tempered, at 31.5 °C

    @property
    def latent_j_per_kg(self) -> float:
        """Heat that melts all the fat in 1 kg of it, J/kg."""
        return self.fat * COCOA_BUTTER_J_PER_KG


# Latent heat of cocoa butter: Chevalley 1970, in Beckett, Industrial Chocolate Manufacture and
# Use, 4th ed., p. 668.
COCOA_BUTTER_J_PER_KG = 157_000.0
# Specific heats of chocolate: Beckett, 4th ed., pp. 667-668.
CHOCOLATE_COOL_J_PER_KG_K = 1590.0
CHOCOLATE_WARM_J_PER_KG_K = 1670.0
# IAPWS: 4184 at 20 °C, 4181 at 50 °C; 0.1 % is no matter here.
WATER_J_PER_KG_K = 4180.0

DARK = Filling(
    cool_j_per_kg_k=CHOCOLATE_COOL_J_PER_KG_K,
    warm_j_per_kg_k=CHOCOLATE_WARM_J_PER_KG_K,
    fat=0.35,  # dark chocolate: 0.26 to 0.43 (Banks 2012)
    shift_k=0.0,
    yield_pa=29.0,  # a published rheometer example for dark chocolate at 40 °C
    plastic_pa_s=6.06,  # the same
    probe_lag_s=15.0,  # own engineering value, not published
    stirrer_w=1.2,  # own engineering value, not published
)
MILK = Filling(
    cool_j_per_kg_k=CHOCOLATE_COOL_J_PER_KG_K,
    warm_j_per_kg_k=CHOCOLATE_WARM_J_PER_KG_K,
    fat=0.30,  # the milk chocolate of J. Rheol. 62:1187 (2018)
    shift_k=1.5,  # own engineering value: milk fat softens cocoa butter
    yield_pa=14.3,  # a published rheometer example for milk chocolate at 40 °C
    plastic_pa_s=1.86,  # the same
    probe_lag_s=15.0,  # own engineering value, not published
    stirrer_w=0.8,  # own engineering value, not published
)
WHITE = Filling(
    cool_j_per_kg_k=CHOCOLATE_COOL_J_PER_KG_K,
    warm_j_per_kg_k=CHOCOLATE_WARM_J_PER_KG_K,
    fat=0.33,  # white chocolate: 0.30 to 0.36 (from memory, not checked)
    shift_k=2.5,  # own engineering value: more milk fat than in milk chocolate
    yield_pa=9.3,  # the thinner published milk chocolate stands in for white
    plastic_pa_s=1.42,  # the same
    probe_lag_s=15.0,  # own engineering value, not published
    stirrer_w=0.7,  # own engineering value, not published
)
WATER = Filling(
    cool_j_per_kg_k=WATER_J_PER_KG_K,
    warm_j_per_kg_k=WATER_J_PER_KG_K,
    fat=0.0,
    shift_k=0.0,
    yield_pa=0.0,
    plastic_pa_s=0.001,  # water at 20 °C: 1.00 mPa s (from memory, not checked)
    probe_lag_s=5.0,  # own engineering value, not published
    stirrer_w=0.02,  # own engineering value, not published
)
FILLINGS = {Kind.DARK: DARK, Kind.MILK: MILK, Kind.WHITE: WHITE, Kind.WATER: WATER}

REFERENCE = Parameters()
BRISK = Parameters(  # a wide, thin bowl with a good scraper: 15 W/K from bath to chocolate
    bath_bowl_w_per_k=70.8,  # own engineering value, not published
    bowl_mass_stirred_w_per_k=19.03,  # own engineering value, not published
    bowl_mass_still_w_per_k=5.6,  # own engineering value, not published
    pot_room_w_per_k=2.5,  # own engineering value: 3 W/K of loss in all, with the surface below
    mass_air_w_per_k=0.5,  # own engineering value, not published
    water_surface_m2=0.03,  # own engineering value, not published
)
MACHINES = {"reference": REFERENCE, "brisk": BRISK}


def machine_named(name: str) -> Parameters:
    """The parameters of the bench with this name.

    Raises:
        ValueError: No bench has this name; the sentence lists those that there are.
    """
    if name not in MACHINES:
        known = ", ".join(f'"{each}"' for each in MACHINES)
        raise ValueError(f'The bench has no machine "{name}"; write one of {known}.')
    return MACHINES[name]
