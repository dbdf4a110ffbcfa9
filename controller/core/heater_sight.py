"""What is seen of the heater itself, held against what it was told: voltage and current.

Responsible for counting for how long they have disagreed; not for what is unsafe (heater_rows), nor
for the temperatures, by which a machine without these sensors is judged (evidence).
"""

from typing import Protocol

from msgspec import Struct

from controller.core import thresholds as th
from controller.core.machine import Machine
from controller.core.records import replace
from controller.core.signals import Quality, Readings

_GOOD = Quality.GOOD  # looking up a member of an enumeration takes longer than all the rest
_MOST_S = 1.0  # one look proves no more than this, however late it came


class HeaterSight(Struct, frozen=True, kw_only=True):
    """What came of the looks so far. Each time ends with the first look that shows it as told."""

    live_s: float = 0.0  # voltage behind the switches while the heater was told to be off
    dead_s: float = 0.0  # none while it was told to be on
    flowing_s: float = 0.0  # current while it was told to be off
    still_s: float = 0.0  # none while it was told to be on
    unlike_s: float = 0.0  # some, and not what its power takes
    share: float = 1.0  # of the current that its power takes, when last seen on
    blind_s: float = 0.0  # since what is fitted last gave a value


UNSEEN = HeaterSight()


class Told(Protocol):
    """What the heater was told in the tick before."""

    @property
    def on(self) -> bool:
        """To be on."""
        ...

    @property
    def held_s(self) -> float:
        """For how long it had been told so by then, s."""
        ...


def watched(
    sight: HeaterSight,
    machine: Machine,
    readings: Readings,
    dt_s: float,
    told: Told,
) -> HeaterSight:
    """Take one look at a heater that was `told` something until now."""
    if not (machine.has_mains or machine.has_current):
        return sight
    is_blind, by_s = False, min(dt_s, _MOST_S)
    live_s, dead_s = sight.live_s, sight.dead_s
    permit = readings.permit
    # What a guard said before it fell silent tells nothing of a heater that was told since.
    is_old = permit is not None and permit.age_s > th.GUARD_SILENT_S
    # A guard that withholds heat for a reason of its own does not show a heater to be dead.
    is_let = permit is None or (permit.heat and not is_old)
    if machine.has_mains:
        live = None if permit is None or is_old else permit.live
        is_blind = live is None
        # What was seen before the heater was told otherwise says nothing of how it obeys.
        is_since = permit is not None and permit.age_s < told.held_s + dt_s
        if is_since and live is not None and told.on:
            dead_s = 0.0 if live else dead_s + by_s * is_let
        elif is_since and live is not None:
            live_s = live_s + by_s if live else 0.0
    found = HeaterSight(live_s=live_s, dead_s=dead_s)
    if machine.has_current:
        share, age_s = _share(machine, readings)
        is_blind = is_blind or share is None
        fresh = None if age_s >= told.held_s + dt_s or (told.on and not is_let) else share
        found = _measured(sight, found, fresh, by_s, told_on=told.on)
    return replace(found, blind_s=sight.blind_s + dt_s) if is_blind else found


def _share(machine: Machine, readings: Readings) -> tuple[float | None, float]:
    """The current over what the element's power takes, None where it can't be had; and its age."""
    current = readings.current
    if current is None or current.quality is not _GOOD:
        return None, 0.0
    return current.value / machine.heater_a, current.age_s


def _measured(
    sight: HeaterSight, found: HeaterSight, share: float | None, by_s: float, *, told_on: bool
) -> HeaterSight:
    """The same with what the current says, where it was measured under what was told last."""
    flowing_s, still_s, unlike_s = sight.flowing_s, sight.still_s, sight.unlike_s
    seen = sight.share
    if share is not None and told_on:
        flows, seen = share > th.CURRENT_FLOWS, share
        is_like = not flows or th.CURRENT_LESS <= share <= th.CURRENT_MORE
        still_s = 0.0 if flows else still_s + by_s
        unlike_s = 0.0 if is_like else unlike_s + by_s
    elif share is not None:
        flowing_s = flowing_s + by_s if share > th.CURRENT_FLOWS else 0.0
    return replace(found, flowing_s=flowing_s, still_s=still_s, unlike_s=unlike_s, share=seen)
