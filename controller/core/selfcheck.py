"""The controller checked against itself: limits kept twice, two clocks compared.

Responsible for saying whether the program's own ground still holds (informed by the self-tests of
IEC 60730-1 Annex H; no conformity is claimed); not for what follows from it (interlocks).
"""

from msgspec import Struct

from controller.core import thresholds as th
from controller.core.machine import BATH_CEILING_C, BOWL_CEILING_C, Machine
from controller.core.profile import Profile

Numbers = tuple[float, ...]


class Seal(Struct, frozen=True):
    """Every limit of a run in °C, and its reciprocal: no fault changes both alike."""

    values: tuple[Numbers, ...]  # one tuple a phase
    reciprocals: tuple[Numbers, ...]


_reciprocal = (1.0).__truediv__


def _limits(profile: Profile, machine: Machine, phase: int) -> Numbers:
    leg = profile.phases[phase]
    return (
        leg.bath_cut_c,
        leg.bath_ceiling_c,
        profile.bath_never_above_c,
        profile.bowl_never_above_c,
        machine.bath_max_c,
        machine.bowl_max_c,
        BATH_CEILING_C,
        BOWL_CEILING_C,
    )


def seal(profile: Profile, machine: Machine) -> Seal:
    """Keep the limits of a run twice, as it begins."""
    values = tuple(_limits(profile, machine, phase) for phase in range(len(profile.phases)))
    return Seal(values, tuple(tuple(map(_reciprocal, numbers)) for numbers in values))


def is_intact(sealed: Seal, profile: Profile, machine: Machine, phase: int) -> bool:
    """Whether the limits in force are still the sealed ones, and both copies still agree."""
    values = sealed.values[phase]
    return values == _limits(profile, machine, phase) and sealed.reciprocals[phase] == tuple(
        map(_reciprocal, values)
    )


class ClockMemory(Struct, frozen=True):
    """How far the second clock has run ahead of the first within the present window."""

    window_s: float = 0.0
    ahead_s: float = 0.0


def compare_clocks(memory: ClockMemory, dt_s: float, ahead_s: float) -> ClockMemory:
    """Add one tick of `dt_s`, which was longer by `ahead_s` on the second clock.

    The second clock goes on while a machine is suspended; the loop's own does not. A window begins
    where they part, or a sleep at the end of one would be forgotten before anybody is told.
    """
    if memory.window_s >= th.CLOCK_WINDOW_S:
        return ClockMemory(dt_s, ahead_s)
    together_s = memory.ahead_s + ahead_s
    is_parting = abs(together_s) > th.CLOCK_AHEAD_S >= abs(memory.ahead_s)
    return ClockMemory(0.0 if is_parting else memory.window_s + dt_s, together_s)
