"""The facts of a machine, read from what its real tree says, and from nonsense."""

import json
from datetime import UTC, datetime

import pytest

from controller.core.batches import TemperState
from controller.core.outlook import Outlook
from controller.core.profile import Verdict
from controller.core.signals import Reading, missing
from controller.core.state import Mode, Regulation, Switches
from controller.core.tempering import Temper
from controller.view.facts import Asked, Facts, facts_of
from tests.helpers.moments import SET_TEST, TRIP, moment, state
from tests.helpers.topics import told

AT_WORK = Regulation(bowl_setpoint_c=50.0, bath_setpoint_c=56.5, duty=0.73)
SOON = Outlook(early_s=3000.0, likely_s=3600.0, late_s=4521.0)


def test_a_run_at_work_is_read_in_full() -> None:
    temper = TemperState(verdict=Temper.IN_TEMPER, confidence=0.92, why="By the load.")
    given = moment(
        state(outlook=SOON, temper=temper, regulation=AT_WORK), shaft_rpm=29.6, load_w=1.234
    )
    assert facts_of(told(given)) == Facts(
        device_state="ready",
        bowl_c=43.21,
        bath_c=55.0,
        bowl_setpoint_c=50.0,
        bath_setpoint_c=56.5,
        duty=0.73,
        heater_on=True,
        heat_permitted=True,
        stirrer_on=True,
        stirrer_rpm=30.0,
        stirrer_load_w=1.23,
        mode=Mode.RUNNING,
        phase="melt",
        phases=("melt", "hold"),
        profile="night-dark",
        lacks="whole",
        run_id="a",
        elapsed_s=125.0,
        phase_elapsed_s=61.0,
        headline="Melting: 43.2 °C, on the way to 50.0 °C; ready in 58 min (48 to 73)",
        remaining_s=3474.0,
        progress=0.03,
        ready_early=datetime(2026, 11, 25, 6, 50, tzinfo=UTC),
        ready_at=datetime(2026, 11, 25, 7, 0, tzinfo=UTC),
        ready_late=datetime(2026, 11, 25, 7, 15, tzinfo=UTC),
        temper=Temper.IN_TEMPER,
        confidence=0.92,
        temper_why="By the load.",
        set_test=Verdict.NONE,
        tripped=False,
        stop_pressed=False,
    )


def test_an_open_question_is_read_with_what_leads_to_heat() -> None:
    assert facts_of(told(moment(state(ask=SET_TEST)))).asked == Asked(
        id="set-test",
        text=SET_TEST.text,
        choices=("yes", "no", "warm-on"),
        heating=frozenset({"warm-on"}),
    )


def test_lid_and_stop_button_are_read_where_they_are_fitted() -> None:
    pressed = state(mode=Mode.STOPPED, switches=Switches(is_pressed=True))
    assert facts_of(told(moment(pressed))).stop_pressed
    for lid, is_open in ((Reading(0.0), True), (Reading(1.0), False), (missing(), None)):
        assert facts_of(told(moment(lid=lid))).lid_open is is_open
    assert facts_of(told()).lid_open is None


def test_half_a_question_is_no_question() -> None:
    whole = told(moment(state(ask=SET_TEST)))
    said = json.loads(whole["run/summary"])
    nothings: tuple[object, ...] = ("none", None, [], 3)
    for part in ("id", "text", "choices"):
        for nothing in nothings:
            told_ = said | {"ask": said["ask"] | {part: nothing}}
            assert facts_of({**whole, "run/summary": json.dumps(told_)}).asked is None


@pytest.mark.parametrize(
    "text",
    [
        "",
        "[]",
        "[" * 100_000,
        "nonsense",
        '{"confidence": NaN, "tripped": 1, "state": ["a"], "ask": [], "why": {}}',
        '{"confidence": 1e999, "permit": "true", "phase": 7, "ask": {"choices": 3}}',
        '{"confidence": ' + "9" * 400 + ', "verdict": {}, "ask": {"choices": [[], 1]}}',
    ],
)
def test_a_summary_of_nonsense_is_nothing_known(text: str) -> None:
    facts = facts_of(told(moment(state(ask=SET_TEST))) | {"run/summary": text})
    read = (facts.mode, facts.phase, facts.tripped, facts.heat_permitted, facts.confidence)
    assert set(read) == {None}
    assert (facts.asked, facts.temper, facts.temper_why, facts.headline) == (None,) * 4
    assert facts.bowl_c == 43.21


def test_word_and_sentence_are_read_from_one_message() -> None:
    later = told(moment(state(phase=1, bowl_c=31.5)))
    mixed = told() | {path: text for path, text in later.items() if path != "run/summary"}
    assert (facts_of(mixed).phase, facts_of(mixed).headline) == (
        "melt",
        "Melting: 43.2 °C, on the way to 50.0 °C",
    )


def test_a_trip_is_read_with_what_to_do() -> None:
    facts = facts_of(told(moment(state(trips=(TRIP,), mode=Mode.ABORTED))))
    assert (facts.tripped, facts.trip_cause, facts.mode) == (True, "level-lost", Mode.ABORTED)
    (alert,) = facts.alerts
    assert alert.cause == "level-lost"
    assert TRIP.what in alert.text
    assert TRIP.action in alert.text


def test_a_machine_that_speaks_in_fahrenheit_is_read_in_celsius() -> None:
    facts = facts_of(told(moment(), fahrenheit=True) | {"bowl/rate": "1.80"})
    assert facts.fahrenheit
    assert facts.bowl_c == pytest.approx(43.21, abs=0.01)
    assert facts.bath_setpoint_c == pytest.approx(56.5, abs=0.01)
    assert facts.bowl_k_per_min == pytest.approx(1.0)


def test_while_nobody_has_said_the_scale_there_is_no_temperature() -> None:
    without = {path: text for path, text in told().items() if path != "$description"}
    for description in ("", "[]", "{}", "nonsense", "[" * 100_000, '{"nodes": {"bowl": 3}}'):
        facts = facts_of({**without, "$description": description})
        assert (facts.bowl_c, facts.bath_c, facts.phases) == (None, None, ())
        assert facts.elapsed_s == 125.0


@pytest.mark.parametrize("text", ["", "none", "warm", "nan", "inf", "\x00", "9" * 400, "1e"])
def test_nonsense_is_nothing_known(text: str) -> None:
    whole = told()
    for path in whole.keys() - {"$description", "$state"}:
        facts = facts_of({**whole, path: text})
        assert facts.device_state == "ready"
    facts = facts_of(dict.fromkeys(whole, text) | {"$description": whole["$description"]})
    read = (facts.mode, facts.temper, facts.ready_at, facts.heater_on, facts.bowl_c, facts.tripped)
    assert set(read) <= {None, Temper.NONE}


def test_a_moment_without_a_zone_is_no_moment() -> None:
    assert facts_of({"run/ready-at": "2026-11-25T06:50:00"}).ready_at is None


def test_what_no_machine_can_mean_is_nothing_known() -> None:
    absurd = {
        "bowl/temperature": "1e300",
        "bath/temperature": "-273",
        "run/elapsed": "1e300",
        "run/remaining": "-1",
    }
    said = json.loads(told(moment(state(ask=SET_TEST)))["run/summary"])
    said["ask"]["choices"] = ["a"] * 2000
    absurd["run/summary"] = json.dumps(said)
    described = told()["$description"].replace("melt,hold", "x" * 100 + ",y" * 5000)
    whole = told(moment(state(ask=SET_TEST))) | absurd | {"$description": described}
    facts = facts_of(whole)
    read = (facts.bowl_c, facts.bath_c, facts.elapsed_s, facts.remaining_s)
    assert set(read) == {None}
    assert facts.asked is not None
    assert (len(facts.asked.choices), len(facts.phases), len(facts.phases[0])) == (16, 32, 64)
