"""Advice while a batch is held: a rescue where temper is lost, a top-up where it thickens."""

from typing import Any

import pytest

from controller.core.advice import Matter
from controller.core.advising import advised, matter_of, top_up_text
from controller.core.ahead import Batch, kitchen_of
from controller.core.batches import COUNT, TemperState
from controller.core.profile import Kind, Profile, Verdict
from controller.core.state import Event, EventName, Mode, Progress, State
from controller.core.tempering import Temper, Unseen
from controller.core.thermal import begin, prior_of
from controller.files.profile_file import load_profile
from controller.wiring import machine_meant
from tests.helpers.records import replace

MACHINE = machine_meant(None).machine
DARK = load_profile("dark", MACHINE)
HOLD = len(DARK.phases) - 1
WORK_C = DARK.phases[HOLD].bowl_target_c


def warmed_to(warm_to_c: float | None) -> Profile:
    """Dark, its hold allowed to go up to a temperature."""
    *rest, hold = DARK.phases
    return replace(DARK, phases=(*rest, replace(hold, warm_to_c=warm_to_c)))


COOL_HOLD = warmed_to(None)


def held(form_v: float, verdict: Temper, **changes: Any) -> State:  # noqa: ANN401 - any field
    """A run that is held at work, its batch with so much form V."""
    temper = TemperState(
        verdict=verdict,
        confidence=0.95,
        form_v=(0.9 * form_v, form_v, 1.1 * form_v),
        unstable=0.0,
        bank=((form_v, 0.0, 0.7, 0.0, max(form_v, 0.02)),) * COUNT,
        keeps_s=(7200.0, 9000.0, 9000.0),
    )
    belief = begin(prior_of(MACHINE, Kind.DARK, 1.0), WORK_C, WORK_C, has_melted=True)
    return State(
        run_s=5000.0,
        mode=Mode.RUNNING,
        bath_c=WORK_C,
        bowl_c=WORK_C,
        belief=belief,
        temper=replace(temper, **changes),
        progress=Progress(phase=HOLD, reached=True),
    )


def told(state: State, profile: Profile = COOL_HOLD, ticks: int = 60) -> tuple[State, list[Event]]:
    """The run after so many ticks, and what was said."""
    events: list[Event] = []
    for _ in range(ticks):
        state = advised(replace(state, run_s=state.run_s + 1.0), profile, MACHINE, events)
    return state, events


def test_a_batch_in_temper_is_left_in_peace() -> None:
    state, events = told(held(0.015, Temper.IN_TEMPER))
    assert not events
    assert state.advice.text == ""


def test_a_batch_whose_crystals_have_melted_is_told_to_be_seeded_once() -> None:
    state, events = told(held(1e-5, Temper.MELTED_OUT))
    (event,) = events
    assert event.name is EventName.ADVICE_OFFERED
    assert event.facts["matter"] == Matter.RESCUE
    assert str(event.facts["advice"]).startswith("Add seed (")
    assert "Announce what you put in." in str(event.facts["advice"])
    assert state.advice.text == event.facts["advice"]
    assert not state.advice.left


def test_it_is_thought_through_an_action_a_tick() -> None:
    state, events = told(held(1e-5, Temper.MELTED_OUT), ticks=3)
    assert not events
    before = len(state.advice.left)
    assert before > 5
    state, _ = told(state, ticks=1)
    assert len(state.advice.left) == before - 1


def test_it_is_said_again_after_a_while_and_falls_silent_once_all_is_well() -> None:
    state, _ = told(held(1e-5, Temper.MELTED_OUT))
    later = replace(state, run_s=state.run_s + 1200.0, temper=replace(state.temper, at_s=1.0))
    again, _ = told(later, ticks=2)
    assert again.advice.left
    good = replace(state, temper=held(0.015, Temper.IN_TEMPER).temper)
    assert told(good, ticks=1)[0].advice.text == ""


def test_what_comes_and_goes_is_told_once_in_a_while_and_something_else_at_once() -> None:
    lost, good = held(1e-5, Temper.MELTED_OUT), held(0.015, Temper.IN_TEMPER)
    water = held(0.015, Temper.UNKNOWN, unseen=Unseen.LOAD)
    state, events = told(lost)
    for seen in (good, lost, good, lost):  # at the edge of being sure
        state, more = told(replace(state, temper=replace(seen.temper, at_s=state.run_s)))
        events += more
    assert len(events) == 1
    assert state.advice.text == events[0].facts["advice"]  # it stands, all the same
    state, more = told(replace(state, temper=replace(water.temper, at_s=state.run_s)))
    assert [event.facts["matter"] for event in more] == [Matter.WATER]
    later = replace(state, run_s=state.run_s + 1200.0, temper=good.temper)
    state, _ = told(later, ticks=1)
    _, more = told(replace(state, temper=replace(water.temper, at_s=state.run_s)))
    assert [event.facts["matter"] for event in more] == [Matter.WATER]


def test_advice_stands_while_it_is_thought_about_anew() -> None:
    state, _ = told(held(1e-5, Temper.MELTED_OUT))
    later = replace(state, run_s=state.run_s + 1200.0, temper=replace(state.temper, at_s=1.0))
    again, events = told(later, ticks=2)
    assert again.advice.left
    assert again.advice.text == state.advice.text
    assert not events


def test_what_thickens_is_warmed_first_and_topped_up_when_warmth_is_spent() -> None:
    thick = held(0.03, Temper.IN_TEMPER)
    # The trade warms it by 0.3 to 1 K in steps, or tops it up (common practice, no source).
    warm = warmed_to(WORK_C + 0.6)
    assert matter_of(thick, warm) is Matter.NONE
    spent = replace(thick, temper=replace(thick.temper, warmed_k=0.6))
    assert matter_of(spent, warm) is Matter.TOP_UP
    state, (event,) = told(thick)
    assert event.facts["matter"] == Matter.TOP_UP
    assert "stir in" in state.advice.text
    assert "announce topped-up" in state.advice.text


def test_the_grams_of_a_top_up_are_those_that_the_heat_balance_bears() -> None:
    # 1.0 kg at 31.0 °C with melt at 40 °C, not above 32.2 °C: 1.2 / 7.8 = 0.1538 kg, worked by
    # hand; what is solid is diluted by 1.1538.
    belief = begin(prior_of(MACHINE, Kind.DARK, 1.0), 31.0, 31.0, has_melted=True)
    bare = replace(kitchen_of(belief, MACHINE, 31.0), batch_kg=1.0, bowl_k_share=1.0)
    phase = replace(DARK.phases[HOLD], bowl_target_c=31.0, warm_to_c=32.2)
    batch = Batch(31.0, 31.0, held(0.035, Temper.IN_TEMPER).temper.bank)
    text = top_up_text(batch, bare, 0.035, phase)
    assert "stir in 154 g of melted, untempered chocolate of 40 °C" in text
    assert "from 3.5 to 3.0 % of the fat" in text
    assert "Not more than 154 g at once, or the bowl passes 32.2 °C." in text
    hot = batch._replace(bowl_c=32.2)
    assert "too warm for a top-up" in top_up_text(hot, bare, 0.035, phase)


def test_a_profile_of_a_single_phase_is_left_in_peace() -> None:
    alone = replace(COOL_HOLD, phases=COOL_HOLD.phases[-1:])
    lost = held(1e-5, Temper.MELTED_OUT)
    assert not told(replace(lost, progress=replace(lost.progress, phase=0)), alone)[1]


def test_where_its_own_phases_are_the_rescue_the_run_asks_once_whether_to_go_back() -> None:
    state, events = told(held(0.015, Temper.UNKNOWN, unseen=Unseen.TEST))
    assert [one.name for one in events] == [EventName.QUESTION_ASKED, EventName.ADVICE_OFFERED]
    assert state.progress.ask is not None
    assert state.progress.ask.choices[1].word == "melt-again"
    assert state.advice.text.endswith("it asks.")


def test_a_set_test_that_failed_is_believed_where_the_estimate_is_not_sure() -> None:
    unsure = held(0.015, Temper.UNKNOWN, confidence=0.5)
    assert matter_of(unsure, COOL_HOLD) is Matter.NONE
    failed = replace(unsure, progress=replace(unsure.progress, verdict=Verdict.NOT_IN_TEMPER))
    assert matter_of(failed, COOL_HOLD) is Matter.RESCUE
    sure = replace(failed, temper=held(0.015, Temper.IN_TEMPER).temper)
    assert matter_of(sure, COOL_HOLD) is Matter.NONE


def test_a_load_that_jumped_sends_somebody_to_look_for_water() -> None:
    state, (event,) = told(held(0.015, Temper.UNKNOWN, unseen=Unseen.LOAD))
    assert event.facts["matter"] == Matter.WATER
    assert "only ganache is left" in state.advice.text


def test_after_a_failed_set_test_all_of_it_is_melted() -> None:
    state, _ = told(held(0.015, Temper.UNKNOWN, unseen=Unseen.TEST))
    assert state.advice.text.startswith("Melt all of it")


@pytest.mark.parametrize(
    "state",
    [
        replace(held(1e-5, Temper.MELTED_OUT), mode=Mode.PAUSED),
        replace(held(1e-5, Temper.MELTED_OUT), belief=None),
        held(1e-5, Temper.MELTED_OUT, confidence=0.7),
        held(1e-5, Temper.UNKNOWN, unseen=Unseen.BLIND),
        replace(held(1e-5, Temper.MELTED_OUT), progress=Progress(phase=HOLD - 1, reached=True)),
    ],
)
def test_nothing_is_advised_where_nobody_is_sure_or_nothing_is_held(state: State) -> None:
    assert not told(state)[1]
