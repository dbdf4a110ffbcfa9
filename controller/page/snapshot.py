"""What the page is told of the machine, as JSON: plain texts, ready to be shown.

Responsible for the choice and the wording; not for layout (static) nor for sending (stream).
"""

import json
from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime

from controller.link.settings import Remote
from controller.view.board import Standing, View
from controller.view.curve import Sample
from controller.view.facts import Asked, Facts
from controller.view.scale import scaled
from controller.view.spans import span_text
from controller.view.story import (
    Story,
    freshness_text,
    heat_text,
    is_at_rest,
    left_text,
    may_dip,
    remark,
    story,
    temperature_text,
    verdict_text,
)

Json = Mapping[str, object]


def snapshot(view: View, *, fahrenheit: bool | None, remote: Remote, trouble: str = "") -> str:
    """All but the curve. `fahrenheit` chooses the scale, else it is the machine's own.

    `trouble` is why the broker can't be heard. It is all ASCII, whatever a machine called itself.
    """
    view = scaled(view, fahrenheit=fahrenheit)
    facts = view.facts
    is_f = facts.fahrenheit if fahrenheit is None else fahrenheit
    told = story(view)
    if trouble and view.standing is Standing.NO_BROKER:
        told = replace(told, sentence=f"{told.sentence} ({trouble})")
    return json.dumps(
        {
            **_told(told),
            "remark": remark(view),
            "standing": view.standing.value,
            "live": view.is_live,
            "age_s": view.age_s,
            "fresh": freshness_text(view),
            "known": view.standing is not Standing.NO_MACHINE and facts.device_state is not None,
            "bowl": temperature_text(facts.bowl_c, fahrenheit=is_f),
            "bowl_target": temperature_text(
                None if is_at_rest(facts) else facts.bowl_setpoint_c, fahrenheit=is_f
            ),
            "bath": temperature_text(facts.bath_c, fahrenheit=is_f),
            "left": left_text(facts),
            "ready": [_moment(at) for at in (facts.ready_early, facts.ready_at, facts.ready_late)],
            "dip": _dip(facts),
            "keeps": _keeps(facts),
            "asked": _asked(facts.asked, remote),
            "alerts": [{"cause": one.cause, "text": one.text} for one in facts.alerts],
            "phases": list(facts.phases),
            "phase": facts.phase,
            "mode": facts.mode,
            "profile": facts.profile,
            "run": facts.run_id,
            "elapsed": None if facts.elapsed_s is None else span_text(facts.elapsed_s),
            "heat": heat_text(facts),
            "resume_here": remote is not Remote.OFF,
        }
    )


def curve(view: View, *, fahrenheit: bool | None) -> str:
    """The samples, column by column, in the scale that is shown."""
    is_f = view.facts.fahrenheit if fahrenheit is None else fahrenheit
    samples = view.samples
    return json.dumps(
        {
            "unit": "°F" if is_f else "°C",
            "minutes": [round(one.run_s / 60.0, 2) for one in samples],
            "phases": _spans(samples),
            "bowl": [_number(one.bowl_c, is_f=is_f) for one in samples],
            "bath": [_number(one.bath_c, is_f=is_f) for one in samples],
            "target": [_number(one.target_c, is_f=is_f) for one in samples],
        }
    )


def _told(given: Story) -> dict[str, object]:
    return {"word": given.word, "sentence": given.sentence, "tone": given.tone.value}


def _dip(facts: Facts) -> Json | None:
    dip = may_dip(facts)
    if dip is None:
        return None
    return {**_told(dip), "verdict": verdict_text(facts)}


def _keeps(facts: Facts) -> Json | None:
    """How long it stays in temper; None where nobody knows, or where that is hours."""
    if facts.works_least_s is None:
        return None
    least = span_text(facts.works_least_s)
    likely = f"{least} or more" if facts.works_s is None else span_text(facts.works_s)
    return {"likely": likely, "least": least}


def _asked(asked: Asked | None, remote: Remote) -> Json | None:
    """The question; `here` says which answers the machine takes from afar at all."""
    if asked is None:
        return None
    return {
        "id": asked.id,
        "text": asked.text,
        "choices": [
            {
                "word": word,
                "label": word.replace("-", " ").capitalize(),
                "heats": word in asked.heating,
                "here": word not in asked.heating or remote is not Remote.OFF,
            }
            for word in asked.choices
        ],
    }


def _moment(at: datetime | None) -> str | None:
    return None if at is None else at.isoformat(timespec="seconds")


def _number(value_c: float | None, *, is_f: bool) -> float | None:
    if value_c is None:
        return None
    return float(temperature_text(value_c, fahrenheit=is_f).partition(" ")[0])


def _spans(samples: tuple[Sample, ...]) -> list[tuple[str, float]]:
    """Each phase and the minute in which it was first seen."""
    spans: list[tuple[str, float]] = []
    for one in samples:
        if not spans or spans[-1][0] != one.phase:
            spans.append((one.phase, round(one.run_s / 60.0, 2)))
    return spans
