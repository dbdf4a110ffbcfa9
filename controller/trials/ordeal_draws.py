"""Which faults an ordeal tries on a machine, when, and what that machine is fitted with.

Responsible for the draws, the same for the same seed; not for trying them (ordeal).
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import permutations
from random import Random

from controller.core.profile import Profile
from controller.trials.faults import BEFORE_THE_RUN
from controller.trials.trial import FITTED
from controller.wiring import BenchFault, Part

DELAY_MOST_S = 600.0  # after its phase has begun, own choice
# What stands around a run instead of in it: it can't be broken in a copy of the run, and heat does
# not depend on it. Broker, disk and the computer's own end are tried by tests with real ones.
AROUND = {Part.DISK, Part.BROKER, Part.INBOX, Part.COMPUTER}
# A pressed button is a stop and no fault; what says what hands do sees no fault of a machine.
HANDS = {Part.STOP}
OF_HANDS = {"lid", "stop"}
SWITCH = "second-switch"
FITTINGS = "fittings"  # the column that says what a machine was fitted with
# What did harm or was seen late in ordeals of one fault at a time, and what blinds a sensor that
# would see such a one: these are tried two at a time.
WORST = (
    BenchFault.RELAY_WELDED,
    BenchFault.HEATER_DEAD,
    BenchFault.SECOND_SWITCH_WELDED,
    BenchFault.MAINS_LIVE_STUCK,
    BenchFault.CURRENT_FROZEN,
    BenchFault.LEVEL_STUCK,
    BenchFault.WATER_EMPTY,
    BenchFault.STIRRER_BLOCKED,
    BenchFault.BATH_PROBE_FROZEN,
    BenchFault.BATH_PROBE_DRIFT,
    BenchFault.BATH_PROBE_OUT,
    BenchFault.BATH_PROBE_SLOW,
    BenchFault.BOWL_PROBE_FROZEN,
    BenchFault.BOWL_PROBE_DRIFT,
    BenchFault.BOWL_PROBE_OFFSET,
    BenchFault.BOWL_PROBE_SLOW,
    BenchFault.BOWL_PROBE_OUT,
    BenchFault.GUARD_PROBE_FROZEN,
    BenchFault.GUARD_PROBE_OUT,
)
SECOND_MOST_S = 300.0  # after the first, own choice: later most first ones have ended the run


@dataclass(frozen=True, slots=True, kw_only=True)
class Injection:
    """One fault, its moment, and its size."""

    fault: BenchFault
    phase: str  # in which it comes; for what is there before the run, the first
    after_s: float
    size: float | None  # None: it has none
    second: "Second | None" = None  # None: it comes alone

    @property
    def is_before(self) -> bool:
        """Whether the fault is there before the run begins."""
        return bool(BEFORE_THE_RUN & set(self.fault.acts))


@dataclass(frozen=True, slots=True, kw_only=True)
class Second:
    """Another fault that comes while the first one stands."""

    fault: BenchFault
    later_s: float  # after the first
    size: float | None


def tried_faults() -> tuple[BenchFault, ...]:
    """All that an ordeal can try."""
    return tuple(fault for fault in BenchFault if not (AROUND | HANDS) & set(fault.acts))


def drawn_injections(
    seed: int, number: int, profile: Profile, count: int, only: Sequence[BenchFault] = ()
) -> tuple[Injection, ...]:
    """So many faults for the machine of that number, no two of them alike in fault and phase."""
    chance = _chance(seed, number, "faults")
    phases = [phase.name for phase in profile.phases]
    cells = [
        (fault, phase)
        for fault in only or tried_faults()
        for phase in (phases[:1] if BEFORE_THE_RUN & set(fault.acts) else phases)
    ]
    return tuple(
        _injection(fault, phase, chance)
        for fault, phase in chance.sample(cells, min(count, len(cells)))
    )


def drawn_pairs(
    seed: int, number: int, profile: Profile, count: int, only: Sequence[BenchFault] = ()
) -> tuple[Injection, ...]:
    """So many pairs of the worst faults for the machine of that number, no two of them alike.

    What must be there before the run is left out, since both are tried on a copy of it.
    """
    chance = _chance(seed, number, "pairs")
    phases = [phase.name for phase in profile.phases]
    faults = paired_faults(only)
    cells = [(*two, phase) for two in permutations(faults, 2) for phase in phases]
    return tuple(
        replace(_injection(first, phase, chance), second=_second(second, chance))
        for first, second, phase in chance.sample(cells, min(count, len(cells)))
    )


def paired_faults(only: Sequence[BenchFault] = ()) -> tuple[BenchFault, ...]:
    """Those of these, or else of the worst, that can come in the middle of a run."""
    return tuple(fault for fault in only or WORST if not BEFORE_THE_RUN & set(fault.acts))


def drawn_fittings(seed: int, number: int) -> tuple[str, ...]:
    """What the machine of that number is fitted with: each in one machine of two."""
    chance = _chance(seed, number, "fittings")
    known = (name for name in FITTED if name not in OF_HANDS)
    return tuple(name for name in known if chance.random() < 0.5)  # noqa: PLR2004 - a fair coin


def _injection(fault: BenchFault, phase: str, chance: Random) -> Injection:
    after_s = float(round(chance.uniform(1.0, DELAY_MOST_S)))
    return Injection(fault=fault, phase=phase, after_s=after_s, size=_size(fault, chance))


def _second(fault: BenchFault, chance: Random) -> Second:
    later_s = float(round(chance.uniform(1.0, SECOND_MOST_S)))
    return Second(fault=fault, later_s=later_s, size=_size(fault, chance))


def _size(fault: BenchFault, chance: Random) -> float | None:
    """Its usual size, or as far to the other side where there is one."""
    if fault.size is None:
        return None
    turned = -fault.size.usual
    return turned if chance.random() < 0.5 and turned >= fault.size.least else fault.size.usual  # noqa: PLR2004


def _chance(seed: int, number: int, what: str) -> Random:
    return Random(f"{seed}/{number}/{what}")  # noqa: S311 - a draw, not a secret
