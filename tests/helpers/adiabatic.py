"""A bowl that neither gives nor takes heat, and a fat that simply melts: for heat balances by hand.

Responsible for keeping the balance apart from any crystal law; not for either.
"""

from hardware.bench.crystals import Law, Rates, Shear
from hardware.bench.parameters import Parameters
from hardware.bench.plant import Plant

# Nothing passes between bath, bowl, content and room.
ALONE = Parameters(
    bath_bowl_w_per_k=0.0,
    bowl_mass_still_w_per_k=0.0,
    bowl_mass_stirred_w_per_k=0.0,
    mass_air_w_per_k=0.0,
)
# Chevalley 1970, in Beckett, 4th ed., p. 668: 46 kJ/kg of dark chocolate, of 157 per kg of fat.
SOLID_AT_20_C = 46.0 / (0.35 * 157.0)
SOLID_BELOW_C = 25.0
MELTS_PER_S = 1 / 20.0


def _shear(rate_per_s: float) -> Shear:
    return Shear(rate_per_s, 1.0)


def _solid(temp_c: float) -> tuple[float, float]:
    return 0.0, SOLID_AT_20_C if temp_c < SOLID_BELOW_C else 0.0


def _rates(temp_c: float, unstable: float, form_v: float, memory: float, sheared: Shear) -> Rates:  # noqa: ARG001 - the words of every law
    melting = MELTS_PER_S if temp_c >= SOLID_BELOW_C else 0.0
    return -melting * unstable, -melting * form_v, 0.0


def _seeded(memory: float, share: float) -> float:  # noqa: ARG001 - the words of every law
    return memory


def all_melts(shift_k: float) -> Law:  # noqa: ARG001 - the words of every law
    """No law of crystals at all: as much latent heat as the handbook has, and no growth."""
    return Law(_shear, _solid, _rates, _seeded)


class Bowl:
    """A plant with its own time."""

    def __init__(self, plant: Plant) -> None:
        """Begin."""
        self.plant = plant
        self.now_s = 0.0
        plant.advance(0.0)

    def wait(self, span_s: float) -> None:
        """Let it be."""
        self.now_s += span_s
        self.plant.advance(self.now_s)
