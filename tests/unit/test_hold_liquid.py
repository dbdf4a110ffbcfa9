"""Keeping chocolate liquid: somebody must be there, and say so every hour."""

import pytest

from controller.core.profile import Profile
from controller.core.requests import answer, consider
from controller.core.sequencer import advance, enter
from controller.core.signals import Request, Source, Verb
from controller.core.state import EventName, Mode, Progress
from controller.files.machine_file import load_machine_file
from controller.files.profile_file import load_profile

HOUR_S = 3600.0
STEP_S = 5.0


@pytest.fixture
def held() -> Profile:
    """The shipped profile."""
    return load_profile("hold-liquid", load_machine_file(None).machine)


def kept(profile: Profile, progress: Progress, *, answers: int) -> tuple[float, Mode, list[str]]:
    """Hold with so many answers of `here`: when it ended, how, and by whom it was answered."""
    time_s, by = 0.0, []
    hold_c = profile.phases[-1].bowl_target_c
    while True:
        after = advance(progress, profile, hold_c, STEP_S)
        time_s, progress = time_s + STEP_S, after.progress
        by += [
            str(event.facts["by"])
            for event in after.events
            if event.name is EventName.QUESTION_ANSWERED
        ]
        if after.mode is not Mode.RUNNING:
            return time_s, after.mode, by
        if progress.ask is not None and answers:
            answers -= 1
            here = next(one for one in progress.ask.choices if one.word == "here")
            progress = answer(progress.ask, here, Mode.RUNNING, progress, by="local").progress


def begun(profile: Profile) -> Progress:
    last = len(profile.phases) - 1
    return enter(last, profile, profile.phases[last].bowl_target_c, Progress()).progress


def test_an_hour_after_which_nobody_answers_ends_in_a_stop(held: Profile) -> None:
    ended_s, mode, by = kept(held, begun(held), answers=0)
    assert mode is Mode.STOPPING
    assert by == ["time"]
    # An hour and a quarter, own engineering values; a minute more for settling.
    assert 1.25 * HOUR_S <= ended_s <= 1.3 * HOUR_S


def test_each_answer_holds_for_one_more_hour(held: Profile) -> None:
    ended_s, mode, _ = kept(held, begun(held), answers=3)
    assert mode is Mode.STOPPING
    assert 4.25 * HOUR_S <= ended_s <= 4.3 * HOUR_S


def test_no_answer_holds_it_for_more_than_eight_hours(held: Profile) -> None:
    ended_s, mode, by = kept(held, begun(held), answers=99)
    assert mode is Mode.STOPPING
    assert by == []
    assert ended_s == pytest.approx(8 * HOUR_S + STEP_S)


def test_that_somebody_is_there_can_be_said_only_at_the_machine(held: Profile) -> None:
    (ask,) = held.phases[-1].questions
    progress = Progress(phase=1, ask=ask)
    far = Request(verb=Verb.ANSWER, source=Source.REMOTE, ask_id=ask.id, choice="here")
    assert consider(far, Mode.RUNNING, progress).progress.ask is ask
    near = Request(verb=Verb.ANSWER, source=Source.LOCAL, ask_id=ask.id, choice="here")
    assert consider(near, Mode.RUNNING, progress).progress.ask is None
