"""From the bytes of one line back to the record that they hold.

Responsible for refusing what is not exactly of this schema; not for files or order of lines.
"""

import math
from collections.abc import Mapping
from typing import TypeVar

from controller.core.lacks import Lack
from controller.core.profile import Verdict
from controller.core.state import Mode
from controller.journal.lines import unframed
from controller.journal.records import Closing, Header, Note, PhasePlan, Sample
from controller.ports import Truth

Fields = Mapping[str, object]
T = TypeVar("T")

_HEADER_TEXTS = (
    "run_id",
    "began_utc",
    "version",
    "profile_name",
    "profile_title",
    "profile_kind",
    "profile_source",
    "profile_made_of",
    "machine_name",
    "machine_made_of",
)
_HEADER_LATER = ("boot_id", "continues")  # came after the first files of schema 1
_HEADER_NUMBERS = ("period_s", "water_kg", "batch_kg", "heater_w")


def record_of_line(line: bytes, seq: int) -> Sample | Note | Closing | None:
    """The record of one line; None when it can't be trusted."""
    fields = unframed(line)
    if fields is None or fields.get("seq") != seq:
        return None
    try:
        kind = _as(str, fields["kind"])
        if kind == "sample":
            return _sample_of(fields)
        return _note_of(fields) if kind == "event" else _closing_of(fields)
    except (KeyError, TypeError, ValueError, OverflowError):
        return None


def _as(kind: type[T], value: object) -> T:
    if isinstance(value, kind):
        return value
    raise TypeError(f"expected {kind.__name__}")


def _number(value: object) -> float:
    """A number; null is NaN."""
    if value is None:
        return math.nan
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise TypeError("expected a number")
    return float(value)


def _optional(value: object) -> float | None:
    return None if value is None else _number(value)


def _scalar(value: object) -> str | float | bool:
    return value if isinstance(value, str | bool) else _number(value)


def _mapping(value: object) -> dict[str, object]:
    return {_as(str, key): item for key, item in _as(dict, value).items()}


def header_of_fields(fields: Fields) -> Header:
    """The header of a first line.

    Raises:
        KeyError: a key is missing.
        TypeError: a value is of another type than this schema says.
    """
    texts = {key: _as(str, fields[key]) for key in _HEADER_TEXTS}
    later = {key: _as(str, fields.get(key, "")) for key in _HEADER_LATER}
    numbers = {key: _number(fields[key]) for key in _HEADER_NUMBERS}
    phases = tuple(_plan_of(_mapping(phase)) for phase in _as(list, fields["phases"]))
    return Header(
        run_id=texts["run_id"],
        began_utc=texts["began_utc"],
        version=texts["version"],
        profile_name=texts["profile_name"],
        profile_title=texts["profile_title"],
        profile_kind=texts["profile_kind"],
        profile_source=texts["profile_source"],
        profile_made_of=texts["profile_made_of"],
        phases=phases,
        machine_name=texts["machine_name"],
        machine_made_of=texts["machine_made_of"],
        period_s=numbers["period_s"],
        water_kg=numbers["water_kg"],
        batch_kg=numbers["batch_kg"],
        heater_w=numbers["heater_w"],
        boot_id=later["boot_id"],
        continues=later["continues"],
        lacks=tuple(map(_lack_of, _as(list, fields.get("lacks", [])))),
    )


def _lack_of(value: object) -> Lack:
    text = _as(str, value)
    if text not in set(Lack):
        raise TypeError("expected a part that a machine can do without")
    return Lack(text)


def _plan_of(fields: Fields) -> PhasePlan:
    return PhasePlan(
        name=_as(str, fields["name"]),
        target_c=_number(fields["target_c"]),
        tolerance_k=_number(fields["tolerance_k"]),
        bath_ceiling_c=_number(fields["bath_ceiling_c"]),
        bath_cut_c=_number(fields["bath_cut_c"]),
    )


def _sample_of(fields: Fields) -> Sample:
    return Sample(
        seq=_as(int, fields["seq"]),
        t_s=_number(fields["t_s"]),
        mode=Mode(_as(str, fields["mode"])),
        phase=_as(str, fields["phase"]),
        bath_c=_number(fields["bath_c"]),
        bowl_c=_number(fields["bowl_c"]),
        bowl_setpoint_c=_number(fields["bowl_setpoint_c"]),
        bath_setpoint_c=_number(fields["bath_setpoint_c"]),
        duty=_number(fields["duty"]),
        heater_on=_as(int, fields["heater"]) == 1,
        stirrer_rpm=_number(fields["stirrer_rpm"]),
        shaft_rpm=_optional(fields["shaft_rpm"]),
        load_w=_optional(fields["load_w"]),
        heat_j=_number(fields["heat_j"]),
        switches=_as(int, fields["switches"]),
        verdict=Verdict(_as(str, fields["verdict"])),
    )


def _note_of(fields: Fields) -> Note:
    return Note(
        seq=_as(int, fields["seq"]),
        t_s=_number(fields["t_s"]),
        name=_as(str, fields["event"]),
        phase=_as(str, fields["phase"]),
        facts={key: _scalar(fact) for key, fact in _mapping(fields["facts"]).items()},
    )


def _closing_of(fields: Fields) -> Closing:
    truth = fields["truth"]
    return Closing(
        seq=_as(int, fields["seq"]),
        t_s=_number(fields["t_s"]),
        outcome=_as(str, fields["outcome"]),
        truth=None if truth is None else _truth_of(_mapping(truth)),
        signal=_as(str, fields.get("signal", "")),  # came after the first files of schema 1
    )


def _truth_of(fields: Fields) -> Truth:
    return Truth(
        form_v=_number(fields["form_v"]),
        unstable=_number(fields["unstable"]),
        bowl_c=_number(fields["bowl_c"]),
        bath_c=_number(fields["bath_c"]),
        energy_j=_number(fields["energy_j"]),
        verdict=Verdict(_as(str, fields["verdict"])),
    )
