"""Following a profile: settle, dwell, ask, overrun and leave."""

import math
from typing import Any

import pytest

from controller.core.profile import Action, LateAction, Profile, Question, Verdict, When
from controller.core.requests import Outcome, answer
from controller.core.sequencer import advance, enter, is_overdue
from controller.core.state import EventName, Mode, Progress
from tests.helpers.records import replace
from tests.helpers.scene import DONE, GIVE_UP, LONGER, names, phase, profile, question

NAN = math.nan


def follow(progress: Progress, of: Profile, bowls_c: list[float]) -> list[Outcome]:
    """One tick a second at these bowl temperatures; stops with the run."""
    outcomes = []
    for bowl_c in bowls_c:
        outcome = advance(progress, of, bowl_c, 1.0)
        progress = outcome.progress
        outcomes.append(outcome)
        if outcome.mode is not Mode.RUNNING:
            break
    return outcomes


def when(name: EventName, outcomes: list[Outcome]) -> list[int]:
    """The seconds at which an event came; the first tick is second 1."""
    return [i for i, one in enumerate(outcomes, 1) if name in names(one.events)]


def one_phase(*questions: Question, **changes: Any) -> Profile:  # noqa: ANN401 - any field of the phase
    return profile(phase(questions=questions, **changes))


def begun(of: Profile, bowl_c: float = 20.0) -> Progress:
    return enter(0, of, bowl_c, Progress()).progress


def test_entering_a_phase_forgets_the_last_one_but_not_its_verdict() -> None:
    of = profile()
    before = Progress(
        phase_s=99.0,
        settled_s=9.0,
        dwelled_s=9.0,
        reached=True,
        dwelled=True,
        overran=True,
        answered=frozenset({"x"}),
        verdict=Verdict.IN_TEMPER,
    )
    outcome = enter(1, of, 41.5, before)
    assert outcome.progress == Progress(phase=1, start_bowl_c=41.5, verdict=Verdict.IN_TEMPER)
    assert outcome.mode is Mode.RUNNING
    assert names(outcome.events) == [EventName.PHASE_ENTERED]
    assert outcome.events[0].facts == {"phase": "hold", "bowl_target_c": 32.0, "bowl_c": 41.5}


def test_the_target_is_reached_once_the_bowl_has_settled_and_the_dwell_comes_after() -> None:
    of = one_phase(question())
    outcomes = follow(begun(of), of, [30.0, 39.4, *[39.5] * 20])
    assert when(EventName.TARGET_REACHED, outcomes) == [5]  # 3 s within 0.5 K
    assert when(EventName.DWELL_ENDED, outcomes) == [10]  # and 5 s after
    assert outcomes[-1].progress.phase_s == 22.0


def test_settling_begins_again_when_the_bowl_leaves_the_tolerance() -> None:
    of = one_phase(question())
    outcomes = follow(begun(of), of, [40.0, 40.0, 40.6, 40.5, 40.5, 40.5])
    assert when(EventName.TARGET_REACHED, outcomes) == [6]


def test_the_dwell_waits_while_the_bowl_is_out_of_tolerance() -> None:
    of = one_phase(question())
    outcomes = follow(begun(of), of, [40.0] * 5 + [41.0] * 7 + [40.0] * 3)
    assert when(EventName.DWELL_ENDED, outcomes) == [15]
    assert outcomes[9].progress.dwelled_s == 2.0
    assert all(one.progress.reached for one in outcomes[2:])


def test_without_a_bowl_reading_nothing_settles_or_dwells_but_time_passes() -> None:
    of = one_phase(question())
    outcomes = follow(begun(of), of, [40.0, 40.0, NAN, 40.0, 40.0])
    assert when(EventName.TARGET_REACHED, outcomes) == []
    assert outcomes[-1].progress.phase_s == 5.0


def test_a_phase_without_settle_and_dwell_is_over_at_its_first_tick_in_tolerance() -> None:
    of = profile(phase(settle_s=0.0, dwell_s=0.0), phase("hold"))
    (outcome,) = follow(begun(of), of, [40.0])
    assert names(outcome.events) == [
        EventName.TARGET_REACHED,
        EventName.DWELL_ENDED,
        EventName.PHASE_ENTERED,
    ]
    assert outcome.progress.phase == 1


def test_the_ramp_of_a_phase_entered_blind_begins_at_the_first_bowl_reading() -> None:
    of = one_phase()
    outcomes = follow(begun(of, NAN), of, [NAN, 25.0, 26.0])
    assert math.isnan(outcomes[0].progress.start_bowl_c)
    assert [one.progress.start_bowl_c for one in outcomes[1:]] == [25.0, 25.0]


def test_the_last_phase_s_end_completes_the_run() -> None:
    of = profile(phase())
    outcomes = follow(begun(of), of, [40.0] * 60)
    assert outcomes[-1].mode is Mode.COMPLETE
    assert len(outcomes) == 8


def test_the_next_phase_ramps_from_the_bowl_as_it_is() -> None:
    of = profile()
    outcomes = follow(begun(of), of, [40.25] * 8)
    assert outcomes[-1].progress == Progress(phase=1, start_bowl_c=40.25)


@pytest.mark.parametrize(
    ("moment", "bowl_c", "bowls_c", "second"),
    [
        (When.START, None, [20.0] * 3, 1),
        (When.BOWL_AT_MOST, 34.0, [36.0, 34.1, 34.0, 33.0], 3),
        (When.REACHED, None, [40.0] * 9, 3),
        (When.DWELLED, None, [40.0] * 9, 8),
    ],
)
def test_a_question_is_put_at_its_moment(
    moment: When, bowl_c: float | None, bowls_c: list[float], second: int
) -> None:
    of = one_phase(question(when=moment, bowl_c=bowl_c))
    outcomes = follow(begun(of), of, bowls_c)
    assert when(EventName.QUESTION_ASKED, outcomes) == [second]
    event = next(e for e in outcomes[second - 1].events if e.name is EventName.QUESTION_ASKED)
    assert event.facts == {
        "id": "look",
        "text": "Is all of it done?",
        "choices": "done, longer, firm, soft, give-up",
    }
    assert outcomes[-1].progress.ask == question(when=moment, bowl_c=bowl_c)


@pytest.mark.parametrize("bowl_c", [NAN, 34.1])
def test_a_question_for_a_cool_bowl_waits_without_a_reading(bowl_c: float) -> None:
    of = one_phase(question(when=When.BOWL_AT_MOST, bowl_c=34.0))
    outcomes = follow(begun(of), of, [bowl_c] * 3)
    assert when(EventName.QUESTION_ASKED, outcomes) == []


def test_a_question_for_a_cool_bowl_without_a_temperature_is_never_due() -> None:
    of = one_phase(question(when=When.BOWL_AT_MOST, bowl_c=None))
    assert when(EventName.QUESTION_ASKED, follow(begun(of), of, [-50.0] * 3)) == []


def test_questions_come_one_at_a_time_in_their_order() -> None:
    of = one_phase(question("first"), question("second"))
    first = follow(begun(of), of, [20.0] * 3)[-1].progress
    assert first.ask == question("first")
    closed = answer(question("first"), DONE, Mode.RUNNING, first, by="local").progress
    second = follow(closed, of, [20.0] * 2)
    assert when(EventName.QUESTION_ASKED, second) == [1]
    assert second[-1].progress.ask == question("second")


def test_a_phase_does_not_end_while_a_question_is_open() -> None:
    of = one_phase(question())
    outcomes = follow(begun(of), of, [40.0] * 60)
    assert len(outcomes) == 60
    closed = answer(question(), DONE, Mode.RUNNING, outcomes[-1].progress, by="local").progress
    assert follow(closed, of, [40.0])[-1].mode is Mode.COMPLETE


def test_a_phase_does_not_end_while_one_of_its_questions_was_never_put() -> None:
    of = one_phase(question(when=When.BOWL_AT_MOST, bowl_c=10.0))
    assert follow(begun(of), of, [40.0] * 60)[-1].mode is Mode.RUNNING


def test_dwelling_again_takes_the_whole_dwell_and_asks_again() -> None:
    of = one_phase(question(when=When.DWELLED))
    outcomes = follow(begun(of), of, [40.0] * 20)
    again = answer(
        question(when=When.DWELLED), LONGER, Mode.RUNNING, outcomes[-1].progress, by="local"
    )
    outcomes = follow(again.progress, of, [40.0] * 20)
    assert when(EventName.DWELL_ENDED, outcomes) == [5]
    assert when(EventName.QUESTION_ASKED, outcomes) == [5]
    assert outcomes[-1].mode is Mode.RUNNING


def test_a_question_left_unanswered_takes_its_default_exactly_after_its_time() -> None:
    of = one_phase(question(unanswered_s=4.0, unanswered="done"))
    outcomes = follow(begun(of), of, [20.0] * 9)
    assert when(EventName.QUESTION_ASKED, outcomes) == [1]
    assert when(EventName.QUESTION_ANSWERED, outcomes) == [5]
    facts = outcomes[4].events[0].facts
    assert (facts["choice"], facts["by"]) == ("done", "time")
    assert outcomes[-1].progress.answered == {"look"}


def test_the_time_of_a_question_begins_when_it_is_put() -> None:
    quick = question("quick", unanswered_s=2.0, unanswered="done")
    slow = question("slow", unanswered_s=3.0, unanswered="done")
    of = one_phase(quick, slow)
    outcomes = follow(begun(of), of, [20.0] * 9)
    assert when(EventName.QUESTION_ASKED, outcomes) == [1, 4]
    assert when(EventName.QUESTION_ANSWERED, outcomes) == [3, 7]


def test_a_default_that_gives_up_stops_the_run() -> None:
    of = one_phase(question(unanswered_s=2.0, unanswered=GIVE_UP.word))
    outcomes = follow(begun(of), of, [20.0] * 9)
    assert outcomes[-1].mode is Mode.STOPPING
    assert len(outcomes) == 3


@pytest.mark.parametrize("bowl_c", [20.0, NAN])
def test_a_question_without_a_time_waits_for_ever(bowl_c: float) -> None:
    of = one_phase(question(), late_after_s=math.inf)
    outcomes = follow(begun(of), of, [bowl_c] * 500)
    assert when(EventName.QUESTION_ANSWERED, outcomes) == []


@pytest.mark.parametrize(
    ("action", "mode", "overdue"),
    [
        (LateAction.WARN, Mode.RUNNING, False),
        (LateAction.STOP, Mode.STOPPING, False),
        (LateAction.TRIP, Mode.RUNNING, True),  # the interlock makes the trip of it
    ],
)
def test_a_phase_that_outlasts_its_time_does_what_its_profile_says(
    action: LateAction, mode: Mode, *, overdue: bool
) -> None:
    of = one_phase(late_after_s=5.0, late_action=action)
    outcomes = follow(begun(of), of, [20.0] * 6)
    assert when(EventName.PHASE_OVERRAN, outcomes) == [6]
    assert outcomes[-1].mode is mode
    assert outcomes[-1].events[0].facts == {"phase": "melt", "action": action, "bowl_c": 20.0}
    assert is_overdue(outcomes[-1].progress, of.phases[0]) is overdue
    assert not is_overdue(outcomes[-2].progress, of.phases[0])


def test_an_overrun_is_said_once() -> None:
    of = one_phase(late_after_s=5.0)
    assert when(EventName.PHASE_OVERRAN, follow(begun(of), of, [20.0] * 30)) == [6]


def test_a_stop_for_lateness_puts_no_question_any_more() -> None:
    of = one_phase(
        question(when=When.BOWL_AT_MOST, bowl_c=30.0),
        late_after_s=2.0,
        late_action=LateAction.STOP,
    )
    outcomes = follow(begun(of), of, [40.0, 40.0, 20.0])
    assert names(outcomes[-1].events) == [EventName.PHASE_OVERRAN]
    assert outcomes[-1].progress.ask is None


def test_a_longer_tick_counts_as_long_as_it_was() -> None:
    of: Profile = one_phase(question())
    progress = replace(begun(of), ask=question(), asked_s=1.0)
    after = advance(progress, of, 40.0, 2.5).progress
    assert (after.phase_s, after.settled_s, after.asked_s) == (2.5, 2.5, 3.5)


class Helper:
    """Works out amounts as a test wants them: each question's text says which."""

    def __init__(self, *, is_needed: bool = True, pays: bool = True, fresh: bool = False) -> None:
        """As asked."""
        self.is_needed, self.pays, self.fresh = is_needed, pays, fresh

    def put(self, ask: Question, progress: Progress) -> Question | None:  # noqa: ARG002 - the contract of Amounts
        """With an amount."""
        return replace(ask, share=0.5, mass_kg=1.5, text="1.5 kg") if self.is_needed else None

    def again(self, ask: Question, progress: Progress) -> Question | None:
        """The second step, once."""
        is_due = self.pays and "again" not in progress.answered
        return replace(ask, id="again", share=0.2, mass_kg=0.6, text="0.6 kg") if is_due else None

    def renewed(self, ask: Question, progress: Progress) -> Question | None:  # noqa: ARG002 - likewise
        """With another amount."""
        return replace(ask, mass_kg=1.0, text="1 kg") if self.fresh and ask.text != "1 kg" else None


COMPUTED = question("swap", action=Action.SWAP_WATER, water_c=15.0)


def test_an_amount_is_worked_out_as_the_question_is_put() -> None:
    of = one_phase(COMPUTED)
    outcome = advance(begun(of), of, 50.0, 1.0, Helper())
    assert outcome.events[0].facts["text"] == "1.5 kg"
    assert outcome.progress.ask == replace(COMPUTED, share=0.5, mass_kg=1.5, text="1.5 kg")


def test_a_question_with_nothing_to_do_is_not_put_and_holds_nothing_up() -> None:
    of = one_phase(COMPUTED)
    outcome = advance(begun(of), of, 50.0, 1.0, Helper(is_needed=False))
    assert outcome.progress.ask is None
    assert outcome.progress.answered == {"swap"}
    assert outcome.events == ()


def test_a_second_step_is_asked_for_only_once_and_only_before_the_target() -> None:
    of = one_phase(COMPUTED)
    done = replace(begun(of), answered=frozenset({"swap"}))
    outcome = advance(done, of, 50.0, 1.0, Helper())
    assert outcome.progress.ask is not None
    assert outcome.progress.ask.id == "again"
    both = replace(done, answered=frozenset({"swap", "again"}))
    assert advance(both, of, 50.0, 1.0, Helper()).progress.ask is None
    there = replace(done, reached=True)
    assert advance(there, of, 40.0, 1.0, Helper()).progress.ask is None
    assert advance(done, of, 50.0, 1.0, Helper(pays=False)).progress.ask is None


def test_a_second_step_does_not_stand_in_for_a_question_that_is_still_to_come() -> None:
    of = one_phase(COMPUTED, question("late", when=When.BOWL_AT_MOST, bowl_c=10.0))
    both = Progress(answered=frozenset({"swap", "again"}), reached=True, dwelled=True)
    assert advance(both, of, 40.0, 1.0, Helper()).mode is Mode.RUNNING


def test_an_open_question_is_put_anew_with_another_amount_and_keeps_its_time() -> None:
    of = one_phase(COMPUTED)
    asked = advance(begun(of), of, 50.0, 1.0, Helper()).progress
    waited = replace(asked, asked_s=30.0)
    outcome = advance(waited, of, 45.0, 1.0, Helper(fresh=True))
    assert names(outcome.events) == [EventName.QUESTION_ASKED]
    assert outcome.events[0].facts["text"] == "1 kg"
    assert outcome.progress.asked_s == 31.0
    assert advance(outcome.progress, of, 45.0, 1.0, Helper(fresh=True)).events == ()


def test_the_time_without_a_question_counts_from_its_answer() -> None:
    of = one_phase(COMPUTED)
    asked = advance(begun(of), of, 50.0, 1.0, Helper()).progress
    assert advance(asked, of, 50.0, 1.0, Helper()).progress.unasked_s == 0.0
    done = replace(asked, ask=None, answered=frozenset({"swap"}))
    assert advance(done, of, 50.0, 2.0, Helper(pays=False)).progress.unasked_s == 3.0


def timed(takes_s: float) -> Question:
    """A question whose deed takes so long."""
    return replace(question(), when=When.START, takes_s=takes_s)


def test_the_run_says_once_when_what_was_asked_for_has_had_its_time() -> None:
    of = one_phase(timed(5.0))
    outcomes = follow(begun(of), of, [20.0] * 20)
    (asked_at,) = when(EventName.QUESTION_ASKED, outcomes)
    assert when(EventName.QUESTION_TIMED, outcomes) == [asked_at + 5]


@pytest.mark.parametrize(("asked_s", "facts"), [(4.0, {"soon": True}), (5.0, {})])
def test_an_answer_before_that_is_noted_as_soon(asked_s: float, facts: dict[str, bool]) -> None:
    ask = timed(5.0)
    progress = Progress(ask=ask, asked_s=asked_s)
    (event,) = answer(ask, ask.choices[0], Mode.RUNNING, progress, by="local").events
    assert {key: event.facts[key] for key in event.facts if key == "soon"} == facts
