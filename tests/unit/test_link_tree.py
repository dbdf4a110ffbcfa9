"""The tree and its description, against the Homie 5 convention."""

import json
import math
import re

import pytest

from controller.core.advice import Advice
from controller.core.interlocks import Cause
from controller.core.outlook import Outlook
from controller.core.profile import Verdict
from controller.core.reasons import WHY, fate
from controller.core.signals import STALE_AFTER_S, Reading, missing
from controller.core.state import Mode, Regulation, Switches
from controller.link.fitted_rows import EVERY_PART, FITTED_ROWS, Fitted, fitted_in
from controller.link.homie import Property, boolean, choices, describe, number
from controller.link.tree import NODES, alerts, tree
from controller.ports import Moment
from tests.helpers.homie import faults_in_value, parsed, properties
from tests.helpers.moments import SET_TEST, TRIP, moment, phase, profile, state
from tests.helpers.records import replace

OWN = profile()
BEGAN = "2026-11-25T06:00:00+00:00"
ROWS = tree(OWN, run_id="2026-11-25-a", began_utc=BEGAN, fitted=EVERY_PART)
SOON = Outlook(early_s=3000.0, likely_s=3600.0, late_s=4521.0)


def shown(given: Moment, rows: tuple[Property, ...] = ROWS) -> dict[str, str | None]:
    return {row.path: row.value(given) for row in rows}


def description(rows: tuple[Property, ...] = ROWS) -> str:
    return describe(rows, name="Kitchen", nodes=NODES)


QUESTION = dict.fromkeys(("ask/question", "ask/choices", "ask/heating", "ask/id"), "none")
CONTROL = {
    "control/command": None,
    "control/request": None,
    "control/response": '{"id": "none", "result": "none", "reason": "", "at": ""}',
    "control/token": "none",
}


NO_VERDICT = {
    "temper/verdict": "none",
    "temper/confidence": "0",
    "temper/why": "none",
    "temper/working-time-least": None,
    "temper/working-time": None,
    "temper/advice": "none",
    "temper/set-test": "none",
    "temper/leave": "none",
}


def test_a_run_at_work_is_shown_in_full() -> None:
    given = moment(
        state(outlook=SOON), shaft_rpm=29.6, load_w=1.234, lid=Reading(1.0), has_stop=True
    )
    told = shown(given)
    del told["run/summary"]  # tests of its own
    assert told == {
        "bowl/temperature": "43.21",
        "bowl/setpoint": "50.00",
        "bowl/rate": None,
        "bath/temperature": "55.00",
        "bath/setpoint": "56.50",
        "heater/demand": "73.4",
        "heater/relay": "true",
        "heater/permit": "true",
        "stirrer/running": "true",
        "stirrer/speed": "30",
        "stirrer/load": "1.23",
        "lid/open": "false",
        "stop/pressed": "false",
        "run/state": "running",
        "run/phase": "melt",
        "run/profile": "night-dark",
        "run/mode": "whole",
        "run/id": "2026-11-25-a",
        "run/elapsed": "125",
        "run/phase-elapsed": "61",
        "run/headline": ("Melting: 43.2 °C, on the way to 50.0 °C; ready in 58 min (48 to 73)"),
        "run/remaining": "3474",
        "run/progress": "3",
        "run/ready-early": "2026-11-25T06:50:00+00:00",
        "run/ready-at": "2026-11-25T07:00:00+00:00",
        "run/ready-late": "2026-11-25T07:15:00+00:00",
        **NO_VERDICT,
        **QUESTION,
        "safety/tripped": "false",
        "safety/cause": "none",
        "safety/alarms": "{}",
        "safety/heartbeat": "1000",
        **CONTROL,
    }


def test_an_open_question_is_shown_with_its_choices() -> None:
    asked = shown(moment(state(ask=SET_TEST)))
    assert asked["ask/question"] == SET_TEST.text
    assert asked["ask/choices"] == "yes, no, warm-on"
    assert asked["ask/heating"] == "warm-on"
    assert asked["ask/id"] == "set-test"
    assert asked["run/headline"] == SET_TEST.text


def test_a_trip_is_shown_with_its_cause_and_as_an_alert() -> None:
    given = moment(state(trips=(TRIP,), mode=Mode.ABORTED))
    assert shown(given)["safety/tripped"] == "true"
    assert shown(given)["safety/cause"] == "level-lost"
    told = f"{TRIP.what} {WHY[Cause.LEVEL_LOST]} {TRIP.action} {fate(Cause.LEVEL_LOST)}"
    assert alerts(given) == {"level-lost": f"Heat is off. {told}"}


def test_without_a_trip_there_is_no_alert() -> None:
    assert alerts(moment()) == {}


@pytest.mark.parametrize("cause", list(Cause))
def test_every_cause_can_stand_in_a_topic(cause: Cause) -> None:
    assert re.fullmatch(r"[a-z0-9]([a-z0-9-]*[a-z0-9])?", cause)


def test_the_commanded_speed_is_shown_where_no_shaft_is_read() -> None:
    assert shown(moment(stirrer_rpm=25.0))["stirrer/speed"] == "25"


def test_a_stopped_stirrer_is_not_running() -> None:
    assert shown(moment(stirrer_rpm=0.0))["stirrer/running"] == "false"


@pytest.mark.parametrize("part", list(Fitted))
def test_what_is_not_fitted_has_no_topic(part: Fitted) -> None:
    rows = tree(OWN, run_id="a", fitted=EVERY_PART - {part})
    missing_ = {row.path for row in ROWS} - {row.path for row in rows}
    assert missing_ == {FITTED_ROWS[part].path}


def test_what_is_fitted_is_known_by_a_tick() -> None:
    assert fitted_in(moment()) == frozenset()
    assert fitted_in(moment(load_w=math.nan)) == {Fitted.LOAD}
    assert fitted_in(moment(lid=missing())) == {Fitted.LID}
    assert fitted_in(moment(has_stop=True)) == {Fitted.STOP}


def test_an_open_lid_is_shown_and_one_that_can_not_be_read_is_neither_open_nor_closed() -> None:
    assert shown(moment(lid=Reading(0.0)))["lid/open"] == "true"
    for unread in (missing(), Reading(0.0, STALE_AFTER_S + 1.0), Reading(math.nan)):
        assert shown(moment(lid=unread))["lid/open"] is None


def test_a_button_that_was_pressed_stays_so_when_it_is_out_again() -> None:
    pressed = state(switches=Switches(is_pressed=True))
    assert shown(moment(pressed, has_stop=True))["stop/pressed"] == "true"


def test_what_has_no_value_is_not_made_up() -> None:
    given = moment(
        state(bath_c=math.nan, bowl_c=math.nan, regulation=Regulation()),
        shaft_rpm=math.nan,
        load_w=math.nan,
    )
    gone = {path for path, value in shown(given).items() if value is None}
    assert gone == {
        "bowl/temperature",
        "bowl/setpoint",
        "bowl/rate",
        "bath/temperature",
        "bath/setpoint",
        "stirrer/speed",
        "stirrer/load",
        "lid/open",
        "stop/pressed",
        "run/remaining",
        "run/progress",
        "run/ready-early",
        "run/ready-at",
        "run/ready-late",
        "temper/working-time",
        "temper/working-time-least",
        "control/command",
        "control/request",
    }
    assert shown(moment(load_w=None))["stirrer/load"] is None


def test_no_time_of_the_day_is_told_where_the_beginning_is_not_known() -> None:
    told = shown(moment(state(outlook=SOON)), tree(OWN, run_id="a"))
    assert told["run/ready-at"] is None
    assert told["run/remaining"] == "3474"


def test_a_run_without_an_id_shows_a_word_and_never_nothing() -> None:
    assert shown(moment(), tree(OWN, run_id=""))["run/id"] == "none"


def test_fahrenheit_changes_values_and_units_together() -> None:
    rows = tree(OWN, run_id="a", fahrenheit=True)
    values = shown(moment(state(bowl_c=45.0)), rows)
    assert values["bowl/temperature"] == "113.00"
    assert values["bowl/setpoint"] == "122.00"
    assert values["bath/temperature"] == "131.00"
    assert values["bath/setpoint"] == "133.70"
    assert values["run/headline"] == "Melting: 113.0 °F, on the way to 122.0 °F"
    said = "Stir in melt of 40 °C."
    given = moment(
        state(
            advice=Advice(text=said, leave=said),
            ask=replace(SET_TEST, text=said),
            trips=(replace(TRIP, what="The bath is at 71.0 °C."),),
        )
    )
    for path in ("temper/advice", "temper/leave", "ask/question"):
        assert shown(given, rows)[path] == "Stir in melt of 104 °F."
    assert "The bath is at 159.8 °F." in alerts(given, fahrenheit=True)["level-lost"]
    units = {row.path: row.unit for row in rows if row.unit.startswith("°")}
    temperatures = ("bowl/temperature", "bowl/setpoint", "bath/temperature", "bath/setpoint")
    assert units == {**dict.fromkeys(temperatures, "°F"), "bowl/rate": "°F/min"}


@pytest.mark.parametrize("fahrenheit", [False, True])
@pytest.mark.parametrize("fitted", [frozenset(), EVERY_PART])
def test_the_description_is_valid_homie(fahrenheit: bool, fitted: frozenset[Fitted]) -> None:
    rows = tree(OWN, run_id="a", fahrenheit=fahrenheit, fitted=fitted)
    described, faults = parsed(description(rows))
    assert faults == []
    assert [path for path, _ in properties(described)] == [row.path for row in rows]


@pytest.mark.parametrize("mode", list(Mode))
@pytest.mark.parametrize("verdict", list(Verdict))
def test_every_value_is_valid_homie(mode: Mode, verdict: Verdict) -> None:
    described, _ = parsed(description())
    values = shown(
        moment(
            state(mode=mode, verdict=verdict, trips=(TRIP,), ask=SET_TEST),
            load_w=0.0,
            lid=Reading(0.0),
            has_stop=True,
        )
    )
    for path, row in properties(described):
        payload = values[path]
        assert payload is None or faults_in_value(row, payload) == [], path


def test_only_commands_and_requests_are_settable_and_they_are_not_kept() -> None:
    odd = {row.path for row in ROWS if row.settable or not row.retained}
    assert odd == {"control/command", "control/request"}


def test_the_version_changes_with_the_description_only() -> None:
    def version(rows: tuple[Property, ...]) -> int:
        number_ = json.loads(description(rows))["version"]
        assert isinstance(number_, int)
        return number_

    assert version(ROWS) == version(tree(OWN, run_id="another", fitted=EVERY_PART))
    assert version(ROWS) != version(tree(OWN, run_id="2026-11-25-a"))
    assert version(ROWS) != version(tree(profile(phase("cool")), run_id="a", fitted=EVERY_PART))


def test_the_unit_is_a_degree_sign_and_a_letter() -> None:
    # Homie 5: the recommended unit is U+00B0 and C, not the single sign U+2103.
    assert '"unit": "\u00b0C"' in description()


def test_a_float_has_no_minus_zero_no_exponent_and_is_finite() -> None:
    assert number(-0.001, 2) == "0.00"
    assert number(1e-9, 2) == "0.00"
    assert number(123456789.0, 1) == "123456789.0"
    assert number(math.inf, 2) is None


def test_an_enum_names_each_word_once() -> None:
    assert choices(["cool", "hold", "cool"]) == "cool,hold"


def test_booleans_are_lower_case_words() -> None:
    assert (boolean(True), boolean(False)) == ("true", "false")


def test_phases_beyond_the_last_show_the_last() -> None:
    assert shown(moment(state(phase=2)))["run/phase"] == "hold"


def test_the_validator_sees_faults() -> None:
    """The judge itself: each spoiled description is refused."""
    good = json.loads(description())
    first = good["nodes"]["bowl"]["properties"]["temperature"]
    for spoiled in (
        {**good, "version": "1"},
        {**good, "homie": "4.0"},
        {**good, "surprise": 1},
        {**good, "nodes": None},
        {**good, "nodes": {"-bowl": {"properties": {"A b": {**first}}}}},
        {**good, "nodes": {"bowl": {"properties": {"t": {**first, "datatype": "real"}}}}},
        {**good, "nodes": {"bowl": {"properties": {"t": {**first, "datatype": "enum"}}}}},
        {**good, "nodes": {"bowl": {"properties": {"t": {**first, "unit": None}}}}},
        {**good, "nodes": {"bowl": {"properties": {"t": {**first, "settable": "no"}}}}},
    ):
        assert parsed(json.dumps(spoiled))[1] != []
    assert parsed('{"homie": "5.0", "homie": "5.0"}')[1] != []
    row = {"datatype": "float", "format": "0:100"}
    assert all(
        faults_in_value(row, bad) for bad in ("", "nan", "+1", "1,5", " 1", "101", "Infinity")
    )
    assert faults_in_value(row, "99.5") == []


def test_rows_are_values_and_can_be_compared() -> None:
    assert replace(ROWS[0], unit="K") != ROWS[0]
