"""The whole state of a run between two ticks, and the events that a tick reports.

Responsible for the shapes only; the modules beside it say how they change.
"""

import math
from enum import StrEnum

from msgspec import Struct, field

from controller.core.advice import SILENT, Advice
from controller.core.batches import UNJUDGED, TemperState
from controller.core.estimate import NOTHING, Belief, Estimate
from controller.core.evidence import Memory
from controller.core.kept_machine import KeptMachine
from controller.core.lacks import Lack
from controller.core.outlook import UNKNOWN, Outlook
from controller.core.profile import Question, Verdict
from controller.core.proof import PROVEN, Proof
from controller.core.selfcheck import Seal


class Mode(StrEnum):
    """Procedural state of the run, in the words of IEC 61512."""

    IDLE = "idle"
    RUNNING = "running"
    PAUSING = "pausing"
    PAUSED = "paused"
    RESUMING = "resuming"
    STOPPING = "stopping"
    STOPPED = "stopped"
    ABORTING = "aborting"
    ABORTED = "aborted"
    COMPLETE = "complete"


STEERED = frozenset({Mode.RUNNING, Mode.PAUSING, Mode.PAUSED, Mode.RESUMING})
ENDED = frozenset({Mode.STOPPED, Mode.ABORTED, Mode.COMPLETE})


class Alarm(StrEnum):
    """State of an alarm, in the words of IEC 62682; that of a trip is latched besides."""

    UNACKNOWLEDGED = "unacknowledged"
    ACKNOWLEDGED = "acknowledged"
    RETURNED = "returned-unacknowledged"  # it is over, and nobody has said that they know


class EventName(StrEnum):
    """Every event that a tick can report: noun_past-verb."""

    MODE_CHANGED = "mode_changed"
    PHASE_ENTERED = "phase_entered"
    TARGET_REACHED = "target_reached"
    DWELL_ENDED = "dwell_ended"
    PHASE_OVERRAN = "phase_overran"
    OBSTACLE_FOUND = "obstacle_found"
    QUESTION_ASKED = "question_asked"
    QUESTION_TIMED = "question_timed"  # what was asked for has had its time
    QUESTION_ANSWERED = "question_answered"
    REQUEST_REFUSED = "request_refused"
    REQUEST_GRANTED = "request_granted"  # one from afar that leads to heat
    HEAT_WITHHELD = "heat_withheld"
    HEAT_PERMITTED = "heat_permitted"
    TRIP_LATCHED = "trip_latched"
    TRIP_ACKNOWLEDGED = "trip_acknowledged"
    ALARM_RAISED = "alarm_raised"
    ALARM_RETURNED = "alarm_returned"
    ALARM_ACKNOWLEDGED = "alarm_acknowledged"
    DEED_ANNOUNCED = "deed_announced"
    BUTTON_PRESSED = "button_pressed"  # the stop button at the machine
    SIGHT_DECLARED = "sight_declared"
    ADVICE_OFFERED = "advice_offered"
    LEAVE_JUDGED = "leave_judged"  # somebody asked whether the run may be left alone


class Event(Struct, frozen=True, kw_only=True):
    """Something that happened in a tick. `facts` holds JSON scalars, units in the keys."""

    name: EventName
    facts: dict[str, str | float | bool]


class Trip(Struct, frozen=True, kw_only=True):
    """A latched reason for which heat is off until a person has dealt with it."""

    cause: str  # a word of `controller.core.interlocks.Cause`
    at_s: float
    what: str  # one sentence: what was seen, with numbers
    action: str  # one sentence: what to do now
    alarm: Alarm = Alarm.UNACKNOWLEDGED
    why: str = ""  # as a record told it; empty: this version's own sentence for the cause


class Notice(Struct, frozen=True, kw_only=True):
    """An alarm that is no trip: heat is withheld meanwhile, or it is advice."""

    cause: str  # a word of `controller.core.interlocks.Cause`
    priority: str  # a word of `controller.core.interlock_rows.Priority`
    at_s: float
    seen_s: float  # when its reason was last there
    what: str  # one sentence, as for a trip
    action: str
    is_advice: bool
    alarm: Alarm = Alarm.UNACKNOWLEDGED
    why: str = ""  # as for a trip


class Progress(Struct, frozen=True, kw_only=True):
    """Where the run stands in its profile."""

    phase: int = 0
    phase_s: float = 0.0
    settled_s: float = 0.0
    dwelled_s: float = 0.0
    start_bowl_c: float = math.nan  # where a rate-limited ramp began
    reached: bool = False
    dwelled: bool = False
    overran: bool = False
    ask: Question | None = None
    asked_s: float = 0.0
    unasked_s: float = 0.0  # since a question of the phase was open
    answered: frozenset[str] = frozenset()  # ids of this phase's questions that are done
    verdict: Verdict = Verdict.NONE
    stir_from_c: float = -math.inf  # besides the phase's own limit, in a phase gone on with


class Regulation(Struct, frozen=True, kw_only=True):
    """Memory of the regulator and what it asks for."""

    bowl_setpoint_c: float = math.nan
    bath_setpoint_c: float = math.nan
    duty: float = 0.0  # 0 to 1, what the relay is to average to
    is_moving: bool = False  # on the way to another temperature, by predictive cut-off
    is_falling: bool = False  # on the way down, the heater to catch it in time
    peak_c: float = math.nan  # the warmest the bowl will get if heat ends now
    peak_c_sd: float = math.inf  # as it was while moving; on the way down, the trough's
    trim_k: float = 0.0  # what the hold cascade has learned beyond the estimate
    pulse_s: float = 0.0  # how long the relay's pulses may as well be, to spare it


class RelayMemory(Struct, frozen=True, kw_only=True):
    """Memory of the duty shaper."""

    on: bool = False
    held_s: float = math.inf  # how long the relay has been as it is
    owed_s: float = 0.0  # on-time asked for and not yet given
    is_look: bool = False  # open only to see that it opens


class Watch(Struct, frozen=True, kw_only=True):
    """Memory of the interlocks. Filled by controller.core.evidence."""

    unsafe_s: tuple[float, ...] = ()  # per interlock: for how long it has been unsafe
    sound: tuple[object, ...] = ()  # records by which a whole table of them was shown safe
    memory: Memory = field(default_factory=Memory)
    seal: Seal | None = None  # the limits as the run began
    came_down_in: int = -1  # the phase in which the bath was last at or under its ceiling


class Hands(Struct, frozen=True, kw_only=True):
    """What people at the machine said that they have done."""

    stirrer_until_s: float = -math.inf  # it counts as standing until then
    lid_on_loss_share: float = math.nan  # the belief's, before the lid came off; NaN while it is on
    said_at_s: tuple[float, ...] = ()  # run times of late
    swapped_s: float = -math.inf  # when water was last said to be swapped
    anchored_s: float = -math.inf  # when the interlocks last counted anew for one
    far_s: float = -math.inf  # when somebody far away said that the water was swapped
    far_c: float = math.nan  # and how warm the bath was then; NaN once it has shown that


class Switches(Struct, frozen=True, kw_only=True):
    """What was seen of the stop button and the lid's switch."""

    is_pressed: bool = False  # the stop button was, in this run: for good
    is_unread: bool = False  # ... because it couldn't be read, which counts as pressed
    readable_s: float = 0.0  # run time at which it could last be read
    lid_same_s: float = 0.0  # run time at which the lid was last as it is believed to be


class State(Struct, frozen=True, kw_only=True):
    """Everything that a run is between two ticks."""

    run_s: float = 0.0  # since the run's first tick
    mode: Mode = Mode.IDLE
    bath_c: float = math.nan  # offsets applied; NaN when there is no good value
    bowl_c: float = math.nan
    stand_in_c: float = math.nan  # for a thermometer that the machine lacks: see stand_in
    lacks: tuple[Lack, ...] = ()  # what the machine does without
    progress: Progress = field(default_factory=Progress)
    regulation: Regulation = field(default_factory=Regulation)
    kept: KeptMachine | None = None  # of a cut run that this one goes on with, until it believes
    belief: Belief | None = None  # begins with the first pair of good readings
    estimate: Estimate = NOTHING
    outlook: Outlook = UNKNOWN
    temper: TemperState = UNJUDGED
    advice: Advice = SILENT
    hands: Hands = field(default_factory=Hands)
    proof: Proof = PROVEN  # of the start: nothing heats before it
    switches: Switches = field(default_factory=Switches)
    relay: RelayMemory = field(default_factory=RelayMemory)
    cooling: RelayMemory = field(default_factory=RelayMemory)  # of the cooling output
    watch: Watch = field(default_factory=Watch)
    withheld: tuple[str, ...] = ()  # causes for which heat is withheld in this tick
    trips: tuple[Trip, ...] = ()  # latched, oldest first; the first is the cause
    notices: tuple[Notice, ...] = ()  # alarms that are no trips, the most pressing first
    stirrer_rpm: float = 0.0  # as last commanded
    ended_s: float = 0.0  # since the run ended
    heat_j: float = 0.0  # heat asked of the element so far, from the nominal power
