"""Machines drawn at random, each by a seed and a number, and what its owner believes of it.

Responsible for the draws and for the owner's errors; not for the ranges, which stand beside the
defaults (parameters). The same seed and number give the same machine on every build, and a new row
in the table leaves all other rows of all machines as they were.
"""

import re
from dataclasses import dataclass, replace
from random import Random
from typing import Any

from hardware.bench.parameters import Parameters
from hardware.bench.probes import PROBES
from hardware.bench.quantity import rows

NAME_PATTERN = "drawn-SEED-NUMBER"
NUMBER_MOST = 9_999_999_999  # of ten digits, as the pattern below takes them; seeds, too
_NAME = re.compile(r"drawn-(0|[1-9][0-9]{0,9})-([1-9][0-9]{0,9})")
# Errors of what an owner writes down: the study of random machines (own engineering values).
BATCH_OFF = 0.15
WATER_OFF = 0.12
HEATER_OFF = 0.10
VESSEL_OFF = 0.30
ROOM_OFF_K = 1.0  # own engineering value: a thermometer on the kitchen's wall
TOLD_LOSS_W_PER_K = 3.0  # nobody measures it: the study's nominal machine


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What the owner of a machine wrote into its file; all of it a little wrong."""

    batch_kg: float
    water_kg: float
    heater_w: float
    vessel_j_per_k: float  # pot and bowl
    loss_w_per_k: float
    room_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """One random machine."""

    name: str
    parameters: Parameters
    told: Told

    @property
    def batch_kg(self) -> float:
        """What is really in the bowl, seed to come included, kg."""
        return self.parameters.batch_kg


def _chance(seed: int, number: int, word: str) -> Random:
    """A stream of chance for one thing of one machine."""
    return Random(f"machine/{seed}/{number}/{word}")  # noqa: S311 - no cryptography


def draw(seed: int, number: int) -> Drawn:
    """The machine with this number, from 1, of the sequence with this seed.

    Raises:
        ValueError: There is no such number.
    """
    if number < 1 or seed < 0:
        raise ValueError(f"There is no machine {number} of seed {seed}; numbers begin at 1.")
    values: dict[str, Any] = {}
    for row in rows(Parameters):
        if row.is_drawn:
            part = _chance(seed, number, row.together or row.name).random()
            values[row.name] = row.low + part * (row.high - row.low)
    kind = _chance(seed, number, "thermometers").choice(tuple(PROBES))
    values |= dict.fromkeys(("bath_probe", "bowl_probe", "guard_probe"), kind)
    parameters = replace(Parameters(), **values)
    return Drawn(
        name=f"drawn-{seed}-{number}",
        parameters=parameters,
        told=_told(parameters, _chance(seed, number, "told")),
    )


def _told(parameters: Parameters, chance: Random) -> Told:
    """What the owner believes, each number off by up to its error."""

    def off(share: float) -> float:
        return 1.0 + chance.uniform(-share, share)

    vessel_j_per_k = parameters.pot_j_per_k + parameters.bowl_j_per_k
    return Told(
        batch_kg=round(parameters.batch_kg * off(BATCH_OFF), 3),
        water_kg=round(parameters.water_kg * off(WATER_OFF), 2),
        heater_w=round(parameters.heater_w * off(HEATER_OFF)),
        vessel_j_per_k=round(vessel_j_per_k * off(VESSEL_OFF)),
        loss_w_per_k=TOLD_LOSS_W_PER_K,
        room_c=round(parameters.room_c + chance.uniform(-ROOM_OFF_K, ROOM_OFF_K), 1),
    )


def drawn_named(name: str) -> Drawn | None:
    """The machine that a name like `drawn-1-17` means; None if it is no such name."""
    match = _NAME.fullmatch(name)
    return None if match is None else draw(int(match[1]), int(match[2]))
