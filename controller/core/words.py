"""The run in plain words, for whoever looks at a phone with floury hands.

Responsible for sentences and for temperatures as a person reads them; not for where they go.
"""

import math
from collections.abc import Iterable

from controller.core.batches import TemperState
from controller.core.keeping import LONGEST_S
from controller.core.lacks import Lack
from controller.core.outlook import LIMIT_S, Obstacle, Outlook
from controller.core.profile import Phase, Profile, Verdict
from controller.core.reasons import fate, why
from controller.core.scales import in_fahrenheit
from controller.core.signals import STALE_AFTER_S
from controller.core.state import Alarm, Mode, Notice, State, Switches, Trip
from controller.core.tempering import Temper

_S_PER_MIN = 60.0
_S_PER_H = 3600.0
_G_PER_KG = 1000

DOING = {
    "melt": "Melting",
    "cool": "Cooling",
    "rewarm": "Warming again",
    "hold": "Holding",
}

AT_REST = {
    Mode.IDLE: "Nothing is running.",
    Mode.STOPPING: "Stopping: heat is off.",
    Mode.STOPPED: "Stopped: heat is off.",
    Mode.ABORTING: "Ending the run early: heat is off.",
    Mode.ABORTED: "The run ended early: heat is off.",
}

# Without a trip, what a stop button leads to.
_BY_BUTTON = frozenset({Mode.STOPPING, Mode.STOPPED})
_PRESSED = "The stop button is pressed: heat and stirrer are off."
_UNREAD = (
    f"The stop button couldn't be read for {STALE_AFTER_S:g} s, which counts as pressed: heat and "
    "stirrer are off."
)
_RELEASE = "See that nobody is caught, release the button, then start a new run."
_MEND = "Check its wire and its line in the machine file, then start a new run."

# Causes in which what switches the heater may itself have failed.
_MAY_BE_ON = frozenset(
    {"relay-stuck-on", "heater-live-when-off", "bath-over-limit", "guard-silent", "limits-changed"}
)

_UNKNOWN = "was told to be off and may be ON"

# What the guard says of its own causes, in a trip as in its record: nothing else tells them apart.
GUARD_SAW = {
    "the heater is live though it is told to be off": "heater-live-when-off",
    "the bath was hotter than its limit": "bath-over-limit",
}

FINISHED = {
    Verdict.NONE: "Finished; no set test was made.",
    Verdict.IN_TEMPER: "Finished: in temper.",
    Verdict.NOT_IN_TEMPER: "Finished, but not in temper.",
}


def shown_temperature(temperature_c: float, *, fahrenheit: bool = False) -> str:
    """A temperature as a person reads it, such as "43.2 °C"; "unknown" for NaN."""
    if not math.isfinite(temperature_c):
        return "unknown"
    if fahrenheit:
        return f"{in_fahrenheit(temperature_c):.1f} °F"
    return f"{temperature_c:.1f} °C"


def mass_text(value_kg: float) -> str:
    """A mass as a kitchen scale shows it: "150 g", "2.7 kg"."""
    grams = round(value_kg * _G_PER_KG)
    if grams < _G_PER_KG:
        return f"{grams} g"
    return f"{round(value_kg, 2):g} kg"


def trip_sentence(trip: Trip, trips: tuple[Trip, ...] = ()) -> str:
    """A trip: what was seen, why that is bad, what to do now and what of the batch.

    It promises that heat is off only where no trip of its run says that a switch no longer obeys.
    """
    off = f"Heat {heat_after((trip, *trips))}."
    return _joined(off, trip.what, trip.why or why(trip.cause), trip.action, fate(trip.cause))


def heat_after(trips: Iterable[Trip]) -> str:
    """What is known of the heater after these trips: what the guard saw counts as seen here."""
    return heat_now(word for trip in trips for word in (trip.cause, seen_by_guard(trip.what)))


def seen_by_guard(text: str) -> str:
    """The cause of the run's own that says the same as the guard's, where it says that of heat."""
    return next((word for said, word in GUARD_SAW.items() if said in text), "")


def heat_now(causes: Iterable[str]) -> str:
    """What is known of the heater after trips for these causes, such as "is off"."""
    tripped = set(causes)
    if tripped & _MAY_BE_ON:
        return _UNKNOWN
    return "was told to be off" if "guard-latched" in tripped else "is off"


def notice_sentence(notice: Notice) -> str:
    """An alarm that is no trip: what was seen, why that is bad and what to do now."""
    held = "" if notice.is_advice else f"Heat {heat_held((notice.cause,))}."
    return _joined(held, notice.what, notice.why or why(notice.cause), notice.action)


def heat_held(causes: Iterable[str]) -> str:
    """What is known of the heater while these withhold heat: a silent guard may still give it."""
    return _UNKNOWN if "guard-silent" in causes else "is held back"


def button_sentences(switches: Switches) -> tuple[str, str]:
    """A stop button that ended the run: what was seen, and what to do now."""
    return (_UNREAD, _MEND) if switches.is_unread else (_PRESSED, _RELEASE)


def _joined(*sentences: str) -> str:
    return " ".join(sentence for sentence in sentences if sentence)


def ready_text(outlook: Outlook, run_s: float) -> str:
    """When the chocolate will be ready, such as "ready in 43 min (30 to 62)"; else empty."""
    if outlook.is_ready or not math.isfinite(outlook.likely_s):
        return ""
    early, likely, late = (
        max(0, round((at_s - run_s) / _S_PER_MIN))
        for at_s in (outlook.early_s, outlook.likely_s, outlook.late_s)
    )
    return f"ready in {likely} min ({early} to {late})"


_SEEMS = {
    Temper.IN_TEMPER: "in temper",
    Temper.UNDER: "under-tempered",
    Temper.OVER: "over-tempered",
    Temper.MELTED_OUT: "melted out",
}


def temper_text(temper: TemperState) -> str:
    """What the crystals seem to be, such as ", in temper (92 % sure)"; else empty."""
    if temper.verdict not in _SEEMS:
        return ""
    return f", {_SEEMS[temper.verdict]} ({math.floor(100.0 * temper.confidence)} % sure)"


def keeps_text(temper: TemperState, run_s: float) -> str:
    """How long it stays in temper, such as ", good for another 50 min (30 to 90)"; else empty."""
    if math.isnan(temper.keeps_s[0]):
        return ""
    gone_s = run_s - temper.keeps_at_s
    least, likely, most = (max(0.0, span_s - gone_s) for span_s in temper.keeps_s)
    if not math.isfinite(least):
        return ", good for hours"
    early, end = round(least / _S_PER_MIN), f"{LONGEST_S / _S_PER_H:.0f} h or more"
    late = f"{most / _S_PER_MIN:.0f} min" if math.isfinite(most) else end
    if not math.isfinite(likely):
        return f", good for another {early} min to {end}"
    return f", good for another {likely / _S_PER_MIN:.0f} min ({early} min to {late})"


def _agrees(state: State) -> bool:
    return state.temper.verdict is Temper.IN_TEMPER


def obstacle_text(outlook: Outlook, *, fahrenheit: bool = False) -> str:
    """Why the run as it is now will not get ready, as one sentence; empty where nothing is known.

    It knows of the room what the machine file says.
    """
    target = shown_temperature(outlook.obstacle_c, fahrenheit=fahrenheit)
    if outlook.obstacle is Obstacle.ROOM:
        room = shown_temperature(outlook.room_c, fahrenheit=fahrenheit)
        return (
            f"{target} can't be reached by waiting in a room of {room} with the lid on: "
            "swap some of the bath's water for colder, or cool the room."
        )
    if outlook.obstacle is Obstacle.TIME:
        return f"{target} won't be reached in the next {LIMIT_S / _S_PER_H:.0f} hours like this."
    return ""


def headline(state: State, profile: Profile, *, fahrenheit: bool = False) -> str:
    """One sentence on where the run stands: a trip, a stop button, a question before all else."""
    if state.trips:
        return trip_sentence(state.trips[0], state.trips)
    if state.switches.is_pressed and state.mode in _BY_BUTTON:
        return _joined(*button_sentences(state.switches))
    if state.progress.ask is not None:
        return state.progress.ask.text
    if state.mode is Mode.COMPLETE:
        return FINISHED[state.progress.verdict]
    if state.mode in AT_REST:
        return AT_REST[state.mode]
    return _under_way(state, profile, fahrenheit=fahrenheit)


def _under_way(state: State, profile: Profile, *, fahrenheit: bool) -> str:
    phase = profile.phases[min(state.progress.phase, len(profile.phases) - 1)]
    if Lack.BOWL_PROBE in state.lacks:
        return _by_bath(state, phase, fahrenheit=fahrenheit)
    now = f"{_doing(state.mode, phase)}: {shown_temperature(state.bowl_c, fahrenheit=fahrenheit)}"
    if not math.isfinite(state.bowl_c):
        now = f"{_doing(state.mode, phase)}: the bowl thermometer gives no value"
    pressing = next((n for n in state.notices if n.alarm is Alarm.UNACKNOWLEDGED), None)
    if pressing is not None:
        return f"{now}. {notice_sentence(pressing)}"
    if state.withheld:
        return f"{now}, {_withheld(state)}"
    now += _outlook(state, phase, fahrenheit=fahrenheit)
    if obstacle := obstacle_text(state.outlook, fahrenheit=fahrenheit):
        return f"{now}. {obstacle}"
    ready = ready_text(state.outlook, state.run_s)
    return f"{now}; {ready}" if ready else now


def _withheld(state: State) -> str:
    causes = ", ".join(cause.replace("-", " ") for cause in state.withheld)
    return f"heat {heat_held(state.withheld)} for now ({causes})"


def _by_bath(state: State, phase: Phase, *, fahrenheit: bool) -> str:
    """Where a run stands that doesn't see its bowl: of the bowl it says nothing."""
    bath = shown_temperature(state.bath_c, fahrenheit=fahrenheit)
    target = shown_temperature(phase.bowl_target_c, fahrenheit=fahrenheit)
    now = f"{_doing(state.mode, phase)} unseen, for a bowl at {target}: bath {bath}"
    if state.withheld:
        return f"{now}, {_withheld(state)}"
    return now


def _doing(mode: Mode, phase: Phase) -> str:
    if mode is Mode.PAUSING:
        return "Going to a pause"
    if mode is Mode.PAUSED:
        return "Paused"
    if mode is Mode.RESUMING:
        return "Going on after a pause"
    return DOING.get(phase.name, phase.name.capitalize())


def _outlook(state: State, phase: Phase, *, fahrenheit: bool) -> str:
    if state.mode in {Mode.PAUSING, Mode.PAUSED}:
        return f", bowl kept at {shown_temperature(phase.pause_at_c, fahrenheit=fahrenheit)}"
    if not state.progress.reached:
        return f", on the way to {shown_temperature(phase.bowl_target_c, fahrenheit=fahrenheit)}"
    if state.progress.verdict is Verdict.NOT_IN_TEMPER and _agrees(state):
        return ", by the set test not in temper; make another before you dip"
    passed = temper_text(state.temper)
    if state.progress.verdict is Verdict.IN_TEMPER and (not passed or _agrees(state)):
        passed = ", in temper"
    passed += keeps_text(state.temper, state.run_s)
    left_s = phase.dwell_s - state.progress.dwelled_s
    if not state.progress.dwelled and left_s > 0:
        return f"{passed}, staying there for another {math.ceil(left_s / _S_PER_MIN)} min"
    return passed or ", there"
