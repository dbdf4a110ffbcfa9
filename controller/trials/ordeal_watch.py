"""What became of one fault: when it was seen, as what, and what it did to bath and bowl in truth.

Responsible for measuring and for what counts as harm; not for which cause is right (expectations).
Limits without a source beside them are own engineering values, not published.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

from controller.core.chocolate import form_v_melts_c
from controller.core.profile import Kind, Profile
from controller.core.state import EventName
from controller.ports import Moment
from controller.trials.ordeal_draws import Injection
from controller.wiring import Bench

SCALDS_C = 62.0  # a bath that no profile asks for
OVER_K = 1.0  # over the profile's own limit of the bowl
DRY_ELEMENT_C = 250.0  # of an element that is out of its water
LOOKS_ON_S = 300.0  # after a trip: what is in the element still comes
ENOUGH_S = 1800.0  # what nothing has seen by then is not seen
NONE = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """One injection and what came of it. Times are s after it, NaN for never."""

    fault: str
    size: float  # NaN: it has none
    phase: str
    after_s: float
    cause: str = NONE  # of the trip, else of the first inhibition or advice; empty: unseen
    told_s: float = math.nan  # the first alarm, advice included
    inhibited_s: float = math.nan
    trip_s: float = math.nan
    harm: str = NONE
    harm_s: float = math.nan
    is_heat_off: bool = False  # when the harm came, heat was inhibited or the run had tripped
    bath_max_c: float = math.nan
    bowl_max_c: float = math.nan
    crash: str = NONE


class Watch:
    """A teller that follows one fault from the tick after it came."""

    def __init__(self, bench: Bench, profile: Profile, true_s: Callable[[], float]) -> None:
        """Nothing has come yet; `true_s` is a clock that no fault bends."""
        self._plant, self._profile, self._true_s = bench.plant, profile, true_s
        self._melts_out_c = melts_out_c(profile.kind)
        self._last = len(profile.phases) - 1
        self._began_s = math.nan
        self._before: frozenset[str] = frozenset()
        self._cause = self._harm = NONE
        self._told_s = self._inhibited_s = self._trip_s = self._harm_s = math.nan
        self._is_heat_off = False
        self._bath_max_c = self._bowl_max_c = -math.inf

    def begin(self, withheld: tuple[str, ...] = ()) -> None:
        """A fault comes now; `withheld` is what kept heat off before."""
        self._began_s = self._true_s()
        self._before = frozenset(withheld)

    @property
    def is_over(self) -> bool:
        """Whether there is nothing more to see."""
        after_s = self._true_s() - self._began_s
        return after_s >= ENOUGH_S or after_s >= self._trip_s + LOOKS_ON_S

    def tell(self, moment: Moment) -> None:
        """Take in one tick."""
        if math.isnan(self._began_s):
            return
        after_s, state = self._true_s() - self._began_s, moment.state
        for event in moment.events:
            if event.name is EventName.ALARM_RAISED and math.isnan(self._told_s):
                self._told_s, self._cause = after_s, self._cause or str(event.facts["cause"])
        if state.withheld and math.isnan(self._inhibited_s):
            new = [cause for cause in state.withheld if cause not in self._before]
            if new:
                self._inhibited_s, self._cause = after_s, self._cause or new[0]
        if state.trips and math.isnan(self._trip_s):
            self._trip_s, self._cause = after_s, state.trips[0].cause
        self._bath_max_c = max(self._bath_max_c, self._plant.bath_c)
        self._bowl_max_c = max(self._bowl_max_c, self._plant.content_c)
        if not self._harm and (harm := self._harmed(state.progress.phase)):
            self._harm, self._harm_s = harm, after_s
            self._is_heat_off = bool(state.withheld or state.trips)

    def found(self, injection: Injection, crash: str = NONE) -> Found:
        """All of it."""
        return Found(
            fault=str(injection.fault),
            size=math.nan if injection.size is None else injection.size,
            phase=injection.phase,
            after_s=injection.after_s,
            cause=self._cause,
            told_s=self._told_s,
            inhibited_s=self._inhibited_s,
            trip_s=self._trip_s,
            harm=self._harm,
            harm_s=self._harm_s,
            is_heat_off=self._is_heat_off,
            bath_max_c=self._bath_max_c,
            bowl_max_c=self._bowl_max_c,
            crash=crash,
        )

    def _harmed(self, phase: int) -> str:
        """What harm is done now, in a word; by the true plant, never by what a probe shows."""
        plant = self._plant
        if plant.covered < 1.0 and plant.element_c > DRY_ELEMENT_C:
            return "dry"
        if plant.bath_c > SCALDS_C:
            return "scalding"
        if plant.content_c > self._profile.bowl_never_above_c + OVER_K:
            return "burnt"
        # Once the last phase is reached, there are crystals to lose.
        if phase == self._last and plant.content_c > self._melts_out_c:
            return "melted-out"
        return NONE


def melts_out_c(kind: Kind) -> float:
    """Where a tempered batch loses its crystals, °C; infinite where there are none."""
    no_crystals = kind in {Kind.COMPOUND, Kind.WATER}
    return math.inf if no_crystals else form_v_melts_c(kind)
