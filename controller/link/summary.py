"""Where the run stands, in one message: what a screen makes its word and its sentence of.

Responsible for that message and for the priority of each alarm; not for the other topics (tree).
Values that belong together come together, so that no screen shows the word of one tick beside the
sentence of another.
"""

import json
from collections.abc import Callable, Mapping
from functools import partial

from controller.core.alarms import is_present
from controller.core.interlocks import PRIORITIES
from controller.core.profile import Profile
from controller.core.scales import retold
from controller.core.words import headline
from controller.link.homie import Datatype, Property, Rhythm
from controller.ports import Moment, Question

SUMMARY = "run/summary"
ALARMS = "safety/alarms"
# Own engineering value, not published: five texts so long fit into one message (publisher's
# LONGEST), whatever a profile calls itself.
LONGEST_TEXT = 640
_DEAREST = 6  # characters that JSON makes of one, at most
_Value = str | float | bool | list[str]
_EACH_S = Rhythm(gap_s=1.0, words_at_once=True)

_json = partial(Property, datatype=Datatype.JSON)


def summary(profile: Profile, *, fahrenheit: bool) -> tuple[Property, ...]:
    """The row of the message, for a run of `profile`."""
    phases = tuple(phase.name for phase in profile.phases)
    told = partial(_told, fahrenheit=fahrenheit)

    def value(moment: Moment) -> str:
        state = moment.state
        said: dict[str, _Value | Mapping[str, _Value] | None] = {
            "state": state.mode.value,
            "phase": phases[min(state.progress.phase, len(phases) - 1)],
            "tripped": bool(state.trips),
            "permit": not (state.withheld or state.trips),
            "stop-pressed": state.switches.is_pressed,
            "headline": told(headline(state, profile, fahrenheit=fahrenheit)),
            "verdict": state.temper.verdict.value,
            "confidence": round(state.temper.confidence, 2),
            "why": told(state.temper.why),
            "advice": told(state.advice.text),
            "set-test": state.progress.verdict.value,
            "ask": _asked(state.progress.ask, told),
        }
        return json.dumps(said, ensure_ascii=False)

    return (
        _json(
            path=SUMMARY,
            name="Where the run stands, in one message for a screen",
            format=json.dumps(_SCHEMA),
            rhythm=_EACH_S,
            value=value,
        ),
    )


def priorities(moment: Moment) -> dict[str, str]:
    """The priority of each alarm that stands, by its cause: after IEC 62682."""
    present = filter(is_present, moment.state.notices)
    known = {one.cause: str(one.priority) for one in present}
    return known | {trip.cause: str(PRIORITIES[trip.cause]) for trip in moment.state.trips}


PRIORITY_ROW = _json(
    path=ALARMS,
    name="Alarms with their priority: high, medium or low",
    format=json.dumps({"type": "object", "additionalProperties": {"type": "string"}}),
    value=lambda moment: json.dumps(priorities(moment)),
)


def _asked(ask: Question | None, told: Callable[[str], str]) -> dict[str, _Value] | None:
    if ask is None:
        return None
    return {
        "id": ask.id,
        "text": told(ask.text),
        "choices": [choice.word for choice in ask.choices],
        "heating": [choice.word for choice in ask.choices if choice.adds_energy],
    }


def _told(sentence: str, *, fahrenheit: bool) -> str:
    """As much of a text as there is room for, in the scale of the machine's sentences."""
    text = retold(sentence, fahrenheit=fahrenheit)
    dear = len(json.dumps(text[:LONGEST_TEXT], ensure_ascii=False)) > LONGEST_TEXT + 2
    return text[: LONGEST_TEXT // _DEAREST] if dear else text[:LONGEST_TEXT]


_TEXT = {"type": "string"}
_WORDS = {"type": "array", "items": _TEXT}
_SCHEMA = {
    "type": "object",
    "properties": {
        **dict.fromkeys(
            ("state", "phase", "headline", "verdict", "why", "advice", "set-test"), _TEXT
        ),
        **{key: {"type": "boolean"} for key in ("tripped", "permit", "stop-pressed")},
        "confidence": {"type": "number"},
        "ask": {
            "type": ["object", "null"],
            "properties": {"id": _TEXT, "text": _TEXT, "choices": _WORDS, "heating": _WORDS},
        },
    },
}
