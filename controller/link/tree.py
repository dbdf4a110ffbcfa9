"""What the link shows: every topic of the device as one table.

Responsible for names, datatypes, units and the value of each; not for when they are sent (pace)
nor for sending them (session).
"""

import json
import math
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from functools import partial
from typing import Protocol

from controller.core.alarms import is_present
from controller.core.interlocks import Cause
from controller.core.lacks import mode_text
from controller.core.profile import Profile
from controller.core.scales import in_fahrenheit, retold
from controller.core.state import Mode
from controller.core.words import headline, notice_sentence, trip_sentence
from controller.link.fitted_rows import FITTED_ROWS, Fitted
from controller.link.homie import Datatype, Property, Rhythm, boolean, choices, number
from controller.link.slope import Slope
from controller.link.summary import PRIORITY_ROW, summary
from controller.link.temper_rows import NOTHING, TEMPER
from controller.ports import Moment, Question

NO_ANSWER = json.dumps({"id": NOTHING, "result": NOTHING, "reason": "", "at": ""})
COMMAND = "control/command"
REQUEST = "control/request"
RESPONSE = "control/response"
ASK_ID = "ask/id"
TOKEN = "control/token"  # noqa: S105 - a topic

NODES = {
    "bowl": "Bowl",
    "bath": "Water bath",
    "heater": "Heater",
    "stirrer": "Stirrer",
    "lid": "Lid",
    "stop": "Stop button",
    "run": "Run",
    "temper": "Temper",
    "ask": "Question",
    "safety": "Safety",
    "control": "Control",
}

_PERCENT = 100.0
_S_PER_MIN = 60

# Intervals: own engineering values, not published; a phone shows no more than one value a second.
_MEASURED_C = Rhythm(gap_s=1.0, step=0.05, most_s=10.0)
_EACH_S = Rhythm(gap_s=1.0)
_SENTENCE = Rhythm(gap_s=1.0, words_at_once=True)
_EACH_5_S = Rhythm(gap_s=5.0)
_EACH_10_S = Rhythm(gap_s=10.0)
_EACH_OTHER_S = Rhythm(gap_s=1.5)  # every second tick: who hears none for 3.5 s knows

_boolean = partial(Property, datatype=Datatype.BOOLEAN)
_enum = partial(Property, datatype=Datatype.ENUM)
_float = partial(Property, datatype=Datatype.FLOAT, rhythm=_EACH_S)
_integer = partial(Property, datatype=Datatype.INTEGER)
_string = partial(Property, datatype=Datatype.STRING)


class Answering(Protocol):
    """Where requests are answered."""

    @property
    def last(self) -> str:
        """The newest answer."""
        ...

    @property
    def token(self) -> str:
        """What the next request must repeat."""
        ...


class _Nobody:
    """Where no request is answered."""

    last = NO_ANSWER
    token = NOTHING


_NOBODY = _Nobody()


def tree(
    profile: Profile,
    *,
    run_id: str,
    began_utc: str = "",
    fahrenheit: bool = False,
    fitted: frozenset[Fitted] = frozenset(),
    desk: Answering = _NOBODY,
    slope: Slope | None = None,
) -> tuple[Property, ...]:
    """Every property of the device, for a run of `profile`.

    `began_utc` is when the run began, ISO 8601. `fitted` is what there is beyond the least: what
    isn't fitted isn't shown. `desk` knows token and answers, `slope` how fast the bowl changes.
    """
    rows = (
        *_temperatures(slope or Slope(), fahrenheit=fahrenheit),
        *_actuators(),
        *(row for part, row in FITTED_ROWS.items() if part in fitted),
        *_run(profile, run_id, fahrenheit=fahrenheit),
        *_ready(began_utc),
        *summary(profile, fahrenheit=fahrenheit),
        *TEMPER,
        *_QUESTIONS,
        *_SAFETY,
        *_control(desk),
    )
    return tuple(_retold(row) for row in rows) if fahrenheit else rows


def alerts(moment: Moment, *, fahrenheit: bool = False) -> dict[str, str]:
    """The alerts now active by cause: what was seen, why that is bad and what to do now."""
    state = moment.state
    told = {one.cause: notice_sentence(one) for one in state.notices if is_present(one)}
    told |= {trip.cause: trip_sentence(trip, state.trips) for trip in state.trips}
    return {cause: retold(text, fahrenheit=fahrenheit) for cause, text in told.items()}


def _retold(row: Property) -> Property:
    """The same topic with its sentences in °F."""
    if row.datatype is not Datatype.STRING:
        return row

    def value(moment: Moment) -> str | None:
        said = row.value(moment)
        return None if said is None else retold(said, fahrenheit=True)

    return replace(row, value=value)


def _control(desk: Answering) -> tuple[Property, ...]:
    json_row = partial(Property, datatype=Datatype.JSON)
    return (
        _string(
            path=COMMAND,
            name="Command: stop, pause, acknowledge, or answer, announce, leave and words",
            settable=True,
            retained=False,
            value=lambda _: None,
        ),
        json_row(
            path=REQUEST,
            name="Request, with an id for its answer and the token where it leads to heat",
            format=json.dumps(_REQUEST_SCHEMA),
            settable=True,
            retained=False,
            value=lambda _: None,
        ),
        json_row(
            path=RESPONSE,
            name="Answer to the last request",
            format=json.dumps(_RESPONSE_SCHEMA),
            value=lambda _: desk.last,
        ),
        _string(path=TOKEN, name="Token for the next request", value=lambda _: desk.token),
    )


def _temperatures(slope: Slope, *, fahrenheit: bool) -> tuple[Property, ...]:
    scale = "°F" if fahrenheit else "°C"
    per_k = 1.8 if fahrenheit else 1.0  # by definition of the scale

    def shown(value_c: float) -> str | None:
        return number(in_fahrenheit(value_c) if fahrenheit else value_c, 2)

    row = partial(Property, datatype=Datatype.FLOAT, unit=scale)
    return (
        row(
            path="bowl/temperature",
            name="Bowl temperature",
            rhythm=_MEASURED_C,
            value=lambda m: shown(m.state.bowl_c),
        ),
        row(
            path="bowl/setpoint",
            name="Bowl set-point",
            rhythm=_EACH_5_S,
            value=lambda m: shown(m.state.regulation.bowl_setpoint_c),
        ),
        row(
            path="bowl/rate",
            name="Bowl, change in a minute",
            unit=f"{scale}/min",
            rhythm=_EACH_5_S,
            value=lambda m: number(slope.k_per_min(m) * per_k, 2),
        ),
        row(
            path="bath/temperature",
            name="Bath temperature",
            rhythm=_MEASURED_C,
            value=lambda m: shown(m.state.bath_c),
        ),
        row(
            path="bath/setpoint",
            name="Bath set-point",
            rhythm=_EACH_5_S,
            value=lambda m: shown(m.state.regulation.bath_setpoint_c),
        ),
    )


def _actuators() -> tuple[Property, ...]:
    return (
        _float(
            path="heater/demand",
            name="Heat asked for",
            unit="%",
            format="0:100",
            value=lambda m: number(m.state.regulation.duty * _PERCENT, 1),
        ),
        _boolean(
            path="heater/relay",
            name="Heater on",
            rhythm=_EACH_S,
            value=lambda m: boolean(m.heater_on),
        ),
        _boolean(
            path="heater/permit",
            name="Heat permitted",
            value=lambda m: boolean(not (m.state.withheld or m.state.trips)),
        ),
        _boolean(
            path="stirrer/running",
            name="Stirrer told to turn",
            value=lambda m: boolean(m.stirrer_rpm > 0),
        ),
        _float(path="stirrer/speed", name="Stirrer speed", unit="rpm", value=_speed),
    )


def _run(profile: Profile, run_id: str, *, fahrenheit: bool) -> tuple[Property, ...]:
    phases = tuple(phase.name for phase in profile.phases)
    return (
        _enum(
            path="run/state",
            name="State",
            format=choices(Mode),
            value=lambda m: m.state.mode.value,
        ),
        _enum(
            path="run/phase",
            name="Phase",
            format=choices(phases),
            value=lambda m: phases[min(m.state.progress.phase, len(phases) - 1)],
        ),
        _string(path="run/profile", name="Profile", value=lambda _: profile.name),
        _string(path="run/mode", name="Mode", value=lambda m: mode_text(m.state.lacks)),
        _string(path="run/id", name="Run", value=lambda _: run_id or NOTHING),
        _seconds("run/elapsed", "Time since the start", lambda m: m.state.run_s),
        _seconds("run/phase-elapsed", "Time in this phase", lambda m: m.state.progress.phase_s),
        _string(
            path="run/headline",
            name="Where the run stands",
            rhythm=_SENTENCE,
            value=lambda m: headline(m.state, profile, fahrenheit=fahrenheit),
        ),
    )


def _ready(began_utc: str) -> tuple[Property, ...]:
    """When the chocolate will be ready: early, likely and late, to the minute."""
    row = partial(Property, datatype=Datatype.DATETIME, rhythm=_EACH_5_S)
    return (
        _integer(
            path="run/remaining", name="Time until ready", unit="s", rhythm=_EACH_5_S, value=_left
        ),
        _integer(
            path="run/progress",
            name="Of the time until ready",
            unit="%",
            format="0:100",
            rhythm=_EACH_5_S,
            value=_progress,
        ),
        row(
            path="run/ready-early",
            name="Ready, at the earliest",
            value=lambda m: _wall(began_utc, m.state.outlook.early_s),
        ),
        row(
            path="run/ready-at",
            name="Ready, most likely",
            value=lambda m: _wall(began_utc, m.state.outlook.likely_s),
        ),
        row(
            path="run/ready-late",
            name="Ready, at the latest",
            value=lambda m: _wall(began_utc, m.state.outlook.late_s),
        ),
    )


def _progress(moment: Moment) -> str | None:
    """How much of the time until ready has gone by, %."""
    likely_s = moment.state.outlook.likely_s
    if not (math.isfinite(likely_s) and likely_s > 0.0):
        return None
    return str(round(min(1.0, moment.state.run_s / likely_s) * _PERCENT))


def _left(moment: Moment) -> str | None:
    left_s = moment.state.outlook.likely_s - moment.state.run_s
    return str(max(0, int(left_s))) if math.isfinite(left_s) else None


def _wall(began_utc: str, run_s: float) -> str | None:
    """A moment of the run as ISO 8601 to the minute; None while it is not known."""
    if not (began_utc and math.isfinite(run_s)):
        return None
    minutes = round(run_s / _S_PER_MIN)
    return (datetime.fromisoformat(began_utc) + timedelta(minutes=minutes)).isoformat(
        timespec="seconds"
    )


def _speed(moment: Moment) -> str | None:
    return number(moment.stirrer_rpm if moment.shaft_rpm is None else moment.shaft_rpm, 0)


def _seconds(
    path: str, name: str, value_s: Callable[[Moment], float], rhythm: Rhythm = _EACH_5_S
) -> Property:
    return _integer(
        path=path, name=name, unit="s", rhythm=rhythm, value=lambda m: str(int(value_s(m)))
    )


def _asked(part: Callable[[Question], str]) -> Callable[[Moment], str]:
    def value(moment: Moment) -> str:
        ask = moment.state.progress.ask
        return NOTHING if ask is None else part(ask)

    return value


def _answers(ask: Question) -> str:
    return ", ".join(choice.word for choice in ask.choices)


def _heating(ask: Question) -> str:
    """Those that a plain command can't give."""
    return ", ".join(choice.word for choice in ask.choices if choice.adds_energy) or NOTHING


_QUESTIONS = (
    _string(path="ask/question", name="Question", value=_asked(lambda ask: ask.text)),
    _string(path="ask/choices", name="Possible answers", value=_asked(_answers)),
    _string(path="ask/heating", name="Answers that lead to heat", value=_asked(_heating)),
    _string(path=ASK_ID, name="Question id", value=_asked(lambda ask: ask.id)),
)

_SAFETY = (
    _boolean(
        path="safety/tripped",
        name="Tripped",
        value=lambda m: boolean(bool(m.state.trips)),
    ),
    _enum(
        path="safety/cause",
        name="Cause of the trip",
        format=choices((NOTHING, *Cause)),
        value=lambda m: m.state.trips[0].cause if m.state.trips else NOTHING,
    ),
    PRIORITY_ROW,
    _seconds("safety/heartbeat", "Clock of the control loop", lambda m: m.now_s, _EACH_OTHER_S),
)

_REQUEST_SCHEMA = {
    "type": "object",
    "properties": {
        "id": {"type": "string"},
        "command": {"type": "string"},
        "choice": {"type": "string"},
        "ask": {"type": "string"},
        "profile": {"type": "string"},
        "token": {"type": "string"},
        "mac": {"type": "string"},
    },
    "required": ["id", "command"],
    "additionalProperties": False,
}
_RESPONSE_SCHEMA = {
    "type": "object",
    "properties": {key: {"type": "string"} for key in ("id", "result", "reason", "at")},
    "required": ["id", "result", "reason", "at"],
}
