"""How much chocolate: coatings, shells, and the most that must be in the bowl at once.

Responsible for geometry and for the order of use; not for seed or heat (heat).
"""

import math
from collections.abc import Sequence
from itertools import accumulate

from msgspec import Struct

# Beckett, 3rd ed.: solid 1300 kg/m3, melted at 40 °C 1200.
SOLID_KG_PER_M3, MELTED_KG_PER_M3 = 1300.0, 1200.0
# Own engineering values, not published.
LOST_SHARE = 0.05  # of all that is used stays on bowl, stirrer and spatula
DIP_KG = 0.2  # must still be in the bowl for the last piece to be dipped
ROUND_KG = 0.01
LEAST_KG = 0.1  # less covers no thermometer


class Use(Struct, frozen=True, kw_only=True):
    """One thing that is made of the batch."""

    name: str
    takes_kg: float  # what leaves the bowl for good, all of them together
    needs_kg: float  # what must be in the bowl as it begins, so that it can be done
    count: int
    is_shell: bool = False


def coating(
    name: str, *, centre_kg: float, share: float, count: int, left_kg: float = DIP_KG
) -> Use:
    """Dipped pieces: `share` is the chocolate's part of the finished piece, 0 to 1."""
    takes_kg = count * centre_kg * share / (1.0 - share)
    return Use(name=name, takes_kg=takes_kg, needs_kg=takes_kg + left_kg, count=count)


def shells(name: str, *, cavity_m3: float, inside_m3: float, count: int, at_once: int = 1) -> Use:
    """Shells by filling a mould to the brim and pouring out, so many moulds at a time."""
    one_kg = (cavity_m3 - inside_m3) * SOLID_KG_PER_M3
    fill_kg = cavity_m3 * MELTED_KG_PER_M3
    needs_kg = max(
        done * one_kg + min(at_once, count - done) * fill_kg for done in range(0, count, at_once)
    )
    return Use(name=name, takes_kg=count * one_kg, needs_kg=needs_kg, count=count, is_shell=True)


def ellipsoid_m3(length_m: float, width_m: float) -> float:
    """A sphere, or an egg taken as an ellipsoid: a real egg is within a few per cent of it."""
    return math.pi / 6.0 * length_m * width_m**2


def cylinder_m3(width_m: float, height_m: float) -> float:
    """A cup."""
    return math.pi / 4.0 * width_m**2 * height_m


def peak_kg(uses: Sequence[Use]) -> float:
    """What the bowl must hold at first so that all can be done in this order, kg."""
    gone = accumulate((use.takes_kg for use in uses), initial=0.0)
    return max(before + use.needs_kg for before, use in zip(gone, uses, strict=False))


def best_order(uses: Sequence[Use]) -> tuple[Use, ...]:
    """The order with the least peak: first what gives most back to the bowl."""
    return tuple(sorted(uses, key=lambda use: use.takes_kg - use.needs_kg))


def batch_kg(uses: Sequence[Use]) -> float:
    """The batch for these in this order, with what is lost, rounded up to 10 g."""
    lost_kg = LOST_SHARE * sum(use.takes_kg for use in uses)
    rounded_kg = math.ceil((peak_kg(uses) + lost_kg) / ROUND_KG - 1e-9) * ROUND_KG
    return max(LEAST_KG, rounded_kg)
