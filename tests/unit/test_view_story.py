"""What a cook reads from across the room, in each state that a machine can be in."""

from dataclasses import replace
from typing import Any

import pytest

from controller.core.advice import Advice, Matter
from controller.core.batches import TemperState
from controller.core.interlock_rows import Priority
from controller.core.outlook import Outlook
from controller.core.profile import Verdict
from controller.core.signals import Reading
from controller.core.state import Mode, Notice, Regulation, Switches, Trip
from controller.core.tempering import Temper
from controller.view.board import Standing, View
from controller.view.facts import Alert, Asked, facts_of
from controller.view.scale import scaled
from controller.view.spans import age_text, span_text
from controller.view.story import (
    Story,
    Tone,
    freshness_text,
    heat_text,
    left_text,
    may_dip,
    remark,
    story,
    temperature_text,
    verdict_text,
    works_text,
)
from tests.helpers.moments import SET_TEST, TRIP, moment, state
from tests.helpers.topics import told

NOTICE = Notice(
    cause="probe-lost",
    priority=Priority.MEDIUM,
    at_s=0.0,
    seen_s=0.0,
    what="The bowl's thermometer gives no value.",
    action="See that it hangs in the bowl.",
    is_advice=False,
)


BUTTON = Switches(is_pressed=True)


def view(standing: Standing = Standing.LIVE, age_s: float | None = 1.0, **changes: Any) -> View:  # noqa: ANN401 - any field of the state
    facts = facts_of(told(moment(state(**changes))))
    return View(facts=facts, standing=standing, age_s=age_s, samples=())


def temper(verdict: Temper, **more: Any) -> TemperState:  # noqa: ANN401 - any field
    return TemperState(verdict=verdict, confidence=0.92, why="So says the load.", **more)


def working(seems: Temper, **changes: Any) -> View:  # noqa: ANN401 - any field of the state
    return view(temper=temper(seems), phase=1, **changes)


@pytest.mark.parametrize(
    ("given", "word", "tone"),
    [
        (view(mode=Mode.IDLE), "Idle", Tone.CALM),
        (view(), "Melting", Tone.CALM),
        (view(ask=SET_TEST), "Your turn", Tone.ASKS),
        (view(mode=Mode.PAUSED), "Paused", Tone.CALM),
        (view(mode=Mode.COMPLETE, verdict=Verdict.IN_TEMPER), "Finished", Tone.GOOD),
        (view(mode=Mode.COMPLETE, verdict=Verdict.NOT_IN_TEMPER), "Finished", Tone.CARE),
        (working(Temper.NONE), "Holding", Tone.CALM),
        (working(Temper.NOT_YET), "Holding", Tone.CALM),
        (working(Temper.UNKNOWN), "Holding", Tone.CALM),
        (working(Temper.UNKNOWN, verdict=Verdict.IN_TEMPER), "Ready", Tone.GOOD),
        (working(Temper.IN_TEMPER), "Ready", Tone.GOOD),
        (working(Temper.IN_TEMPER, verdict=Verdict.NOT_IN_TEMPER), "Don't dip", Tone.CARE),
        (working(Temper.OVER), "Thickening", Tone.CARE),
        (working(Temper.UNDER), "Don't dip", Tone.CARE),
        (working(Temper.MELTED_OUT), "Don't dip", Tone.CARE),
        (view(temper=temper(Temper.IN_TEMPER)), "Melting", Tone.CALM),
        (view(trips=(TRIP,), mode=Mode.ABORTED, ask=SET_TEST), "Tripped", Tone.ALARM),
        (view(notices=(NOTICE,), withheld=("probe-lost",), ask=SET_TEST), "Alarm", Tone.ALARM),
        (view(mode=Mode.STOPPED), "Stopped", Tone.CALM),
        (view(mode=Mode.STOPPED, switches=BUTTON), "Stop button", Tone.ALARM),
        (view(mode=Mode.STOPPING, switches=BUTTON, ask=SET_TEST), "Stop button", Tone.ALARM),
        (view(mode=Mode.ABORTED, switches=BUTTON, trips=(TRIP,)), "Tripped", Tone.ALARM),
        (view(mode=Mode.COMPLETE, switches=BUTTON), "Finished", Tone.GOOD),
        (view(notices=(NOTICE,)), "Look here", Tone.CARE),
        (view(notices=(NOTICE,), ask=SET_TEST), "Your turn", Tone.ASKS),
    ],
)
def test_each_state_has_its_word(given: View, word: str, tone: Tone) -> None:
    said = story(given)
    assert (said.word, said.tone) == (word, tone)


def test_what_is_wrong_is_said_in_full() -> None:
    assert TRIP.what in story(view(trips=(TRIP,), mode=Mode.ABORTED)).sentence
    assert TRIP.action in story(view(trips=(TRIP,), mode=Mode.ABORTED)).sentence
    said = story(view(notices=(NOTICE,), withheld=("probe-lost",))).sentence
    assert NOTICE.what in said
    assert NOTICE.action in said
    assert story(view(ask=SET_TEST)).sentence == SET_TEST.text


def test_a_stop_by_its_button_says_what_to_do_first() -> None:
    said = story(view(mode=Mode.STOPPED, switches=BUTTON)).sentence
    assert "heat and stirrer are off. See that nobody is caught" in said


def test_what_the_heater_does_is_said_as_it_is_whatever_it_was_asked_for() -> None:
    assert heat_text(view().facts) == "heat 73 %"
    assert heat_text(view(withheld=("probe-lost",)).facts) == "heat is held back"
    for over in (view(trips=(TRIP,)), view(mode=Mode.STOPPED), view(mode=Mode.IDLE)):
        assert heat_text(over.facts) == "heat is off"
    stuck = view(
        trips=(Trip(cause="relay-stuck-on", at_s=1.0, what="It rises.", action="Unplug."),)
    )
    assert heat_text(stuck.facts) == "heat was told to be off and may be ON"
    for later in (
        Trip(cause="heater-live-when-off", at_s=1.0, what="It is live.", action="Unplug."),
        Trip(
            cause="guard-latched",
            at_s=1.0,
            what="The guard forbids heat: the heater is live though it is told to be off.",
            action="Unplug.",
        ),
    ):
        assert heat_text(view(trips=(TRIP, later)).facts) == "heat was told to be off and may be ON"
    silent = Alert(cause="guard-silent", text="The guard says nothing.")
    unknown = replace(view(withheld=("guard-silent",)).facts, alerts=(silent,))
    assert heat_text(unknown) == "heat was told to be off and may be ON"
    assert heat_text(view(regulation=Regulation(duty=0.0)).facts) == "no heat needed now"
    full = state(regulation=Regulation(duty=1.0))
    for heater_on, says in ((True, "heat 100 %"), (False, "heat is off for now")):
        assert heat_text(facts_of(told(moment(full, heater_on=heater_on)))) == says
    assert heat_text(facts_of({})) == ""


def test_a_lid_that_is_off_is_remarked_on_while_a_run_goes_on() -> None:
    off = told(moment(lid=Reading(0.0)))
    given = replace(view(), facts=facts_of(off))
    assert remark(given).startswith("The lid is off")
    assert remark(replace(given, facts=facts_of(off | {"lid/open": "false"}))) == ""
    assert remark(replace(given, facts=replace(given.facts, mode=Mode.STOPPED))) == ""
    assert remark(replace(given, standing=Standing.OLD)) == ""
    assert story(given) == story(view())


@pytest.mark.parametrize("standing", [one for one in Standing if one is not Standing.LIVE])
def test_nothing_that_is_not_live_reads_as_if_it_were(standing: Standing) -> None:
    for changes in ({}, {"ask": SET_TEST}, {"trips": (TRIP,)}, {"mode": Mode.COMPLETE}):
        said = story(view(standing, **changes))
        assert said.tone is Tone.OLD
        assert said.word in {"No broker", "No machine", "Machine lost", "Not running", "Not live"}
        assert freshness_text(view(standing)) == "1 s old"


def test_an_age_that_nobody_knows_is_said_so() -> None:
    given = view(Standing.OLD, age_s=None)
    assert "nobody knows how old" in story(given).sentence
    assert freshness_text(given) == "of unknown age"
    assert freshness_text(view()) == "live"


def test_how_long_still_is_answered() -> None:
    soon = Outlook(early_s=3000.0, likely_s=3600.0, late_s=4521.0)
    assert left_text(view(outlook=soon).facts) == "58 min"
    assert left_text(view().facts) == "not known"
    there = Outlook(early_s=60.0, likely_s=100.0, late_s=120.0)
    assert left_text(view(outlook=there, phase=1).facts) == "ready"
    assert left_text(view(outlook=there).facts) == "under 1 min"
    assert left_text(view(outlook=soon, mode=Mode.IDLE).facts) == "not known"
    for mode in (Mode.ABORTED, Mode.STOPPED, Mode.COMPLETE):
        assert left_text(view(outlook=soon, mode=mode).facts) == "over"
    assert left_text(view(outlook=soon, trips=(TRIP,)).facts) == "over"


def test_may_i_dip_is_answered_with_its_why() -> None:
    assert may_dip(view(temper=temper(Temper.IN_TEMPER)).facts) == Story(
        word="Not yet", sentence="So says the load.", tone=Tone.CALM
    )
    tested = may_dip(working(Temper.UNKNOWN, verdict=Verdict.IN_TEMPER).facts)
    assert tested is not None
    assert tested.sentence == "The set test was clean. So says the load."
    unsure = may_dip(working(Temper.UNKNOWN).facts)
    assert unsure is not None
    assert unsure.word == "Can't say"
    assert may_dip(working(Temper.NONE).facts) is None
    assert "Top it up" in story(working(Temper.OVER)).sentence
    assert "wants seed" in story(working(Temper.MELTED_OUT)).sentence


def test_what_the_run_advises_is_what_is_said() -> None:
    advice = Advice(matter=Matter.TOP_UP, text="Top up with 150 g of melt at 40 °C.")
    for seems in (Temper.OVER, Temper.MELTED_OUT):
        said = story(working(seems, advice=advice)).sentence
        assert said == f"So says the load. {advice.text}"
    thickens = story(working(Temper.IN_TEMPER, advice=advice))
    assert thickens == Story(word="Ready", sentence=advice.text, tone=Tone.CARE)
    dip = may_dip(working(Temper.IN_TEMPER, advice=advice).facts)
    assert dip is not None
    assert dip.word == "Yes"


EVERY = [
    (seems, verdict, mode, phase, left_s, trips)
    for seems in Temper
    for verdict in Verdict
    for mode in Mode
    for phase in (0, 1)
    for left_s in (float("nan"), 0.0, 600.0)
    for trips in ((), (TRIP,))
]


def told_of(case: tuple[Any, ...]) -> View:
    seems, verdict, mode, phase, left_s, trips = case
    kept = temper(seems, keeps_s=(1800.0, 3000.0, 9000.0), keeps_at_s=125.4)
    soon = Outlook(early_s=125.4 + left_s, likely_s=125.4 + left_s, late_s=125.4 + left_s)
    return view(
        temper=kept,
        verdict=verdict,
        mode=mode,
        phase=phase,
        reached=True,
        dwelled=True,
        outlook=soon,
        trips=trips,
    )


def test_word_time_left_verdict_and_headline_say_one_thing_in_every_state() -> None:
    for case in EVERY:
        given = told_of(case)
        facts, said = given.facts, story(given)
        dip, left = may_dip(facts), left_text(facts)
        may = dip is not None and dip.word == "Yes"
        if said.word == "Ready":
            assert (may, left) == (True, "ready"), case
        if left == "ready":
            assert may or dip is None, case
            assert said.tone in {Tone.GOOD, Tone.CALM}, case
        if dip is not None and dip.word in {"No", "Too thick"} and facts.phase == "hold":
            assert left == "not ready", case
            assert works_text(facts) == "", case
            assert "in temper, 92" not in verdict_text(facts), case
            assert ", in temper" not in (facts.headline or ""), case
        if said.tone is Tone.GOOD and facts.mode is not Mode.COMPLETE:
            assert may, case
        if facts.tripped or left == "over":
            assert (dip, works_text(facts)) == (None, ""), case


def test_a_failed_set_test_overrules_what_the_estimate_says_everywhere() -> None:
    given = working(Temper.IN_TEMPER, verdict=Verdict.NOT_IN_TEMPER)
    assert story(given) == Story(
        word="Don't dip",
        sentence="The set test failed. By now it seems in temper: make another first.",
        tone=Tone.CARE,
    )
    assert left_text(given.facts) == "not ready"
    assert verdict_text(given.facts) == "by the set test not in temper"
    unsure = working(Temper.UNKNOWN, verdict=Verdict.NOT_IN_TEMPER)
    assert "wants seed, or to be tempered anew" in story(unsure).sentence


def test_on_its_way_to_the_last_target_it_is_not_ready_yet() -> None:
    soon = Outlook(early_s=425.4, likely_s=425.4, late_s=425.4)
    given = working(Temper.IN_TEMPER, outlook=soon)
    dip = may_dip(given.facts)
    assert dip is not None
    assert (story(given).word, dip.word, left_text(given.facts)) == ("Holding", "Not yet", "5 min")


def test_at_the_last_target_nothing_is_called_ready_that_nobody_can_judge() -> None:
    there = Outlook(early_s=60.0, likely_s=100.0, late_s=120.0)
    for seems, left in ((Temper.UNKNOWN, "not known"), (Temper.NOT_YET, "not ready")):
        assert left_text(working(seems, outlook=there).facts) == left
    assert left_text(working(Temper.NONE, outlook=there).facts) == "ready"


def test_the_verdict_and_its_time_are_worded() -> None:
    keeps = temper(Temper.IN_TEMPER, keeps_s=(1800.0, 3000.0, 9000.0), keeps_at_s=125.4)
    assert verdict_text(view(temper=keeps).facts) == "in temper, 92 % sure"
    assert works_text(view(temper=keeps).facts) == "50 min, 30 min at least"
    for seems, worded in ((Temper.OVER, "over-tempered"), (Temper.MELTED_OUT, "melted out")):
        assert verdict_text(view(temper=temper(seems)).facts) == f"{worded}, 92 % sure"
    for nothing in (Temper.UNKNOWN, Temper.NOT_YET, Temper.NONE):
        assert verdict_text(view(temper=temper(nothing)).facts) == ""
    assert works_text(view().facts) == ""
    long = temper(Temper.IN_TEMPER, keeps_s=(1800.0, float("inf"), float("inf")), keeps_at_s=125.4)
    assert works_text(view(temper=long).facts) == "30 min at least"


def test_temperatures_and_the_runs_own_sentence_come_in_the_scale_that_is_wished_for() -> None:
    assert temperature_text(43.21, fahrenheit=False) == "43.2 °C"
    assert temperature_text(43.21, fahrenheit=True) == "109.8 °F"
    assert temperature_text(None, fahrenheit=True) == "-"
    in_f = scaled(view(), fahrenheit=True)
    assert story(in_f).sentence == "Melting: 109.8 °F, on the way to 122.0 °F"
    assert story(scaled(view(), fahrenheit=None)).sentence == (
        "Melting: 43.2 °C, on the way to 50.0 °C"
    )


def test_every_sentence_is_in_the_scale_that_is_wished_for_and_no_other_word_changes() -> None:
    said = "Top up with melt of 40 °C."
    facts = replace(
        view().facts,
        headline=said,
        temper_why=said,
        advice=said,
        asked=Asked(id="swap-40 C", text=said, choices=("done",), heating=frozenset()),
        alerts=(Alert(cause="bath-hot", text=said),),
    )
    given = replace(view(), facts=facts)
    told = scaled(given, fahrenheit=True).facts
    asked = told.asked
    assert asked is not None
    sentences = (told.headline, told.temper_why, told.advice, asked.text, told.alerts[0].text)
    assert set(sentences) == {"Top up with melt of 104 °F."}
    assert (asked.id, told.alerts[0].cause) == ("swap-40 C", "bath-hot")
    assert scaled(given, fahrenheit=False) is given
    in_f = replace(given, facts=replace(facts, fahrenheit=True))  # as the machine said it already
    assert scaled(in_f, fahrenheit=True) is in_f


def test_spans_and_ages_are_worded() -> None:
    assert [span_text(span_s) for span_s in (0, 29, 31, 3570, 3599, 3899, 7200)] == [
        "under 1 min",
        "under 1 min",
        "1 min",
        "1 h 00 min",
        "1 h 00 min",
        "1 h 05 min",
        "2 h 00 min",
    ]
    assert [age_text(age_s) for age_s in (0.4, 12.0, 119.0, 600.0)] == [
        "0 s",
        "12 s",
        "119 s",
        "10 min",
    ]
