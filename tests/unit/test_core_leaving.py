"""May I leave it for a while? Answers by fast-forwarding, and what can't be asked."""

import math

import pytest

from controller.core.batches import COUNT, TemperState
from controller.core.keeping import keeps_s
from controller.core.leaving import STAY, Answer, May, gone_on, leave_of, may_leave
from controller.core.profile import Kind, Profile, Question
from controller.core.state import EventName, Mode, Progress, State, Trip
from controller.core.tempering import Temper, spread_of
from controller.core.thermal import begin, prior_of
from controller.files.profile_file import load_profile
from controller.ports import Request, Source, Verb
from controller.wiring import machine_meant
from tests.helpers.records import replace
from tests.helpers.scene import Rig

MACHINE = machine_meant(None).machine
DARK = load_profile("dark", MACHINE)
SEEDED = load_profile("dark-seeded", MACHINE)
MELT, COOL, REWARM, HOLD = range(4)
MIN_S = 60.0


def temper(form_v: float, verdict: Temper = Temper.IN_TEMPER) -> TemperState:
    """A batch that is sure to have so much form V."""
    bank = ((form_v, 0.0, 0.7, 0.0, form_v),) * COUNT
    weights = TemperState().weights
    return TemperState(
        verdict=verdict,
        confidence=0.95,
        why="So it seems.",
        form_v=(form_v, form_v, form_v),
        unstable=0.0,
        bank=bank,
        keeps_s=keeps_s(bank, weights, 31.8),
        keeps_at_s=5000.0,
    )


def at(
    phase: int, bowl_c: float, *, profile: Profile = DARK, given: TemperState | None = None
) -> State:
    """A run that is there, and has reached it."""
    belief = begin(prior_of(MACHINE, Kind.DARK, 1.0), bowl_c, bowl_c, has_melted=phase > MELT)
    return State(
        run_s=5000.0,
        mode=Mode.RUNNING,
        bath_c=bowl_c,
        bowl_c=bowl_c,
        belief=belief,
        temper=given or TemperState(),
        progress=Progress(phase=phase, reached=True, answered=asked(profile, phase)),
    )


def asked(profile: Profile, phase: int) -> frozenset[str]:
    """All questions of a phase."""
    return frozenset(one.id for one in profile.phases[phase].questions)


def answer(state: State, minutes: float, profile: Profile = DARK) -> Answer:
    """What is said to whoever wants to leave it."""
    return may_leave(state, profile, MACHINE, minutes * MIN_S)


@pytest.mark.parametrize(
    ("text", "for_s"),
    [("leave 20 min", 1200.0), ("Leave for 1,5 h", 5400.0), ("leave  90 s", 90.0)],
)
def test_a_break_is_asked_for_in_words(text: str, for_s: float) -> None:
    assert leave_of(text) == for_s


@pytest.mark.parametrize(
    "text",
    ["leave", "leave 20", "leave -20 min", "leave 0 min", "leave 5 h", "leave 20 kg", "stop"],
)
def test_other_words_ask_for_none(text: str) -> None:
    assert leave_of(text) is None


def test_a_batch_in_temper_may_be_left_for_a_short_while_and_not_for_long() -> None:
    held = at(HOLD, 31.8, given=temper(0.012))
    short, long_ = answer(held, 15.0), answer(held, 240.0)
    assert short.may is May.YES
    assert "On return form V is about" in short.text
    assert short.text.endswith(STAY)
    assert long_.may is not May.YES


def test_what_grows_too_thick_meanwhile_is_topped_up_first() -> None:
    thick = at(HOLD, 31.8, given=temper(0.018))
    said = answer(thick, 25.0)
    assert said.may is May.BUT
    assert "stir in" in said.text
    assert "topped-up" in said.text


def test_where_no_top_up_helps_it_says_by_when_to_be_back() -> None:
    said = answer(at(HOLD, 31.8, given=temper(0.03)), 240.0)
    assert said.may is May.NO
    assert "Be back within" in said.text
    assert STAY not in said.text


def test_where_no_hour_of_return_is_known_none_is_said() -> None:
    batch = replace(temper(0.03), keeps_s=(math.inf, math.inf, math.inf))
    said = answer(at(HOLD, 31.8, given=batch), 240.0)
    assert said.may is May.NO
    assert "Be back within" not in said.text
    assert "On return form V is about" in said.text


def test_what_is_out_of_temper_is_seen_to_first() -> None:
    said = answer(at(HOLD, 31.8, given=temper(0.06, Temper.OVER)), 10.0)
    assert said.may is May.NO
    assert "So it seems." in said.text


def test_before_the_next_question_it_goes_on_alone() -> None:
    melting = at(MELT, 50.0)
    assert DARK.phases[MELT].dwell_s == 600.0
    assert answer(melting, 5.0).may is May.YES
    said = answer(melting, 30.0)
    assert said.may is May.BUT
    assert "in about 10 min it asks: Swap of the bath water" in said.text
    assert "ready about 20 min later" in said.text


def test_seed_that_is_due_does_not_bear_waiting() -> None:
    seeding = at(1, 36.0, profile=SEEDED)
    late = replace(
        seeding.progress, reached=False, answered=frozenset({"first-seed", "swap-water"})
    )
    said = answer(replace(seeding, progress=late), 60.0, SEEDED)
    assert said.may is May.NO
    assert "seed" in said.text


def test_an_open_question_is_answered_first() -> None:
    ask: Question = DARK.phases[COOL].questions[0]
    cooling = at(COOL, 50.0)
    said = answer(replace(cooling, progress=replace(cooling.progress, ask=ask)), 5.0)
    assert said.may is May.NO
    assert "It waits for you" in said.text


def test_a_tripped_run_a_paused_one_and_one_that_is_over_say_what_they_do() -> None:
    held = at(HOLD, 31.8)
    trip = Trip(cause="level-lost", at_s=1.0, what="Water is missing.", action="Fill it up.")
    tripped = replace(held, trips=(trip,), mode=Mode.ABORTED)
    assert answer(tripped, 5.0) == Answer(
        May.NO, "No. It has tripped: Water is missing. Fill it up."
    )
    paused = answer(replace(held, mode=Mode.PAUSED), 60.0)
    assert paused.may is May.YES
    assert "keeps the bowl at 31.8 °C" in paused.text
    over = answer(replace(held, mode=Mode.STOPPED), 60.0)
    assert "heat is off" in over.text
    assert STAY not in over.text
    unknown = answer(replace(held, belief=None), 60.0)
    assert unknown.may is May.NO


def test_a_hold_without_temper_is_kept_as_warm_as_it_is() -> None:
    plain = load_profile("melt-only", MACHINE)
    last = len(plain.phases) - 1
    state = at(last, 45.0, profile=plain)
    assert "It keeps the bowl at" in answer(state, 30.0, plain).text


def test_small_warm_steps_keep_it_thinner_where_the_profile_allows_them() -> None:
    # Held, it thickens for hours; the trade warms it by 0.3 to 1 K in steps (common practice, no
    # source).
    given, phase = temper(0.02), DARK.phases[HOLD]
    plain = replace(phase, warm_to_c=None)
    warm = replace(phase, warm_to_c=phase.bowl_target_c + 1.0)
    thick = [
        spread_of(gone_on(given.bank, given.weights, one, 0.0, 5400.0), given.weights)[0][1]
        for one in (plain, warm)
    ]
    assert thick[1] < thick[0]


def test_it_is_the_tick_that_answers_and_nothing_changes_by_it() -> None:
    rig = Rig(bath_c=42.0, bowl_c=40.0).start().run(300)
    before = rig.state
    (event,) = rig.step(Request(verb=Verb.LEAVE, source=Source.LINK, for_s=300.0))
    assert event.name is EventName.LEAVE_JUDGED
    assert event.facts["for_s"] == 300.0
    assert event.facts["may"] in set(May)
    assert rig.state.advice.leave == event.facts["answer"]
    assert rig.state.progress.phase == before.progress.phase
    assert rig.state.mode is before.mode
    for for_s in (math.nan, -5.0, 1e9):
        (refused,) = rig.step(Request(verb=Verb.LEAVE, for_s=for_s))
        assert refused.name is EventName.REQUEST_REFUSED
        assert "a break is up to 4 h" in str(refused.facts["reason"])
