"""What the page is told as JSON: ready texts, in the scale that is shown."""

import json
from typing import Any

from controller.core.batches import TemperState
from controller.core.state import Mode
from controller.core.tempering import Temper
from controller.link.settings import Remote
from controller.page.snapshot import curve, snapshot
from controller.view.board import Standing, View
from controller.view.curve import Sample
from controller.view.facts import facts_of
from tests.helpers.moments import SET_TEST, moment, state
from tests.helpers.records import replace
from tests.helpers.topics import told

SAMPLES = (
    Sample(run_s=0.0, phase="melt", bowl_c=20.0, bath_c=21.0, target_c=50.0),
    Sample(run_s=90.0, phase="melt", bowl_c=None, bath_c=40.0, target_c=50.0),
    Sample(run_s=150.0, phase="cool", bowl_c=43.21, bath_c=30.0, target_c=None),
)


def view(standing: Standing = Standing.LIVE, **changes: Any) -> View:  # noqa: ANN401 - any field of the state
    facts = facts_of(told(moment(state(**changes))))
    return View(facts=facts, standing=standing, age_s=1.0, samples=SAMPLES)


def shown(given: View, *, fahrenheit: bool | None = None) -> dict[str, Any]:
    read: dict[str, Any] = json.loads(snapshot(given, fahrenheit=fahrenheit, remote=Remote.OFF))
    return read


def test_the_curve_comes_column_by_column_with_its_phases() -> None:
    assert json.loads(curve(view(), fahrenheit=None)) == {
        "unit": "°C",
        "minutes": [0.0, 1.5, 2.5],
        "phases": [["melt", 0.0], ["cool", 2.5]],
        "bowl": [20.0, None, 43.2],
        "bath": [21.0, 40.0, 30.0],
        "target": [50.0, 50.0, None],
    }


def test_everything_is_shown_in_the_scale_that_is_wished_for() -> None:
    drawn = json.loads(curve(view(), fahrenheit=True))
    assert (drawn["unit"], drawn["bowl"]) == ("°F", [68.0, None, 109.8])
    facts = shown(view(), fahrenheit=True)
    assert (facts["bowl"], facts["bath"], facts["bowl_target"]) == (
        "109.8 °F",
        "131.0 °F",
        "122.0 °F",
    )
    assert facts["sentence"] == "Melting: 109.8 °F, on the way to 122.0 °F"
    ask = replace(SET_TEST, text="Let it set at 18 to 21 °C (64 to 70 °F).")
    asked = shown(view(ask=ask), fahrenheit=True)
    assert asked["sentence"] == asked["asked"]["text"] == "Let it set at 64 to 70 °F."


def test_a_run_that_is_over_wants_no_temperature_any_more() -> None:
    assert shown(view())["bowl_target"] == "50.0 °C"
    assert shown(view())["heat"] == "heat 73 %"
    for mode in (Mode.IDLE, Mode.STOPPED):
        facts = shown(view(mode=mode))
        assert (facts["bowl_target"], facts["heat"]) == ("-", "heat is off")


def test_how_long_it_keeps_is_said_where_it_is_known() -> None:
    def keeps(least_s: float, likely_s: float, most_s: float) -> object:
        temper = TemperState(
            verdict=Temper.IN_TEMPER,
            confidence=0.9,
            why="-",
            keeps_s=(least_s, likely_s, most_s),
            keeps_at_s=125.4,
        )
        return shown(view(temper=temper))["keeps"]

    inf = float("inf")
    assert keeps(1800.0, 3000.0, 9000.0) == {"likely": "50 min", "least": "30 min"}
    assert keeps(1800.0, inf, inf) == {"likely": "30 min or more", "least": "30 min"}
    assert keeps(inf, inf, inf) is None
    assert shown(view())["keeps"] is None


def test_a_machine_that_was_never_heard_of_is_not_known() -> None:
    assert shown(view())["known"]
    empty = View(facts=facts_of({}), standing=Standing.NO_MACHINE, age_s=None, samples=())
    told_ = shown(empty)
    assert (told_["known"], told_["live"], told_["bowl"], told_["word"]) == (
        False,
        False,
        "-",
        "No machine",
    )
    assert json.loads(curve(empty, fahrenheit=None))["minutes"] == []


def test_why_the_broker_can_not_be_heard_is_said() -> None:
    gone = view(Standing.NO_BROKER)
    read = snapshot(gone, fahrenheit=None, remote=Remote.OFF, trouble="not authorised")
    assert json.loads(read)["sentence"].endswith("(not authorised)")
    live = snapshot(view(), fahrenheit=None, remote=Remote.OFF, trouble="an old one")
    assert "an old one" not in live


def test_a_machine_that_calls_itself_nonsense_is_still_shown() -> None:
    lone = told()["$description"].replace("melt,hold", "\\ud800,hold")
    facts = facts_of(told() | {"$description": lone})
    assert facts.phases == ("\ud800", "hold")
    nonsense = View(facts=facts, standing=Standing.LIVE, age_s=1.0, samples=())
    snapshot(nonsense, fahrenheit=None, remote=Remote.OFF).encode()
