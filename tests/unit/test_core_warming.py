"""Thickening answered by small warm steps: when, how far, and what it is never done for."""

import pytest

from controller.core.batches import TemperState
from controller.core.sequencer import advance
from controller.core.signals import Request, Verb
from controller.core.state import Mode, Progress
from controller.core.tempering import Temper, Unseen
from controller.core.tick import initial_state
from controller.core.warming import EVERY_S, STEP_K, warmed
from tests.helpers.records import replace
from tests.helpers.scene import Rig, machine, phase, profile
from tests.helpers.tempers import COOL, HOLD, TEMPERED, Batch

HELD = phase("hold", bowl_target_c=31.5, tolerance_k=0.3, warm_to_c=32.3)
THICK = TemperState(
    verdict=Temper.IN_TEMPER,
    confidence=0.9,
    form_v=(0.025, 0.03, 0.035),
    keeps_s=(600.0, 1200.0, 2000.0),
)


def stepped(temper: TemperState, times: int) -> list[float]:
    """How much warmer after each of so many looks, one each `EVERY_S`."""
    found = []
    for look in range(times):
        temper = warmed(temper, HELD, look * EVERY_S)
        found.append(temper.warmed_k)
    return found


def test_what_thickens_is_warmed_by_small_steps_and_no_further_than_the_profile_says() -> None:
    assert stepped(THICK, 4) == pytest.approx([0.3, 0.6, 0.8, 0.8])


def test_a_step_waits_for_the_last_one_to_show() -> None:
    once = warmed(THICK, HELD, 1000.0)
    assert once.warmed_k == STEP_K
    assert warmed(once, HELD, 999.0 + EVERY_S).warmed_k == STEP_K
    assert warmed(once, HELD, 1000.0 + EVERY_S).warmed_k == 2 * STEP_K


@pytest.mark.parametrize(
    "changes",
    [
        {"form_v": (0.01, 0.015, 0.02), "keeps_s": (5e3, 6e3, 7e3)},  # neither thick nor soon
        {"confidence": 0.7},
        {"verdict": Temper.UNDER},
        {"verdict": Temper.UNKNOWN},
    ],
)
def test_what_is_not_surely_thickening_is_left_as_it_is(changes: dict[str, object]) -> None:
    assert warmed(replace(THICK, **changes), HELD, 0.0).warmed_k == 0.0  # type: ignore[arg-type]


def test_what_will_soon_be_over_is_warmed_before_it_is_thick() -> None:
    soon = replace(THICK, form_v=(0.01, 0.015, 0.02))
    assert warmed(soon, HELD, 0.0).warmed_k == STEP_K


def test_a_step_is_taken_back_from_what_grows_thin_and_all_of_them_from_what_melts() -> None:
    warm = replace(THICK, warmed_k=0.6)
    thin = replace(warm, form_v=(0.008, 0.01, 0.011), keeps_s=(5e3, 6e3, 7e3))
    assert warmed(thin, HELD, 0.0).warmed_k == pytest.approx(0.3)
    for verdict in (Temper.UNDER, Temper.MELTED_OUT, Temper.NOT_YET):
        assert warmed(replace(warm, verdict=verdict), HELD, 0.0).warmed_k == 0.0


@pytest.mark.parametrize(
    ("middle", "unseen", "warmed_k"),
    [
        (0.03, Unseen.NOTHING, 0.6),  # somewhere between in temper and over: no time to let it cool
        (0.013, Unseen.NOTHING, 0.6),
        (0.012, Unseen.NOTHING, 0.0),
        (0.03, Unseen.LOAD, 0.0),  # nobody sees what there is
    ],
)
def test_steps_stay_while_it_is_unknown_how_thick_it_is_unless_warmth_may_melt_it(
    middle: float, unseen: Unseen, warmed_k: float
) -> None:
    warm = replace(THICK, warmed_k=0.6, verdict=Temper.UNKNOWN, unseen=unseen)
    warm = replace(warm, form_v=(0.5 * middle, middle, 2.0 * middle))
    assert warmed(warm, HELD, EVERY_S).warmed_k == warmed_k


def test_a_profile_that_allows_none_is_never_warmed() -> None:
    assert warmed(THICK, replace(HELD, warm_to_c=None), 0.0).warmed_k == 0.0


def test_the_estimate_says_that_it_is_held_warmer() -> None:
    hold = replace(TEMPERED.phases[-1], warm_to_c=32.6)
    batch = Batch(profile=replace(TEMPERED, phases=(*TEMPERED.phases[:-1], hold))).melted()
    batch.go(28.0, 5.0, phase=COOL)
    for step in range(1, 31):
        batch.solid = 0.001 * step
        batch.go(31.8, 0.5, phase=HOLD)
    batch.go(31.8, 2.0)
    assert batch.temper.warmed_k == STEP_K
    assert batch.temper.why.endswith("It is held 0.3 K warmer, for it thickens.")


@pytest.mark.parametrize(
    ("bowl_c", "reached", "counts"),
    [
        (31.3, True, True),
        (32.5, True, True),
        (32.7, True, False),
        (31.1, True, False),
        (32.5, False, False),  # one that comes from above has not arrived yet
    ],
)
def test_a_bowl_that_is_held_warmer_still_counts_as_held(
    bowl_c: float, reached: bool, counts: bool
) -> None:
    held = profile(phases=(replace(HELD, settle_s=100.0, dwell_s=600.0),))
    progress = Progress(reached=reached, start_bowl_c=32.0)
    after = advance(progress, held, bowl_c, 1.0).progress
    assert (after.settled_s > 0.0) is counts


def test_the_regulator_is_asked_for_the_warmer_bowl_but_not_in_a_pause() -> None:
    held = profile(phases=(replace(HELD, questions=()),))
    state = initial_state()
    rig = Rig(profile=held, machine=machine(), state=state, bath_c=31.5, bowl_c=31.5).start()
    rig.run(3)
    assert rig.state.regulation.bowl_setpoint_c == 31.5
    rig.state = replace(rig.state, temper=replace(rig.state.temper, warmed_k=0.3))
    rig.step()
    assert rig.state.regulation.bowl_setpoint_c == pytest.approx(31.8)
    rig.step(Request(verb=Verb.PAUSE))
    rig.run(2)
    assert rig.state.mode in {Mode.PAUSING, Mode.PAUSED}
    assert rig.state.regulation.bowl_setpoint_c == held.phases[0].pause_at_c
