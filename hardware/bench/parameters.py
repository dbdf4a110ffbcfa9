"""What the benches are made of: sizes, conductances, thermometers, and what lies in the bowl.

Responsible for every physical number in which machines differ, its source and its range; not for
the laws between them.
"""

from dataclasses import dataclass, replace

from controller.ports import Kind
from hardware.bench.quantity import quantity

OWN = "own engineering value, not published"
STUDY = "own engineering value; range: the project's study of random machines, widened"
PRACTICE = "common practice, no source"


@dataclass(frozen=True, slots=True, kw_only=True)
class Parameters:
    """One machine, lumped. The defaults are the slow end of home-built machines.

    The conductances from bath to bowl and from bowl to chocolate, in series, make 6.2 W/K.
    """

    # Heater
    heater_w: float = quantity(
        500.0, "W", f"small immersion heater; {STUDY}", drawn=(300.0, 1000.0)
    )
    heater_lag_s: float = quantity(20.0, "s", f"element's sheath; {STUDY}", drawn=(10.0, 30.0))
    element_j_per_k: float = quantity(60.0, "J/K", f"0.1 kg of steel and magnesia; {OWN}")
    element_pot_w_per_k: float = quantity(1.6, "W/K", f"dry element to the pot, glowing; {OWN}")
    element_air_w_per_k: float = quantity(0.1, "W/K", f"dry element to the room; {OWN}")
    element_covered_from: float = quantity(0.55, "1", f"level at which it is all covered; {OWN}")
    element_dry_from: float = quantity(0.35, "1", f"level at which it is all dry; {OWN}")
    # Bath. A level is 1 with the nominal water in the pot and the bowl in the water.
    water_kg: float = quantity(
        3.0, "kg", f"a pot of 4 L, three quarters full; {STUDY}", drawn=(1.5, 5.0)
    )
    pot_j_per_k: float = quantity(
        400.0, "J/K", f"0.8 kg of steel at 0.5 kJ/(kg K); {STUDY}", drawn=(250.0, 700.0)
    )
    pot_holds: float = quantity(1.25, "1", f"level at which it runs over; {OWN}")
    bowl_displaces: float = quantity(0.25, "1", f"part of the level that is the bowl's; {OWN}")
    bowl_wet_from: float = quantity(0.9, "1", f"level at which the bowl is well under; {OWN}")
    bowl_dry_from: float = quantity(0.35, "1", f"level at which the bowl hangs in air; {OWN}")
    pot_room_w_per_k: float = quantity(
        2.0, "W/K", f"bare pot in still air; {STUDY}", drawn=(1.5, 4.0)
    )
    water_surface_m2: float = quantity(
        0.015, "m²", f"the gap between bowl and pot, lid on; {STUDY}", drawn=(0.0, 0.05)
    )
    lid_off_surface: float = quantity(3.0, "1", f"so much more surface without the lid; {OWN}")
    air_m_per_s: float = quantity(0.0, "m/s", f"no draught; {OWN}", drawn=(0.0, 0.3))
    quiet_share: float = quantity(
        0.0, "1", f"part of the water that lies apart, below the element, and hardly mixes; {OWN}"
    )
    quiet_w_per_k: float = quantity(8.0, "W/K", f"between it and all other water; {OWN}")
    # Cooling output, where one is fitted
    pump_w_per_k: float = quantity(70.0, "W/K", f"1 kg of water a minute; {OWN}")
    pump_water_c: float = quantity(15.0, "°C", f"a tap that has run a while, in summer; {OWN}")
    fan_w_per_k: float = quantity(12.0, "W/K", f"a fan on the bare pot; {OWN}")
    # Bowl
    batch_kg: float = quantity(1.5, "kg", STUDY, drawn=(0.3, 3.0))
    bowl_j_per_k: float = quantity(300.0, "J/K", f"0.6 kg of steel; {STUDY}", drawn=(150.0, 700.0))
    bath_bowl_w_per_k: float = quantity(
        29.0,
        "W/K",
        f"still water on the bowl's outside; {STUDY}: 6 to 25 W/K with the next one",
        drawn=(28.0, 118.0),
        together="coupling",
    )
    bowl_mass_stirred_w_per_k: float = quantity(
        7.8, "W/K", f"at `stirred_rpm`; {STUDY}", drawn=(7.6, 32.0), together="coupling"
    )
    bowl_mass_still_w_per_k: float = quantity(
        2.3, "W/K", f"conduction, no stirring; {OWN}", drawn=(2.2, 9.0), together="coupling"
    )
    scraped: float = quantity(1.0, "1", f"1: a scraper takes the film off the wall; {OWN}")
    film_w_per_k: float = quantity(
        25.0, "W/K", f"unscraped film, 0.6 mm at 0.26 W/(m K) on 0.06 m²; {OWN}", drawn=(15.0, 60.0)
    )
    film_scraped: float = quantity(0.15, "1", f"film between core (0) and wall (1); {OWN}")
    film_left: float = quantity(0.7, "1", f"the same, standing or not scraped; {OWN}")
    film_share: float = quantity(
        0.0, "1", f"part of the content that reacts at the film's temperature; {OWN}"
    )
    mass_air_w_per_k: float = quantity(
        0.33, "W/K", f"free surface of the chocolate, lid on; {OWN}", drawn=(0.2, 0.8)
    )
    lid_off_air: float = quantity(2.0, "1", f"so much more loss without the lid; {OWN}")
    bowl_air_w_per_k: float = quantity(0.4, "W/K", f"bowl lifted out, in still air; {OWN}")
    # Room
    room_c: float = quantity(
        20.0, "°C", f"{PRACTICE}: 18 to 21 °C for chocolate work", drawn=(15.0, 28.0)
    )
    room_humidity: float = quantity(
        0.5, "1", f"relative; {PRACTICE}: below 0.5 to 0.6", drawn=(0.3, 0.7)
    )
    room_swing_k: float = quantity(
        0.0, "K", f"half of what a thermostat swings; {OWN}", drawn=(0.0, 1.0)
    )
    room_swing_s: float = quantity(
        2400.0, "s", f"period of the swing; {OWN}", drawn=(1200.0, 5400.0)
    )
    room_k_per_h: float = quantity(
        0.0, "K/h", f"the day's drift, for three hours; {OWN}", drawn=(-0.7, 1.0)
    )
    # Chocolate, against the tables of fillings
    heat_ratio: float = quantity(
        1.0, "1", "study: 1550 to 2000 J/(kg K) over the table's 1590", drawn=(0.975, 1.258)
    )
    latent_ratio: float = quantity(
        1.0, "1", "study: 40 to 48 kJ/kg over the table's 46", drawn=(0.87, 1.044)
    )
    softer_k: float = quantity(
        0.0, "K", f"melts so much lower than the table says; {OWN}", drawn=(-1.0, 1.0)
    )
    # Seed
    chopped_w_per_kg_k: float = quantity(
        120.0,
        "W/(kg K)",
        f"surface conductance of pieces of some 4 mm, stirred; {OWN}",
        drawn=(30.0, 250.0),
    )
    chopped_still: float = quantity(0.3, "1", f"part of it, and of dispersal, at rest; {OWN}")
    disperses_per_k_s: float = quantity(
        0.01, "1/(K s)", f"softened pieces come apart, per kelvin above softening; {OWN}"
    )
    lumps_block_from: float = quantity(
        0.4, "1", f"share of unmelted lumps that holds the stirrer; {OWN}"
    )
    # Stirrer
    stirred_rpm: float = quantity(30.0, "rpm", f"0.5 rev/s with a paddle of 0.16 m; {OWN}")
    stirred_per_s: float = quantity(
        12.5, "1/s", f"shear rate at `stirred_rpm`; {OWN}", drawn=(9.0, 18.0)
    )
    most_rpm: float = quantity(120.0, "rpm", f"what the geared motor can; {OWN}")
    most_load_w: float = quantity(60.0, "W", f"more at the shaft and the motor stalls; {OWN}")
    spin_up_s: float = quantity(1.0, "s", f"lag of a small geared motor; {OWN}")
    backwards: float = quantity(0.5, "1", f"part of its stirring when turned the wrong way; {OWN}")
    shaft_pulses_per_rev: float = quantity(4.0, "1", f"four magnets on the shaft; {OWN}")
    shaft_patience_s: float = quantity(1.5, "s", f"no pulse for so long reads 0 rpm; {OWN}")
    load_noise: float = quantity(0.01, "1", f"relative standard deviation; {OWN}")
    # Thermometers: kinds are words of `probes.PROBES`
    bath_probe: str = "1-wire"
    bowl_probe: str = "1-wire"
    guard_probe: str = "1-wire"
    bath_probe_lag_s: float = quantity(
        5.0, "s", f"steel sleeve in water; {STUDY}", drawn=(4.0, 10.0)
    )
    bowl_probe_lag: float = quantity(
        1.0, "1", f"over the filling's own lag: 8 to 22 s in chocolate; {STUDY}", drawn=(0.55, 1.5)
    )
    bath_probe_at_element: float = quantity(
        0.0, "1", f"part of the element's excess that it sees; {OWN}", drawn=(0.0, 0.003)
    )
    guard_probe_at_element: float = quantity(
        0.0, "1", f"the same of the guard's own; {OWN}", drawn=(0.0, 0.003)
    )
    bowl_probe_at_film: float = quantity(
        0.0, "1", f"part of film over core that it sees; {OWN}", drawn=(0.0, 0.15)
    )
    bath_probe_off: float = quantity(
        0.0, "1", "offset as a share of its class, see probes", drawn=(-1.0, 1.0)
    )
    bowl_probe_off: float = quantity(
        0.0, "1", "offset as a share of its class, see probes", drawn=(-0.3, 0.3)
    )
    guard_probe_off: float = quantity(
        0.0, "1", "offset as a share of its class, see probes", drawn=(-1.0, 1.0)
    )


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
    latent_ratio: float = 1.0  # of a machine's own batch over the table's
    tempers: bool = True  # has an opinion in a set test

    @property
    def latent_j_per_kg(self) -> float:
        """Heat that melts all the fat in 1 kg of it, J/kg."""
        return self.fat * COCOA_BUTTER_J_PER_KG * self.latent_ratio

    def heat_j_per_kg(self, temp_c: float, solid: float) -> float:
        """Heat in 1 kg of it with a fraction of its fat solid, J/kg, from liquid at 0 °C."""
        warm_j = (self.warm_j_per_kg_k - self.cool_j_per_kg_k) * max(0.0, temp_c - WARM_FROM_C)
        return self.cool_j_per_kg_k * temp_c + warm_j - self.latent_j_per_kg * solid


WARM_FROM_C = 40.0  # where the tables of chocolate's specific heat change
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
    tempers=False,
)
# A coating's fat is another's: it melts in the same range, and crystals of it don't matter here.
COMPOUND = replace(MILK, shift_k=0.0, tempers=False)  # own engineering value, not published
FILLINGS = {
    Kind.DARK: DARK,
    Kind.MILK: MILK,
    Kind.WHITE: WHITE,
    Kind.COMPOUND: COMPOUND,
    Kind.WATER: WATER,
}
