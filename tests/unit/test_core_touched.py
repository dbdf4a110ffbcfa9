"""Whose word lets the interlocks count anew: a person's at the machine, and nobody else's."""

import pytest

from controller.core.profile import Action
from controller.core.signals import Reading, Source
from controller.core.state import EventName
from controller.core.thermal import BATH
from tests.helpers.scene import answers, heating, phase, profile, question


@pytest.mark.parametrize("source", [Source.LINK, Source.REMOTE])
def test_an_answer_from_afar_is_believed_and_lets_the_watch_count_on(source: Source) -> None:
    swap = question(action=Action.SWAP_WATER, share=0.5, water_c=15.0)
    rig = heating(profile=profile(phase(questions=(swap,))))
    assert rig.state.belief is not None
    before_c = rig.state.belief.mean[BATH]
    rig.step(answers("done", source=source))
    assert rig.facts(EventName.QUESTION_ANSWERED)[-1]["by"] == source
    assert not rig.state.watch.memory.touched
    assert rig.state.belief.mean[BATH] < before_c - 5.0


def test_a_question_s_time_that_ran_out_lets_the_watch_count_on() -> None:
    swap = question(
        action=Action.SWAP_WATER, share=0.5, water_c=15.0, unanswered="done", unanswered_s=20.0
    )
    rig = heating(profile=profile(phase(questions=(swap,))))
    for _ in range(60):
        rig.step()
        assert not rig.state.watch.memory.touched
    assert rig.facts(EventName.QUESTION_ANSWERED)[-1]["by"] == "time"


@pytest.mark.parametrize(
    ("falls_k", "after_s", "touched"),
    [(2.5, 1, True), (2.5, 55, True), (1.5, 1, False), (2.5, 75, False)],
)
def test_a_swap_said_from_afar_counts_once_the_bath_has_borne_it_out(
    falls_k: float, after_s: int, *, touched: bool
) -> None:
    swap = question(action=Action.SWAP_WATER, share=0.5, water_c=15.0)
    rig = heating(profile=profile(phase(questions=(swap,))))
    rig.step(answers("done", source=Source.LINK))
    bath_c = rig.state.hands.far_c
    assert bath_c == rig.state.bath_c
    came = []
    for second in range(100):
        rig.step(bath=Reading(bath_c - falls_k if second >= after_s else bath_c))
        came.append(rig.state.watch.memory.touched)
    assert came.count(True) == touched  # once, if at all
