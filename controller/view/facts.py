"""The facts of a machine, read from the topics that it publishes.

Responsible for turning texts into typed values; not for which messages came when (board), nor for
what they mean to a cook (story). What is missing or makes no sense is None, never a guess. What a
word and its sentence are made of is read from one message, so that both are of one tick.
"""

import json
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any, TypeVar

from controller.core.profile import Verdict
from controller.core.scales import F_PER_K, in_celsius
from controller.core.state import Mode
from controller.core.tempering import Temper

NOTHING = "none"  # what the tree says where there is no text
STATE = "$state"
DESCRIPTION = "$description"
ALERTS = "$alert/"
SUMMARY = "run/summary"
HEARTBEAT = "safety/heartbeat"
ELAPSED = "run/elapsed"
_FAHRENHEIT = "°F"
_PERCENT = 100.0
# What is beyond these is nonsense, or somebody's joke: own engineering values, not published.
_CHOICES = 16  # of a question
_PHASES = 32
_LONGEST_WORD = 64
_COLDEST_C, _HOTTEST_C = -100.0, 500.0
_LONGEST_S = 1e7  # four months

_Word = TypeVar("_Word", bound=StrEnum)


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A question that the machine puts."""

    id: str
    text: str
    choices: tuple[str, ...]
    heating: frozenset[str]  # those of the choices that lead to heat


@dataclass(frozen=True, slots=True, kw_only=True)
class Alert:
    """Something that has tripped or is wrong."""

    cause: str
    text: str  # what was seen, why that is bad, and what to do


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """All that a machine says. Temperatures are in °C, whatever scale it publishes in."""

    device_state: str | None = None  # of the Homie 5 convention
    fahrenheit: bool = False  # the scale of the machine's own sentences
    bowl_c: float | None = None
    bath_c: float | None = None
    bowl_setpoint_c: float | None = None
    bath_setpoint_c: float | None = None
    bowl_k_per_min: float | None = None
    duty: float | None = None  # heat asked for, 0 to 1
    heater_on: bool | None = None
    heat_permitted: bool | None = None
    stirrer_on: bool | None = None
    stirrer_rpm: float | None = None
    stirrer_load_w: float | None = None
    mode: Mode | None = None
    phase: str | None = None
    phases: tuple[str, ...] = ()
    profile: str | None = None
    lacks: str | None = None  # what the machine does without, in its own words
    run_id: str | None = None
    elapsed_s: float | None = None
    phase_elapsed_s: float | None = None
    headline: str | None = None
    remaining_s: float | None = None
    progress: float | None = None  # 0 to 1
    ready_early: datetime | None = None
    ready_at: datetime | None = None
    ready_late: datetime | None = None
    temper: Temper | None = None
    confidence: float | None = None  # of the verdict, 0 to 1
    temper_why: str | None = None
    advice: str | None = None  # what to do about it, or with what thickens
    works_least_s: float | None = None
    works_s: float | None = None
    set_test: Verdict | None = None
    asked: Asked | None = None
    tripped: bool | None = None
    trip_cause: str | None = None
    stop_pressed: bool | None = None  # the stop button was, in this run
    lid_open: bool | None = None  # as its switch says; None: no switch, or it says nothing
    alerts: tuple[Alert, ...] = ()


def facts_of(told: Mapping[str, str]) -> Facts:
    """The facts, from the newest text of each topic below the machine's own."""
    described, summed = _object(told.get(DESCRIPTION)), _object(told.get(SUMMARY)) or {}
    return Facts(
        device_state=_text(told, STATE),
        phases=_phases(described),
        alerts=tuple(
            Alert(cause=path.removeprefix(ALERTS), text=text)
            for path, text in sorted(told.items())
            if path.startswith(ALERTS)
        ),
        asked=_asked(summed.get("ask")),
        **_temperatures(told, described),
        **_machine(told),
        **_run(told),
        **_summed(summed),
    )


def _temperatures(told: Mapping[str, str], described: Mapping[str, Any] | None) -> dict[str, Any]:
    """Nothing while nobody has said in which scale they are."""
    unit = _row(described, "bowl", "temperature").get("unit")
    if described is None or not isinstance(unit, str):
        return {}
    is_f = unit == _FAHRENHEIT

    def in_c(path: str) -> float | None:
        value = _number(told, path)
        value_c = in_celsius(value) if is_f and value is not None else value
        return value_c if value_c is None or _COLDEST_C <= value_c <= _HOTTEST_C else None

    rate = _number(told, "bowl/rate")
    return {
        "fahrenheit": is_f,
        "bowl_c": in_c("bowl/temperature"),
        "bath_c": in_c("bath/temperature"),
        "bowl_setpoint_c": in_c("bowl/setpoint"),
        "bath_setpoint_c": in_c("bath/setpoint"),
        "bowl_k_per_min": rate / F_PER_K if is_f and rate is not None else rate,
    }


def _machine(told: Mapping[str, str]) -> dict[str, Any]:
    return {
        "duty": _share(told, "heater/demand"),
        "heater_on": _boolean(told, "heater/relay"),
        "stirrer_on": _boolean(told, "stirrer/running"),
        "stirrer_rpm": _number(told, "stirrer/speed"),
        "stirrer_load_w": _number(told, "stirrer/load"),
        "trip_cause": _text(told, "safety/cause"),
        "lid_open": _boolean(told, "lid/open"),
    }


def _run(told: Mapping[str, str]) -> dict[str, Any]:
    return {
        "profile": _text(told, "run/profile"),
        "lacks": _text(told, "run/mode"),
        "run_id": _text(told, "run/id"),
        "elapsed_s": _span(told, ELAPSED),
        "phase_elapsed_s": _span(told, "run/phase-elapsed"),
        "remaining_s": _span(told, "run/remaining"),
        "progress": _share(told, "run/progress"),
        "ready_early": _moment(told, "run/ready-early"),
        "ready_at": _moment(told, "run/ready-at"),
        "ready_late": _moment(told, "run/ready-late"),
        "works_least_s": _span(told, "temper/working-time-least"),
        "works_s": _span(told, "temper/working-time"),
    }


def _summed(said: Mapping[str, Any]) -> dict[str, Any]:
    """What one message says of the run and its crystals."""
    return {
        "mode": _word(said, "state", Mode),
        "phase": _text(said, "phase"),
        "headline": _text(said, "headline"),
        "tripped": _truth(said, "tripped"),
        "heat_permitted": _truth(said, "permit"),
        "stop_pressed": _truth(said, "stop-pressed"),
        "temper": _word(said, "verdict", Temper),
        "confidence": _chance(said, "confidence"),
        "temper_why": _text(said, "why"),
        "advice": _text(said, "advice"),
        "set_test": _word(said, "set-test", Verdict),
    }


def _asked(said: object) -> Asked | None:
    """The open question; None also where part of it is missing."""
    if not isinstance(said, dict):
        return None
    id_, text = _text(said, "id"), _text(said, "text")
    choices = _words(said, "choices")
    if id_ is None or text is None or not choices:
        return None
    heating = frozenset(_words(said, "heating"))
    return Asked(id=id_, text=text, choices=choices, heating=heating & frozenset(choices))


def _words(said: Mapping[str, Any], key: str) -> tuple[str, ...]:
    words = said.get(key)
    if not isinstance(words, list):
        return ()
    return tuple(one for one in words[:_CHOICES] if isinstance(one, str) and one)


def _text(told: Mapping[str, Any], path: str) -> str | None:
    text = told.get(path, "")
    return text if isinstance(text, str) and text and text != NOTHING else None


def _number(told: Mapping[str, str], path: str) -> float | None:
    try:
        value = float(told[path])
    except (KeyError, ValueError):
        return None
    return value if math.isfinite(value) else None


def _span(told: Mapping[str, str], path: str) -> float | None:
    """A time of some length, in s."""
    value_s = _number(told, path)
    return value_s if value_s is not None and 0.0 <= value_s <= _LONGEST_S else None


def _share(told: Mapping[str, str], path: str) -> float | None:
    value = _number(told, path)
    return None if value is None else min(1.0, max(0.0, value / _PERCENT))


def _chance(said: Mapping[str, Any], key: str) -> float | None:
    value = said.get(key)
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    return float(value) if 0.0 <= value <= 1.0 else None  # NaN is not


def _truth(said: Mapping[str, Any], key: str) -> bool | None:
    value = said.get(key)
    return value if isinstance(value, bool) else None


def _boolean(told: Mapping[str, str], path: str) -> bool | None:
    return {"true": True, "false": False}.get(told.get(path, ""))


def _word(said: Mapping[str, Any], key: str, words: Callable[[str], _Word]) -> _Word | None:
    try:
        return words(said[key])
    except (KeyError, ValueError):
        return None


def _moment(told: Mapping[str, str], path: str) -> datetime | None:
    try:
        moment = datetime.fromisoformat(told[path])
    except (KeyError, ValueError):
        return None
    return moment if moment.tzinfo is not None else None


def _object(text: str | None) -> Mapping[str, Any] | None:
    try:
        said = json.loads(text or "")
    except (ValueError, RecursionError):
        return None
    return said if isinstance(said, dict) else None


def _row(described: Mapping[str, Any] | None, node: str, name: str) -> Mapping[str, Any]:
    """One property's description; empty where it has none."""
    found: Any = described
    for key in ("nodes", node, "properties", name):
        found = found.get(key) if isinstance(found, dict) else None
    return found if isinstance(found, dict) else {}


def _phases(described: Mapping[str, Any] | None) -> tuple[str, ...]:
    words = _row(described, "run", "phase").get("format")
    if not isinstance(words, str) or not words:
        return ()
    return tuple(word[:_LONGEST_WORD] for word in words.split(",")[:_PHASES])
