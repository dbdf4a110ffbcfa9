"""The bench's machines by name: those with a name of their own, and those drawn at random.

Responsible for which machines there are and in what they differ from the reference; not for what
their owner believes of them (machines/*.toml). To add one, add its row here and its file there.
"""

from hardware.bench.draws import NAME_PATTERN, drawn_named
from hardware.bench.parameters import Parameters

# What differs is our own engineering value, not published, unless said otherwise.
REFERENCE = Parameters()
BRISK = Parameters(  # a wide, thin bowl with a good scraper: 15 W/K from bath to chocolate
    bath_bowl_w_per_k=70.8,
    bowl_mass_stirred_w_per_k=19.03,
    bowl_mass_still_w_per_k=5.6,
    pot_room_w_per_k=2.5,  # 3 W/K of loss in all, with the surface below
    mass_air_w_per_k=0.5,
    water_surface_m2=0.03,
)
SMALL = Parameters(  # for two dozen truffles: little of everything, a paddle without a scraper
    batch_kg=0.5,
    water_kg=1.5,
    heater_w=300.0,
    pot_j_per_k=250.0,
    bowl_j_per_k=160.0,
    bath_bowl_w_per_k=32.0,
    bowl_mass_stirred_w_per_k=9.0,
    bowl_mass_still_w_per_k=2.6,
    scraped=0.0,
    film_share=0.02,
    pot_room_w_per_k=1.5,
    mass_air_w_per_k=0.2,
    water_surface_m2=0.01,
)
LARGE = Parameters(  # for a shop's counter: 14 W/K on twice the mass, thermometers of platinum
    batch_kg=3.0,
    water_kg=6.0,
    heater_w=1000.0,
    pot_j_per_k=800.0,
    bowl_j_per_k=600.0,
    bath_bowl_w_per_k=66.0,
    bowl_mass_stirred_w_per_k=17.8,
    bowl_mass_still_w_per_k=5.2,
    pot_room_w_per_k=3.5,
    mass_air_w_per_k=0.6,
    water_surface_m2=0.03,
    bath_probe="pt100",
    bowl_probe="pt100",
    guard_probe="pt100",
)
WEAK_HEATER = Parameters(heater_w=200.0)  # a flask warmer under the pot
MECHANICAL_RELAY = Parameters()  # what differs is in its file: long shortest times
HOT_ROOM = Parameters(room_c=28.0, room_humidity=0.6)  # a summer's kitchen: cools only by water

MACHINES = {
    "reference": REFERENCE,
    "brisk": BRISK,
    "small": SMALL,
    "large": LARGE,
    "weak-heater": WEAK_HEATER,
    "mechanical-relay": MECHANICAL_RELAY,
    "hot-room": HOT_ROOM,
}


def machine_named(name: str) -> Parameters:
    """The parameters of the bench with this name, or of the one drawn by its seed and number.

    Raises:
        ValueError: No bench has this name; the sentence lists those that there are.
    """
    if name in MACHINES:
        return MACHINES[name]
    drawn = drawn_named(name)
    if drawn is None:
        known = ", ".join(f'"{each}"' for each in MACHINES)
        raise ValueError(
            f'The bench has no machine "{name}"; write one of {known}, or {NAME_PATTERN}.'
        )
    return drawn.parameters
