"""What a machine goes without: a thermometer, or the stirrer.

Responsible for the words of these modes; not for what stands in (stand_in) or how they are steered.
They are declared, by a machine file: a thermometer that is lost in a run is another matter, and
withholds heat (interlocks).
"""

from enum import StrEnum

from controller.core.machine import Machine
from controller.core.profile import Profile
from controller.core.records import replace


class Lack(StrEnum):
    """What a machine goes without, by the words of a machine file's `[fitted]`."""

    BATH_PROBE = "bath_probe"
    BOWL_PROBE = "bowl_probe"
    STIRRER = "stirrer"


MODES = {
    Lack.BATH_PROBE: "bowl probe only",
    Lack.BOWL_PROBE: "bath probe only",
    Lack.STIRRER: "no stirrer",
}
WHOLE = "whole"
UNSTIRRED_K = 0.5  # own engineering value, not published

_SENTENCES = {
    Lack.BATH_PROBE: (
        "No thermometer in the bath: it is led with care, which takes longer, and the bowl may go "
        "over its target by up to 1 K. A stuck relay and a heater that does not heat are seen by "
        "the guard's own thermometer, and by phases that take too long."
    ),
    Lack.BOWL_PROBE: (
        "No thermometer in the bowl: it is held through the bath, mostly within 1 K, more while "
        "chocolate sets. Nothing is claimed of when it is ready or whether it is in temper."
    ),
    Lack.STIRRER: (
        "No stirrer: the bowl takes longer, its bands are half a kelvin wider, its middle may "
        "differ from its wall, and nothing is claimed of its temper."
    ),
}


def lacks_of(machine: Machine) -> tuple[Lack, ...]:
    """What the machine goes without."""
    if machine.has_bath and machine.has_bowl and machine.has_stirrer:
        return ()
    fitted = (
        (Lack.BATH_PROBE, machine.has_bath),
        (Lack.BOWL_PROBE, machine.has_bowl),
        (Lack.STIRRER, machine.has_stirrer),
    )
    return tuple(lack for lack, is_fitted in fitted if not is_fitted)


def widened(profile: Profile, machine: Machine) -> Profile:
    """The profile for this machine: without a stirrer each phase has a wider band.

    Still chocolate takes so little from its bath that under the bath's ceiling it may end below
    its target for good.
    """
    if machine.has_stirrer:
        return profile
    phases = tuple(
        replace(phase, tolerance_k=phase.tolerance_k + UNSTIRRED_K) for phase in profile.phases
    )
    return replace(profile, phases=phases)


def mode_text(lacks: tuple[Lack, ...]) -> str:
    """The mode in a few words."""
    return ", ".join(MODES[lack] for lack in lacks) or WHOLE


def sentences(lacks: tuple[Lack, ...]) -> tuple[str, ...]:
    """What follows of it, for whoever is about to rely on the machine."""
    return tuple(_SENTENCES[lack] for lack in lacks)
