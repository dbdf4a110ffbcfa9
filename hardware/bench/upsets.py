"""What faults do: to a state, to a reading, to the plant.

Responsible for the deeds that the table of faults names; not for which faults there are (faults).
Numbers without a source beside them are own engineering values, not published.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum, auto
from random import Random

from controller.ports import Fault, Reading, missing, replace
from hardware.bench.plant import Plant

BROKEN_C = (-127.0, 120.0)  # what drivers report for a lost sensor, and a short in a bridge
JUMP_K = 10.0  # a slack contact, each reading somewhere else
CREEP_S = 600.0  # a drift takes ten minutes to come to its size
AIR_LAG_S = 60.0  # a steel sleeve in still air is slow
CHATTER = 0.5  # the chance that a chattering contact is closed
WET_BAD = 0.15  # the chance that a reading through a wet plug fails its checksum
WET_OFF = 0.05  # and that it passes, and is off by up to `JUMP_K`
BOILING_C = 100.0
LEFT_OF_LUMP = 0.5  # a wedged lump gives way once so little of it is left
POURED_C = 45.0  # melted chocolate from another pot
TAP_C = 15.0  # cold water from the tap, as the shipped profiles ask for


class Part(StrEnum):
    """What a fault sits in."""

    # In the machine
    RELAY = auto()
    SECOND_SWITCH = auto()
    MAINS = auto()
    ELEMENT = auto()
    STIRRER = auto()
    BATH = auto()
    BOWL = auto()
    # In its sensors
    BATH_PROBE = auto()
    BOWL_PROBE = auto()
    GUARD_PROBE = auto()
    LEVEL = auto()
    SHAFT = auto()
    LOAD = auto()
    MAINS_LIVE = auto()
    CURRENT = auto()
    LID = auto()
    STOP = auto()
    # In the cook
    FILLING = auto()
    BATCH = auto()
    SEEDING = auto()
    SWAPPING = auto()
    ANSWERING = auto()
    CHOOSING = auto()
    # In the computer, and around it
    COMPUTER = auto()
    CLOCK = auto()
    SLEEP = auto()
    TICK = auto()
    DISK = auto()
    MEMORY = auto()
    BROKER = auto()
    INBOX = auto()


@dataclass(slots=True, kw_only=True)
class Scene:
    """What faults are put into."""

    plant: Plant
    batch_kg: float
    seed: int
    told_rpm: float = 0.0  # what the stirrer's motor was last told

    def random(self, name: str) -> Random:
        """A stream of chance of its own for each name, the same for the same seed."""
        return Random(f"{self.seed}/{name}")  # noqa: S311 - noise, not cryptography


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """The last reading that a probe gave before it broke, and when."""

    reading: Reading
    at_s: float


Alter = Callable[[float, float], float]  # what would be, at which moment in s: what is
Distort = Callable[[Reading, Held, float, Random], Reading]


@dataclass(frozen=True, slots=True, kw_only=True)
class Upset:
    """A fault at work in one part. What it has done to the plant at once, it has done."""

    alters: Alter | None = None
    distorts: Distort | None = None
    ends: Callable[[], None] | None = None


Deed = Callable[[Scene, float], Upset]  # by the size of the fault, 0 for one that has none


# States that are forced or shifted


def forced(value: float) -> Deed:
    """The part is in this state, whatever it is told."""
    return lambda _scene, _size: Upset(alters=lambda _would, _now_s: value)


def scaled(_scene: Scene, size: float) -> Upset:
    """The part gives so many times what it should."""
    return Upset(alters=lambda would, _now_s: would * size)


def added(_scene: Scene, size: float) -> Upset:
    """So much comes on top."""
    return Upset(alters=lambda would, _now_s: would + size)


def taken(_scene: Scene, size: float) -> Upset:
    """So much is missing."""
    return Upset(alters=lambda would, _now_s: would - size)


def turned(_scene: Scene, _size: float) -> Upset:
    """The wrong way round."""
    return Upset(alters=lambda would, _now_s: -would)


def chattering(scene: Scene, _size: float) -> Upset:
    """Closed or open by chance while it is told to be closed."""
    chance = scene.random("chatter")
    return Upset(alters=lambda would, _now_s: would * float(chance.random() < CHATTER))


def as_told(scene: Scene, _size: float) -> Upset:
    """The motor's speed, whatever the paddle does."""
    return Upset(alters=lambda _would, _now_s: scene.told_rpm)


def before_the_run(_scene: Scene, _size: float) -> Upset:
    """Nothing more: it was done when the bowl was filled."""
    return Upset()


# What a thermometer's tip is at


def offset(_scene: Scene, size: float) -> Upset:
    """Off by so much from one moment to the next, K."""
    return Upset(alters=lambda would, _now_s: would + size)


def drifting(_scene: Scene, size: float) -> Upset:
    """Creeps away by so much, K."""
    began_s: list[float] = []

    def alter(would: float, now_s: float) -> float:
        began_s.append(now_s) if not began_s else None
        return would + size * min(1.0, (now_s - began_s[0]) / CREEP_S)

    return Upset(alters=alter)


class Following:
    """Follows a temperature with a lag of its own."""

    def __init__(self, lag_s: float) -> None:
        """Not yet at anything; the first value is taken as it is."""
        self._lag_s = lag_s
        self._at: tuple[float, float] | None = None

    def __call__(self, towards_c: float, now_s: float, begin_c: float | None = None) -> float:
        """Where it is at `now_s`, having made for `towards_c` since the last call."""
        before_c, before_s = self._at or (towards_c if begin_c is None else begin_c, now_s)
        left = math.exp(-max(0.0, now_s - before_s) / self._lag_s)
        here_c = towards_c + (before_c - towards_c) * left
        self._at = (here_c, now_s)
        return here_c


def slow(_scene: Scene, size: float) -> Upset:
    """A bad contact with what it measures: it follows so much later, s."""
    return Upset(alters=Following(size))


def in_the_air(scene: Scene, _size: float) -> Upset:
    """It hangs in the air of the room."""
    following = Following(AIR_LAG_S)
    return Upset(alters=lambda would, now_s: following(scene.plant.room_c, now_s, would))


def in_the_bowl(scene: Scene, _size: float) -> Upset:
    """It stands in the bowl instead of the bath."""
    return Upset(alters=lambda _would, _now_s: scene.plant.bowl_probe_c(0.0))


def at_the_wall(scene: Scene, _size: float) -> Upset:
    """It touches the wall of the bowl."""
    return Upset(alters=lambda _would, _now_s: scene.plant.bowl_wall_c)


def in_the_bath(scene: Scene, _size: float) -> Upset:
    """It hangs in the bath instead of the bowl."""
    return Upset(alters=lambda _would, _now_s: scene.plant.bath_probe_c(0.0))


# What becomes of a reading


def gone(fault: Fault) -> Deed:
    """No value comes, and this is why."""
    return lambda _scene, _size: Upset(
        distorts=lambda _fresh, _held, _now_s, _random: missing(fault)
    )


def frozen(_scene: Scene, _size: float) -> Upset:
    """The last value again and again, looking fresh."""
    return Upset(distorts=lambda _fresh, held, _now_s, _random: held.reading)


def _stale(_fresh: Reading, held: Held, now_s: float, _random: Random) -> Reading:
    return replace(held.reading, age_s=held.reading.age_s + now_s - held.at_s)


def stale(_scene: Scene, _size: float) -> Upset:
    """The last value, growing old."""
    return Upset(distorts=_stale)


def _out_of_range(fresh: Reading, _held: Held, _now_s: float, random: Random) -> Reading:
    return replace(fresh, value=random.choice(BROKEN_C))


def out_of_range(_scene: Scene, _size: float) -> Upset:
    """What no kitchen has."""
    return Upset(distorts=_out_of_range)


def _jumping(fresh: Reading, _held: Held, _now_s: float, random: Random) -> Reading:
    return replace(fresh, value=fresh.value + random.uniform(-JUMP_K, JUMP_K))


def jumping(_scene: Scene, _size: float) -> Upset:
    """Each reading somewhere else."""
    return Upset(distorts=_jumping)


def _not_a_number(fresh: Reading, _held: Held, _now_s: float, _random: Random) -> Reading:
    return replace(fresh, value=math.nan)


def not_a_number(_scene: Scene, _size: float) -> Upset:
    """A value that is none, without a word of warning."""
    return Upset(distorts=_not_a_number)


def intermittent(_scene: Scene, size: float) -> Upset:
    """This share of all readings does not come."""

    def distort(fresh: Reading, _held: Held, _now_s: float, random: Random) -> Reading:
        return missing(Fault.NO_ANSWER) if random.random() < size else fresh

    return Upset(distorts=distort)


def _wet(fresh: Reading, _held: Held, _now_s: float, random: Random) -> Reading:
    chance = random.random()
    if chance < WET_BAD:
        return missing(Fault.CHECKSUM)
    if chance < WET_BAD + WET_OFF:
        return replace(fresh, value=fresh.value + random.uniform(-JUMP_K, JUMP_K))
    return fresh


def wet(_scene: Scene, _size: float) -> Upset:
    """Water in the plug: some readings fail, some are off."""
    return Upset(distorts=_wet)


# What is done to the plant


def swapped(scene: Scene, size: float) -> Upset:
    """This share of the bath is suddenly water from the tap."""
    scene.plant.swap_water(share=size, water_c=TAP_C)
    return Upset()


def boiling(scene: Scene, size: float) -> Upset:
    """This share of the bath is suddenly boiling water."""
    scene.plant.swap_water(share=size, water_c=BOILING_C)
    return Upset()


def lost(scene: Scene, size: float) -> Upset:
    """This share of the water is gone."""
    scene.plant.spill(share=size)
    return Upset()


def left(scene: Scene, size: float) -> Upset:
    """Only this share of the water is there."""
    return lost(scene, 1.0 - size)


def lid_off(scene: Scene, _size: float) -> Upset:
    """The lid is off."""
    scene.plant.open_lid(open_=True)
    return Upset(ends=lambda: scene.plant.open_lid(open_=False))


def lifted(scene: Scene, _size: float) -> Upset:
    """The bowl is out of the bath."""
    scene.plant.lift_bowl(out=True)
    return Upset(ends=lambda: scene.plant.lift_bowl(out=False))


def splashed(scene: Scene, size: float) -> Upset:
    """So much water of the bath, kg, is in the bowl."""
    scene.plant.splash(size)
    return Upset()


def topped_up(scene: Scene, size: float) -> Upset:
    """So much more melted chocolate, kg, is in the bowl."""
    scene.plant.top_up(mass_kg=size, content_c=POURED_C)
    return Upset()


def wedged(scene: Scene, size: float) -> Upset:
    """A lump of set chocolate, kg, holds the stirrer until half of it has melted."""
    plant = scene.plant
    plant.add_seed(size)
    gives_way_kg = max(0.0, plant.solid_kg - LEFT_OF_LUMP * size)

    def alter(would: float, _now_s: float) -> float:
        return would if plant.solid_kg <= gives_way_kg else 0.0

    return Upset(alters=alter)


def seeded_early(scene: Scene, size: float) -> Upset:
    """This share of the batch is put in now as seed, and none when it is asked for."""
    scene.plant.add_seed(size * scene.batch_kg)
    return Upset(alters=lambda _would, _now_s: 0.0)
