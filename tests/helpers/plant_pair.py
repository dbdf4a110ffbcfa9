"""The bench's plant and its peer (plant_peer) through the same run, and how far they part.

Responsible for telling both the same things at the same moments; not for how far apart they may be.
"""

from collections.abc import Iterator
from typing import NamedTuple

from controller.ports import Kind
from hardware.bench.laws import LAWS
from hardware.bench.parameters import Parameters
from hardware.bench.plant import Plant
from tests.helpers import plant_peer
from tests.helpers.crystal_peers import PEERS
from tests.helpers.plant_peer import Machine, PlantPeer

DECIDES_EVERY_S = 20.0
SWAPPED_IN_C = 14.0


class Leg(NamedTuple):
    """A part of the run: a thermostat on the bath, until a time or a temperature is reached."""

    bath_c: float
    rpm: float
    most_s: float
    until_above_c: float = 99.0
    until_below_c: float = -99.0
    swap_first: float = 0.0  # share of the water
    seed_first_kg: float = 0.0


# Solid to tempered and an hour of work, as the trade goes (McGee 2004: melt 45 to 50, cool 28 to
# 29, work 31 to 32 °C); one run by the classic dip, one by seed.
CLASSIC = (
    Leg(60.0, 0.0, 7200.0, until_above_c=34.0),
    Leg(60.0, 30.0, 7200.0, until_above_c=49.0),
    Leg(51.0, 30.0, 300.0),
    Leg(0.0, 30.0, 7200.0, until_below_c=27.5, swap_first=0.9),
    Leg(28.0, 45.0, 420.0),
    Leg(33.0, 30.0, 1200.0, until_above_c=31.0),
    Leg(31.6, 30.0, 3600.0),
    Leg(31.6, 0.0, 600.0),
)
SEEDED = (
    Leg(60.0, 0.0, 7200.0, until_above_c=34.0),
    Leg(58.0, 30.0, 7200.0, until_above_c=47.0),
    Leg(0.0, 30.0, 7200.0, until_below_c=34.0, swap_first=0.8),
    Leg(31.0, 30.0, 1200.0, seed_first_kg=0.2),
    Leg(31.6, 30.0, 2400.0),
)


class Pair:
    """Plant and peer, told the same things at the same moments."""

    def __init__(
        self, law: str, kind: Kind = Kind.DARK, parameters: Parameters | None = None
    ) -> None:
        """Both cold; the reference machine, unless others are given."""
        self.law = LAWS[law](0.0)
        own = parameters or Parameters()
        self.heater_w = own.heater_w
        self.plant = Plant(parameters=own, kind=kind, mass_kg=1.5, room_c=own.room_c, law=LAWS[law])
        self.plant.advance(0.0)
        machine = Machine.like(own) if parameters else Machine()
        self.peer = PlantPeer(PEERS[law], kind, machine, home_c=own.room_c)
        self.now_s = 0.0

    def begin(self, leg: Leg) -> None:
        """Give the orders of a leg."""
        if leg.rpm != self.peer.rpm[0]:
            self.plant.stir(leg.rpm)
            self.peer.stir(leg.rpm, self.now_s)
        if leg.swap_first:
            self.plant.swap_water(share=leg.swap_first, water_c=SWAPPED_IN_C)
            self.peer.swap_water(leg.swap_first, SWAPPED_IN_C)
        if leg.seed_first_kg:
            share = leg.seed_first_kg / (1.5 + leg.seed_first_kg)
            memory = self.law.seeded(float(self.peer.x[plant_peer.MEMORY]), share)
            self.plant.add_seed(leg.seed_first_kg)
            self.peer.add_seed(leg.seed_first_kg, memory, self.now_s)

    def run(self, leg: Leg) -> Iterator[float]:
        """Follow a leg; at each decision how far apart the two are, K."""
        self.begin(leg)
        ends_s = self.now_s + leg.most_s
        while self.now_s < ends_s:
            if not leg.until_below_c < self.plant.content_c < leg.until_above_c:
                break
            power_w = self.heater_w if self.plant.bath_c < leg.bath_c else 0.0
            self.plant.heat(power_w)
            self.peer.power_w = power_w
            self.peer.advance(self.now_s, self.now_s + DECIDES_EVERY_S)
            self.now_s += DECIDES_EVERY_S
            self.plant.advance(self.now_s)
            yield self.apart_k()

    def apart_k(self) -> float:
        """The largest difference of any temperature."""
        plant, x = self.plant, self.peer.x
        pairs = [
            (plant.bath_c, plant_peer.BATH),
            (plant.bowl_wall_c, plant_peer.WALL),
            (plant.content_c, plant_peer.CORE),
            (plant.bath_probe_c(0.0), plant_peer.BATH_PROBE),
            (plant.guard_probe_c(0.0), plant_peer.GUARD_PROBE),
            (plant.bowl_probe_c(0.0), plant_peer.BOWL_PROBE),
        ]
        return max(abs(ours - float(x[place])) for ours, place in pairs)
