"""The bytes of a journal: one JSON object a line, its CRC-32 as the last key.

Responsible for the same record always giving the same bytes; not for files or for reading back.
"""

import json
from collections.abc import Mapping
from math import isfinite
from zlib import crc32

from controller.core.kept_machine import learned_facts
from controller.core.kept_temper import facts_of
from controller.core.state import Event
from controller.journal.records import (
    CLOCK_READ,
    READY_FORETOLD,
    RECORDS_LOST,
    SCHEMA,
    TEMPER_JUDGED,
    Closing,
    Header,
    PhasePlan,
    Stamp,
)
from controller.ports import Moment, Truth

CRC_LENGTH = len(',"crc":"00000000"}')

Scalar = str | float | bool | None


def framed(head: str) -> bytes:
    """`head` (a JSON object without its last brace) with the CRC of its bytes, as one line.

    A lone surrogate, which a hostile answer may carry, becomes its JSON escape.
    """
    data = head.encode("utf-8", "backslashreplace")
    return b'%b,"crc":"%08x"}\n' % (data, crc32(data))


def unframed(line: bytes) -> dict[str, object] | None:
    """The object of a line without its newline; None when the line is not exactly as written."""
    head, tail = line[:-CRC_LENGTH], line[-CRC_LENGTH:]
    if tail != b',"crc":"%08x"}' % crc32(head):
        return None
    try:
        found = json.loads(head + b"}")
    except ValueError:
        return None
    return found if isinstance(found, dict) else None


def header_line(header: Header) -> bytes:
    """The first line of a journal; what a machine does without is named in it only if it does."""
    lacks = {"lacks": [lack.value for lack in header.lacks]} if header.lacks else {}
    return _line(
        {
            "seq": 0,
            "kind": "header",
            "schema": SCHEMA,
            "t_s": 0.0,
            "run_id": header.run_id,
            "began_utc": header.began_utc,
            "version": header.version,
            "profile_name": header.profile_name,
            "profile_title": header.profile_title,
            "profile_kind": header.profile_kind,
            "profile_source": header.profile_source,
            "profile_made_of": header.profile_made_of,
            "phases": [_plan(phase) for phase in header.phases],
            "machine_name": header.machine_name,
            "machine_made_of": header.machine_made_of,
            "period_s": _rounded("period_s", header.period_s),
            "water_kg": _rounded("water_kg", header.water_kg),
            "batch_kg": _rounded("batch_kg", header.batch_kg),
            "heater_w": _rounded("heater_w", header.heater_w),
            "boot_id": header.boot_id,
            "continues": header.continues,
            **lacks,
        }
    )


def note_line(seq: int, moment: Moment, event: Event, phase: str) -> bytes:
    """One event, its facts in the order of their names."""
    return _event_line(seq, moment.state.run_s, event.name.value, phase, event.facts)


def loss_line(seq: int, moment: Moment, phase: str, samples: int, events: int) -> bytes:
    """How many records the disk was too slow for, since the last such line."""
    facts = {"events": events, "samples": samples}
    return _event_line(seq, moment.state.run_s, RECORDS_LOST, phase, facts)


def stamp_line(seq: int, moment: Moment, phase: str, stamp: Stamp) -> bytes:
    """What the computer's other clocks say now."""
    facts: dict[str, Scalar] = {
        "boot_s": stamp.boot_s,
        "synchronised": stamp.synchronised,
        "utc": stamp.utc,
    }
    return _event_line(seq, moment.state.run_s, CLOCK_READ, phase, facts)


def forecast_line(seq: int, moment: Moment, phase: str) -> bytes:
    """When the chocolate will be ready, as it looks now; null where nobody can know."""
    outlook = moment.state.outlook
    facts: dict[str, Scalar] = {
        "early_s": outlook.early_s,
        "late_s": outlook.late_s,
        "likely_s": outlook.likely_s,
        "obstacle": outlook.obstacle.value,
    }
    return _event_line(seq, moment.state.run_s, READY_FORETOLD, phase, facts)


def temper_line(seq: int, moment: Moment, phase: str) -> bytes:
    """What is judged of temper now, and enough to go on from it after a cut."""
    facts = {**facts_of(moment.state.temper), **learned_facts(moment.state.belief)}
    return _event_line(seq, moment.state.run_s, TEMPER_JUDGED, phase, facts)


def _event_line(seq: int, t_s: float, name: str, phase: str, facts: Mapping[str, Scalar]) -> bytes:
    return _line(
        {
            "seq": seq,
            "kind": "event",
            "t_s": _rounded("t_s", t_s),
            "event": name,
            "phase": phase,
            "facts": {key: _rounded(key, facts[key]) for key in sorted(facts)},
        }
    )


def sample_line(seq: int, moment: Moment, quoted_phase: str, switches: int) -> bytes:
    """One sample, formatted by hand: this is the line that a run writes thousands of."""
    state = moment.state
    asked = state.regulation
    return framed(
        f'{{"seq":{seq},"kind":"sample","t_s":{_fixed3(state.run_s)}'
        f',"mode":"{state.mode.value}","phase":{quoted_phase}'
        f',"bath_c":{_fixed4(state.bath_c)},"bowl_c":{_fixed4(state.bowl_c)}'
        f',"bowl_setpoint_c":{_fixed4(asked.bowl_setpoint_c)}'
        f',"bath_setpoint_c":{_fixed4(asked.bath_setpoint_c)}'
        f',"duty":{_fixed4(asked.duty)},"heater":{int(moment.heater_on)}'
        f',"stirrer_rpm":{_fixed3(moment.stirrer_rpm)},"shaft_rpm":{_fixed3(moment.shaft_rpm)}'
        f',"load_w":{_fixed4(moment.load_w)},"heat_j":{_fixed3(state.heat_j)}'
        f',"switches":{switches},"verdict":"{state.progress.verdict.value}"'
    )


def closing_line(closing: Closing) -> bytes:
    """The last line of a journal; a signal is named in it only if one came."""
    signal = {"signal": closing.signal} if closing.signal else {}
    return _line(
        {
            "seq": closing.seq,
            "kind": "closing",
            "t_s": _rounded("t_s", closing.t_s),
            "outcome": closing.outcome,
            **signal,
            "truth": None if closing.truth is None else _truth(closing.truth),
        }
    )


def quoted(text: str) -> str:
    """`text` as JSON writes it."""
    return json.dumps(text, ensure_ascii=False)


def _line(record: dict[str, object]) -> bytes:
    text = json.dumps(record, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return framed(text[:-1])


def _fixed3(value: float | None) -> str:
    return "null" if value is None or not isfinite(value) else f"{value:.3f}"


def _fixed4(value: float | None) -> str:
    return "null" if value is None or not isfinite(value) else f"{value:.4f}"


def _rounded(key: str, value: Scalar) -> Scalar:
    """Numbers as the samples round them: times to 3 decimals, the rest to 4; no number, null."""
    if not isinstance(value, float):
        return value
    if not isfinite(value):
        return None
    return round(value, 3 if key.endswith("_s") else 4)


def _plan(phase: PhasePlan) -> dict[str, Scalar]:
    return {
        "name": phase.name,
        "target_c": _rounded("target_c", phase.target_c),
        "tolerance_k": _rounded("tolerance_k", phase.tolerance_k),
        "bath_ceiling_c": _rounded("bath_ceiling_c", phase.bath_ceiling_c),
        "bath_cut_c": _rounded("bath_cut_c", phase.bath_cut_c),
    }


def _truth(truth: Truth) -> dict[str, Scalar]:
    return {
        "form_v": _rounded("form_v", truth.form_v),
        "unstable": _rounded("unstable", truth.unstable),
        "bowl_c": _rounded("bowl_c", truth.bowl_c),
        "bath_c": _rounded("bath_c", truth.bath_c),
        "energy_j": _rounded("energy_j", truth.energy_j),
        "verdict": truth.verdict.value,
    }
