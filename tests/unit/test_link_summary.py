"""The one message of where a run stands, and the priority of each alarm."""

import json
from typing import Any

from controller.core.advice import Advice, Matter
from controller.core.batches import TemperState
from controller.core.interlock_rows import Priority
from controller.core.interlocks import PRIORITIES
from controller.core.profile import Choice, Question
from controller.core.state import Mode, Notice, Switches
from controller.core.tempering import Temper
from controller.core.words import headline
from controller.link.publisher import LONGEST
from controller.link.summary import ALARMS, SUMMARY
from controller.link.tree import tree
from tests.helpers.moments import SET_TEST, TRIP, moment, phase, profile, state
from tests.helpers.records import replace


def said(path: str, own: object = None, **changes: Any) -> Any:  # noqa: ANN401 - any JSON
    rows = {row.path: row for row in tree(own or profile(), run_id="a")}  # type: ignore[arg-type] # a profile
    text = rows[path].value(moment(state(**changes)))
    assert text is not None
    assert len(text) <= LONGEST
    return json.loads(text)


def test_word_and_sentence_of_one_tick_come_in_one_message() -> None:
    temper = TemperState(verdict=Temper.OVER, confidence=0.921, why="By the load.")
    advice = Advice(matter=Matter.TOP_UP, text="Top it up.")
    assert said(SUMMARY, phase=1, temper=temper, advice=advice) == {
        "state": "running",
        "phase": "hold",
        "tripped": False,
        "permit": True,
        "stop-pressed": False,
        "headline": headline(state(phase=1, temper=temper), profile()),
        "verdict": "over-tempered",
        "confidence": 0.92,
        "why": "By the load.",
        "advice": "Top it up.",
        "set-test": "none",
        "ask": None,
    }


def test_a_pressed_stop_button_comes_with_its_sentence() -> None:
    told = said(SUMMARY, mode=Mode.STOPPED, switches=Switches(is_pressed=True))
    assert told["stop-pressed"] is True
    assert told["headline"].startswith("The stop button is pressed")


def test_its_sentences_are_in_the_machine_s_own_scale() -> None:
    temper = TemperState(verdict=Temper.OVER, confidence=0.9, why="Held at 31.0 °C.")
    advice = Advice(matter=Matter.TOP_UP, text="Stir in melt of 40 °C.")
    asks = replace(SET_TEST, text="Swap water of 12.0 °C.")
    rows = {row.path: row for row in tree(profile(), run_id="a", fahrenheit=True)}
    text = rows[SUMMARY].value(moment(state(temper=temper, advice=advice, ask=asks)))
    assert text is not None
    assert "°C" not in text
    assert json.loads(text)["advice"] == "Stir in melt of 104 °F."


def test_a_question_comes_whole() -> None:
    assert said(SUMMARY, ask=SET_TEST)["ask"] == {
        "id": "set-test",
        "text": SET_TEST.text,
        "choices": ["yes", "no", "warm-on"],
        "heating": ["warm-on"],
    }


def test_texts_of_any_length_leave_it_readable() -> None:
    long = Question(
        id="x" * 64,
        text="\x00" * 9000,
        when=SET_TEST.when,
        bowl_c=None,
        choices=tuple(Choice(word="w" * 40 + str(n), adds_energy=True) for n in range(8)),
        unanswered_s=None,
        unanswered=None,
    )
    temper = TemperState(verdict=Temper.OVER, confidence=1.0, why='"' * 9000)
    advice = Advice(matter=Matter.RESCUE, text="ä" * 9000)
    own = profile(phase("p" * 64), phase("hold"))
    read = said(SUMMARY, own, ask=long, temper=temper, advice=advice)
    assert len(read["advice"]) == 640
    assert read["ask"]["text"]


def test_each_alarm_has_its_own_priority_and_a_trip_that_of_its_row() -> None:
    notice = Notice(
        cause="bath-probe-jumping",
        priority=Priority.LOW,
        at_s=0.0,
        seen_s=0.0,
        what="It jumps.",
        action="Look.",
        is_advice=False,
    )
    assert PRIORITIES[notice.cause] is Priority.MEDIUM  # once it trips
    assert said(ALARMS, notices=(notice,)) == {"bath-probe-jumping": "low"}
    late = replace(TRIP, cause="phase-late")
    assert said(ALARMS, notices=(notice,), trips=(TRIP, late), mode=Mode.ABORTED) == {
        "bath-probe-jumping": "low",
        "level-lost": "high",
        "phase-late": "medium",
    }
