"""The facts of a run from its record, as the machine itself would say them.

Responsible for the newest value of each; not for reading the file (journal/growing) nor for how it
looks (layout). What a record doesn't hold is not there: which answers lead to heat, how long the
chocolate stays in temper.
"""

import math
from datetime import datetime, timedelta
from typing import Any

from controller.core.alarms import notice_of, trip_of
from controller.core.announcement import Deed
from controller.core.state import ENDED, EventName, Mode, Notice, Trip
from controller.core.switches import BY_SWITCH
from controller.core.tempering import Temper
from controller.core.words import (
    AT_REST,
    DOING,
    FINISHED,
    notice_sentence,
    shown_temperature,
    trip_sentence,
)
from controller.journal.growing import Record
from controller.journal.records import READY_FORETOLD, TEMPER_JUDGED, Closing, Header, Note, Sample
from controller.view.board import Standing, View
from controller.view.facts import Alert, Asked, Facts

# Own engineering value: samples come every 4 s and are synced within a second; two are missed.
OLD_AFTER_S = 10.0
_PAUSES = {
    Mode.PAUSING: "Going to a pause",
    Mode.PAUSED: "Paused",
    Mode.RESUMING: "Going on after a pause",
}


class Retelling:
    """What a record has told so far."""

    def __init__(self, header: Header) -> None:
        """Only what the run was going to do."""
        self._header = header
        self._sample: Sample | None = None
        self._asked: Asked | None = None
        self._trips: dict[str, Trip] = {}
        self._notices: dict[str, Notice] = {}
        self._withheld = False
        self._foretold: Note | None = None
        self._judged: Note | None = None
        self._entered_s = 0.0
        self._closing: Closing | None = None
        self._button = ""  # why the stop button ended it
        self._lid_open: bool | None = None

    @property
    def is_over(self) -> bool:
        """Whether the record has its end."""
        return self._closing is not None

    def hear(self, record: Record) -> None:
        """Take in the next record."""
        if isinstance(record, Sample):
            self._sample = record
            if record.mode in ENDED:  # it asks nothing any more
                self._asked = None
        elif isinstance(record, Closing):
            self._closing = record
        else:
            self._note(record)

    def view(self, age_s: float) -> View:
        """All that can be shown, when the newest record is `age_s` old."""
        standing = Standing.LIVE if age_s <= OLD_AFTER_S else Standing.OLD
        if self.is_over:
            standing = Standing.OFF
        return View(facts=self.facts(), standing=standing, age_s=age_s, samples=())

    def facts(self) -> Facts:
        """What the machine says, as far as the record knows."""
        sample, names = self._sample, tuple(plan.name for plan in self._header.phases)
        if sample is None:
            return Facts(device_state="ready", profile=self._header.profile_name, phases=names)
        plan = next((one for one in self._header.phases if one.name == sample.phase), None)
        return Facts(
            device_state="ready",
            profile=self._header.profile_name,
            run_id=self._header.run_id,
            phases=names,
            phase=sample.phase,
            mode=sample.mode,
            bowl_c=_known(sample.bowl_c),
            bath_c=_known(sample.bath_c),
            bowl_setpoint_c=_known(sample.bowl_setpoint_c) if plan is None else plan.target_c,
            bath_setpoint_c=_known(sample.bath_setpoint_c),
            duty=_known(sample.duty),
            heater_on=sample.heater_on,
            heat_permitted=not (self._withheld or self._trips),
            stirrer_on=sample.stirrer_rpm > 0.0,
            stirrer_rpm=sample.stirrer_rpm if sample.shaft_rpm is None else sample.shaft_rpm,
            stirrer_load_w=sample.load_w,
            elapsed_s=sample.t_s,
            phase_elapsed_s=max(0.0, sample.t_s - self._entered_s),
            headline=self._headline(sample),
            asked=self._asked,
            tripped=bool(self._trips),
            trip_cause=next(iter(self._trips), None),
            stop_pressed=bool(self._button),
            lid_open=self._lid_open,
            alerts=self._alerts(),
            set_test=sample.verdict,
            **self._temper(),
            **self._ready(sample.t_s),
        )

    def _note(self, note: Note) -> None:
        cause = str(note.facts.get("cause", ""))
        match note.name:
            case EventName.QUESTION_ASKED:
                self._asked = _asked(note)
            case EventName.QUESTION_ANSWERED:
                self._asked = None
            case EventName.PHASE_ENTERED:
                self._entered_s = note.t_s
            case EventName.HEAT_WITHHELD | EventName.HEAT_PERMITTED:
                self._withheld = note.name == EventName.HEAT_WITHHELD
            case EventName.ALARM_RAISED:
                self._notices[cause] = notice_of(note.facts, note.t_s)
            case EventName.ALARM_RETURNED:
                self._notices.pop(cause, None)
            case EventName.TRIP_LATCHED:
                self._trips[cause] = trip_of(note.facts, note.t_s)
                self._asked = None
            case _:
                self._note_besides(note)

    def _note_besides(self, note: Note) -> None:
        match note.name:
            case EventName.BUTTON_PRESSED:
                self._button = f"{note.facts.get('what', '')} {note.facts.get('action', '')}"
            case EventName.DEED_ANNOUNCED if note.facts.get("by") == BY_SWITCH:
                self._lid_open = note.facts.get("deed") == Deed.LID_OPEN
            case str() if note.name == READY_FORETOLD:
                self._foretold = note
            case str() if note.name == TEMPER_JUDGED:
                self._judged = note

    def _alerts(self) -> tuple[Alert, ...]:
        trips = tuple(self._trips.values())
        told = {one.cause: notice_sentence(one) for one in self._notices.values()}
        told |= {one.cause: trip_sentence(one, trips) for one in trips}
        return tuple(Alert(cause=cause, text=text) for cause, text in sorted(told.items()))

    def _headline(self, sample: Sample) -> str:
        """A trip before a question before all else, as the run itself says it."""
        trips = tuple(self._trips.values())
        if trips:
            return trip_sentence(trips[0], trips)
        if self._button and sample.mode in {Mode.STOPPING, Mode.STOPPED}:
            return self._button
        if self._asked is not None:
            return self._asked.text
        if sample.mode is Mode.COMPLETE:
            return FINISHED[sample.verdict]
        if sample.mode in AT_REST:
            return AT_REST[sample.mode]
        doing = DOING.get(sample.phase, sample.phase.capitalize())
        now = f"{_PAUSES.get(sample.mode, doing)}: {shown_temperature(sample.bowl_c)}"
        pressing = next(iter(self._notices.values()), None)
        return now if pressing is None else f"{now}. {notice_sentence(pressing)}"

    def _temper(self) -> dict[str, Any]:
        if self._judged is None:
            return {}
        facts = self._judged.facts
        verdict, sure = str(facts.get("verdict", "")), facts.get("confidence")
        return {
            "temper": Temper(verdict) if verdict in set(Temper) else None,
            "confidence": sure if isinstance(sure, float) and math.isfinite(sure) else None,
            "temper_why": str(facts.get("why", "")) or None,
        }

    def _ready(self, run_s: float) -> dict[str, Any]:
        """The forecast as it was noted last."""
        if self._foretold is None:
            return {}
        early, likely, late = (
            _seconds(self._foretold, key) for key in ("early_s", "likely_s", "late_s")
        )
        return {
            "ready_early": self._at(early),
            "ready_at": self._at(likely),
            "ready_late": self._at(late),
            "remaining_s": None if likely is None else max(0.0, likely - run_s),
        }

    def _at(self, run_s: float | None) -> datetime | None:
        """A moment of the run by the wall clock."""
        if run_s is None:
            return None
        try:
            began = datetime.fromisoformat(self._header.began_utc)
            return began + timedelta(seconds=run_s) if began.tzinfo else None
        except (ValueError, OverflowError):
            return None


def _known(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _seconds(note: Note, key: str) -> float | None:
    value = note.facts.get(key)
    return value if isinstance(value, float) and math.isfinite(value) else None


def _asked(note: Note) -> Asked:
    words = str(note.facts.get("choices", "")).split(", ")
    return Asked(
        id=str(note.facts.get("id", "")),
        text=str(note.facts.get("text", "")),
        choices=tuple(words),
        heating=frozenset(),
    )
