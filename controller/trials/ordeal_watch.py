"""What became of one fault: when it was seen, as what, and what it did to bath and bowl in truth.

Responsible for measuring and for what counts as harm; not for which cause is right (expectations).
Limits without a source beside them are own engineering values, not published.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

from controller.core.alarms import is_present
from controller.core.chocolate import form_v_melts_c
from controller.core.profile import Profile
from controller.core.state import EventName, Mode, State
from controller.files.crystals import coolest, crystals_from, tempers
from controller.ports import Moment
from controller.trials.ordeal_draws import Injection, Second
from controller.wiring import Bench, BenchFault

SCALDS_C = 62.0  # a bath that no profile asks for
OVER_K = 1.0  # over the profile's own limit of the bowl
DRY_ELEMENT_C = 250.0  # of an element that is out of its water
LOOKS_ON_S = 300.0  # after a trip: what is in the element still comes
ENOUGH_S = 1800.0  # what nothing has seen by then is not seen
# But a batch that is 5 K too cold sets in 25 to 60 min: one that is off its target is followed on.
OFF_K = 1.0
ENOUGH_OFF_S = 3600.0
# A batch in temper has 0.5 to 4 % of its fat in form V (from memory, not checked): from the least
# of it on there are crystals to lose.
TEMPERED_FROM = 0.005
# At the working temperature of any kind a fifth of the fat can hardly be solid (on the bench 13 to
# 21 % is what lasts there), and it makes a batch some hundred times thicker: it has set, colder
# than anybody meant it to be. Own engineering value.
SET_FROM = 0.2
NONE = ""
# What an input that fails so says of the voltage behind the switches, whatever there is.
SHOWN = {BenchFault.MAINS_LIVE_STUCK: True, BenchFault.MAINS_LIVE_DEAD: False}


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """One injection and what came of it. Times are s after it, NaN for never."""

    fault: str
    size: float  # NaN: it has none
    phase: str
    after_s: float
    leg: str  # what that phase does, see `leg_of`
    cause: str = NONE  # of the trip, else of the first inhibition or advice; empty: unseen
    said: Mapping[str, float] = field(default_factory=dict)  # when each cause was first told
    told_s: float = math.nan  # the first alarm, advice included
    inhibited_s: float = math.nan
    trip_s: float = math.nan
    tick_s: float = math.nan  # the first tick that came after it: some hold the computer up
    unlike_s: float = math.nan  # since when, by the first answer, the heater was not as told
    harm: str = NONE
    harm_s: float = math.nan
    # When the harm came, heat was inhibited or the run had tripped, and the heater truly had none.
    is_heat_off: bool = False
    bath_max_c: float = math.nan
    bowl_max_c: float = math.nan
    crash: str = NONE
    # Of two at a time the other one, if the first left it time to come; its moment is of the run.
    second: str = NONE
    second_size: float = math.nan
    second_phase: str = NONE
    second_after_s: float = math.nan
    second_leg: str = NONE


class Watch:
    """A teller that follows one fault from the tick after it came."""

    def __init__(self, bench: Bench, profile: Profile, true_s: Callable[[], float]) -> None:
        """Nothing has come yet; `true_s` is a clock that no fault bends."""
        self._plant, self._profile, self._true_s = bench.plant, profile, true_s
        self._crystals, self._last = _Crystals(profile), len(profile.phases) - 1
        self._began_s = math.nan
        self._before: frozenset[str] = frozenset()
        self._said: dict[str, float] = {}
        self._cause = self._harm = NONE
        self._told_s = self._inhibited_s = self._trip_s = self._harm_s = math.nan
        self._is_heat_off = self._is_off = False
        self._tick_s = self._unlike_s = math.nan
        self._shown: bool | None = None
        self._was_told = self._is_heated = False
        self._given_j = math.inf
        self._bath_max_c = self._bowl_max_c = -math.inf
        self._second: Second | None = None
        self._second_at = (NONE, math.nan)

    def begin(self, fault: BenchFault, withheld: tuple[str, ...] = ()) -> None:
        """A fault comes now; `withheld` is what kept heat off before."""
        self._began_s, self._shown = self._true_s(), SHOWN.get(fault)
        self._before = frozenset(withheld)

    def is_due(self, second: Second) -> bool:
        """Whether another fault is to come now: not after a trip, which has ended the run."""
        waits = self._second is None and math.isnan(self._trip_s)
        return waits and self._true_s() - self._began_s >= second.later_s

    def begin_second(self, second: Second, phase: str, after_s: float) -> None:
        """It comes now, so long after that phase began."""
        self._second, self._second_at = second, (phase, after_s)

    @property
    def is_over(self) -> bool:
        """Whether there is nothing more to see."""
        after_s = self._true_s() - self._began_s
        enough_s = ENOUGH_OFF_S if self._is_off else ENOUGH_S
        return after_s >= enough_s or after_s >= self._trip_s + LOOKS_ON_S

    def tell(self, moment: Moment) -> None:
        """Take in one tick."""
        plant = self._plant
        told, self._was_told = self._was_told, moment.heater_on
        self._is_heated, self._given_j = plant.element_on_j > self._given_j, plant.element_on_j
        phase = moment.state.progress.phase
        self._crystals.follow(phase, plant.form_v, plant.content_c)
        meant_c = self._profile.phases[min(phase, self._last)].bowl_target_c
        over_k = plant.content_c - meant_c
        may_set, may_melt = self._crystals.may_set, self._crystals.are_to_be
        self._is_off = (may_set and over_k < -OFF_K) or (may_melt and over_k > OFF_K)
        if math.isnan(self._began_s):
            return
        after_s, state = self._true_s() - self._began_s, moment.state
        self._time(told, after_s)
        self._hear(moment, after_s)
        self._bath_max_c = max(self._bath_max_c, plant.bath_c)
        self._bowl_max_c = max(self._bowl_max_c, plant.content_c)
        if not self._harm and (harm := self._harmed(state)):
            self._harm, self._harm_s = harm, after_s
            self._is_heat_off = bool(state.withheld or state.trips) and not self._is_heated
            # What stood there before the fault is raised no second time, yet it is told.
            for notice in filter(is_present, state.notices):
                self._said.setdefault(notice.cause, after_s)

    def _time(self, told: bool, after_s: float) -> None:
        """When the next tick came, and since when the heater has not been as it was `told`."""
        if math.isnan(self._tick_s):
            self._tick_s = after_s
        if not (math.isnan(self._inhibited_s) and math.isnan(self._trip_s)):
            return
        shown = self._is_heated if self._shown is None else self._shown
        if shown is told:
            self._unlike_s = math.nan
        elif math.isnan(self._unlike_s):
            self._unlike_s = after_s

    def _hear(self, moment: Moment, after_s: float) -> None:
        """What people are told in this tick, each cause by its first time.

        Heat that is withheld for less than an alarm takes to be raised is told to nobody.
        """
        state = moment.state
        alarms = [
            str(event.facts["cause"])
            for event in moment.events
            if event.name is EventName.ALARM_RAISED
        ]
        if alarms and math.isnan(self._told_s):
            self._told_s, self._cause = after_s, self._cause or alarms[0]
        is_new = any(cause not in self._before for cause in state.withheld)
        if is_new and math.isnan(self._inhibited_s):
            self._inhibited_s = after_s
        if state.trips and math.isnan(self._trip_s):
            self._trip_s, self._cause = after_s, state.trips[0].cause
        for cause in (*alarms, *(trip.cause for trip in state.trips)):
            self._said.setdefault(cause, after_s)

    def found(self, injection: Injection, crash: str = NONE) -> Found:
        """All of it."""
        found = Found(
            fault=str(injection.fault),
            size=math.nan if injection.size is None else injection.size,
            phase=injection.phase,
            after_s=injection.after_s,
            leg=leg_of(self._profile, injection.phase),
            cause=self._cause,
            said=dict(self._said),
            told_s=self._told_s,
            inhibited_s=self._inhibited_s,
            trip_s=self._trip_s,
            tick_s=self._tick_s,
            unlike_s=self._unlike_s,
            harm=self._harm,
            harm_s=self._harm_s,
            is_heat_off=self._is_heat_off,
            bath_max_c=self._bath_max_c,
            bowl_max_c=self._bowl_max_c,
            crash=crash,
        )
        second, (phase, after_s) = self._second, self._second_at
        if second is None:
            return found
        return replace(
            found,
            second=str(second.fault),
            second_size=math.nan if second.size is None else second.size,
            second_phase=phase,
            second_after_s=after_s,
            second_leg=leg_of(self._profile, phase),
        )

    def _harmed(self, state: State) -> str:
        """What harm is done now, in a word; by the true plant, never by what a probe shows."""
        plant, crystals = self._plant, self._crystals
        if plant.covered < 1.0 and plant.element_c > DRY_ELEMENT_C:
            return "dry"
        if plant.bath_c > SCALDS_C:
            return "scalding"
        if plant.content_c > self._profile.bowl_never_above_c + OVER_K:
            return "burnt"
        if crystals.are_to_be and plant.content_c > crystals.melt_c:
            return "melted-out"
        # Without heat it sets as it must: then the run does not go on unseen.
        goes_on = state.mode is Mode.RUNNING and not (state.withheld or state.trips)
        if goes_on and crystals.may_set and plant.form_v + plant.unstable > SET_FROM:
            return "set"
        return NONE


class _Crystals:
    """Whether the batch has crystals to lose; what a person has melted again has none."""

    def __init__(self, profile: Profile) -> None:
        self.melt_c = melts_out_c(profile)
        self.are_to_be = self.may_set = False
        self._from, self._coolest = crystals_from(profile), coolest(profile)

    def follow(self, phase: int, form_v: float, content_c: float) -> None:
        """Take in what is truly there in this tick.

        After the coolest phase the run relies on crystals, whether they came or not. Before, they
        are there once the plant has some below where they melt; while it comes down, it has none.
        """
        if self._from is None:
            return
        has_some = form_v >= TEMPERED_FROM and content_c <= self.melt_c
        self.may_set = phase >= self._from
        self.are_to_be = phase > self._coolest or (self.may_set and (self.are_to_be or has_some))


def melts_out_c(profile: Profile) -> float:
    """Where a batch that is to be in temper loses its crystals, °C; infinite for any other."""
    return form_v_melts_c(profile.kind) if tempers(profile) else math.inf


def leg_of(profile: Profile, name: str) -> str:
    """What a phase does, in a word: melt, cool, rewarm or hold, whatever a profile calls it.

    The first comes from the room; one without a way to go only holds.
    """
    index = [phase.name for phase in profile.phases].index(name)
    if index == 0:
        return "melt"
    phase, before = profile.phases[index], profile.phases[index - 1]
    way_k = phase.bowl_target_c - before.bowl_target_c
    if abs(way_k) <= phase.tolerance_k:
        return "hold"
    return "cool" if way_k < 0.0 else "rewarm"
