"""When the chocolate will be ready: what is told, when nothing is, and how seldom one looks."""

import math
from itertools import pairwise

import pytest

from controller.core.chocolate import content_of
from controller.core.course import leg_s, melting_curve, pot_of, rates_of, shown
from controller.core.forecast import foresee
from controller.core.outlook import LIMIT_S, UNKNOWN, Obstacle
from controller.core.profile import Action, Kind, Phase
from controller.core.signals import Fault, Verb, missing
from controller.core.state import EventName, Mode, State
from controller.core.thermal import begin, prior_of
from controller.core.waits import wait_of
from tests.helpers.records import replace
from tests.helpers.scene import ROOM_C, Rig, asks, machine, phase, profile, question, state

MELT = phase(bowl_target_c=45.0, settle_s=60.0, dwell_s=600.0, bath_ceiling_c=55.0)
COOL = phase("cool", bowl_target_c=28.0, settle_s=60.0, dwell_s=300.0, stir_from_c=26.0)
HOLD = phase("hold", bowl_target_c=31.5, settle_s=60.0, stir_from_c=26.0)
SWAP = question("swap", action=Action.SWAP_WATER, share=0.9, water_c=12.0)


def under_way(bath_c: float, bowl_c: float, **changes: object) -> State:
    """A run whose belief has just begun, the chocolate melted."""
    belief = begin(prior_of(machine(), Kind.DARK, 1.0), bath_c, bowl_c, has_melted=True)
    return state(**{"belief": belief, "bath_c": bath_c, "bowl_c": bowl_c, **changes})


def hot(**changes: object) -> State:
    """At the end of a melt."""
    return under_way(46.0, 45.0, **changes)


def test_nothing_is_told_before_a_run_begins_or_while_it_is_paused() -> None:
    rig = Rig(profile=profile(MELT, HOLD))
    rig.step()
    assert math.isnan(rig.state.outlook.likely_s)
    rig.start().run(60)
    assert rig.state.outlook.likely_s > 900.0
    rig.step(asks(Verb.PAUSE))
    rig.run(3)
    assert rig.state.mode is Mode.PAUSED
    assert math.isnan(rig.state.outlook.likely_s)
    rig.step(asks(Verb.RESUME))
    rig.run(3)
    assert rig.state.outlook.likely_s > 900.0


def test_nothing_is_told_while_heat_is_withheld_or_a_probe_is_mute() -> None:
    own = profile(MELT, HOLD)
    assert math.isnan(foresee(hot(withheld=("late-tick",)), own, machine()).likely_s)
    rig = Rig(profile=own).start().run(60)
    rig.step(bowl=missing(Fault.NO_ANSWER))
    assert math.isnan(rig.state.outlook.likely_s)


def test_the_course_of_a_plain_machine_is_foreseen_and_comes_true() -> None:
    rig = Rig(profile=profile(MELT, replace(HOLD, bowl_target_c=45.0))).start().run(900)
    told = rig.state.outlook
    rig.run(6000, until=lambda rig: rig.state.outlook.is_ready)
    ready_s = rig.state.outlook.likely_s
    assert ready_s == rig.state.run_s
    assert told.early_s < ready_s < told.late_s
    assert told.early_s < told.likely_s < told.late_s


def test_what_has_come_true_stays_as_it_was() -> None:
    ready = foresee(hot(phase=1, reached=True), profile(MELT, HOLD), machine())
    assert ready.is_ready
    assert ready.early_s == ready.likely_s == ready.late_s == 100.0
    later = hot(phase=1, reached=True, outlook=ready, run_s=5000.0)
    assert foresee(later, profile(MELT, HOLD), machine()) is ready


def test_it_is_looked_at_only_every_while_and_at_once_when_something_has_changed() -> None:
    own = profile(COOL, HOLD)
    first = foresee(hot(), own, machine())
    soon = hot(outlook=first, run_s=first.due_s - 0.5)
    assert foresee(soon, own, machine()) is first
    assert foresee(replace(soon, run_s=first.due_s), own, machine()) is not first
    assert first.due_s - 100.0 >= 30.0
    reached = hot(outlook=first, run_s=101.0, reached=True)
    assert foresee(reached, own, machine()) is not first


def test_a_dwell_that_is_partly_over_counts_for_the_rest() -> None:
    own = profile(MELT, HOLD)
    whole = foresee(hot(reached=True), own, machine())
    rest = foresee(hot(reached=True, dwelled_s=400.0), own, machine())
    assert whole.likely_s - rest.likely_s == pytest.approx(400.0)


def test_a_question_is_taken_to_be_answered_as_soon_as_people_come() -> None:
    plain = foresee(hot(), profile(MELT, HOLD), machine())
    look, wait = question("look"), wait_of(1)
    asking = foresee(hot(), profile(replace(MELT, questions=(look,)), HOLD), machine())
    assert asking.likely_s - plain.likely_s == pytest.approx(wait.likely_s)
    late_s, plain_late_s = (one.late_s - one.likely_s for one in (asking, plain))
    assert late_s == pytest.approx(math.hypot(plain_late_s, wait.late_s - wait.likely_s))
    early_s, plain_early_s = (one.likely_s - one.early_s for one in (asking, plain))
    assert early_s == pytest.approx(math.hypot(plain_early_s, wait.likely_s - wait.early_s))
    waiting = hot(ask=look, asked_s=45.0)
    open_ = foresee(waiting, profile(replace(MELT, questions=(look,)), HOLD), machine())
    assert open_.likely_s - plain.likely_s == pytest.approx(wait_of(1, 45.0).likely_s)


def test_a_rate_limit_lasts_as_long_as_it_says() -> None:
    slow = replace(MELT, bowl_target_c=47.0, dwell_s=0.0, rate_limit_k_per_min=0.1)
    last = replace(MELT, bowl_target_c=47.0)
    told = foresee(hot(), profile(slow, last), machine())
    limit_s = (47.0 - 45.0 - slow.tolerance_k) * 600.0
    assert 0.0 < told.likely_s - 100.0 - limit_s < 300.0


def test_what_no_room_can_cool_has_no_ready_time_but_a_reason() -> None:
    warm = machine(room_c=29.0)
    belief = begin(prior_of(warm, Kind.DARK, 1.0), 46.0, 45.0, has_melted=True)
    told = foresee(hot(belief=belief), profile(COOL, HOLD), warm)
    assert math.isnan(told.likely_s)
    assert told.obstacle is Obstacle.ROOM
    assert (told.obstacle_c, told.room_c) == (28.0, 29.0)
    cold = replace(COOL, questions=(SWAP,))
    assert math.isfinite(foresee(hot(belief=belief), profile(cold, HOLD), warm).likely_s)


def test_colder_water_makes_a_cool_room_as_much_faster_as_it_is() -> None:
    by_itself = foresee(hot(), profile(COOL, HOLD), machine())
    swapped = foresee(hot(), profile(replace(COOL, questions=(SWAP,)), HOLD), machine())
    assert by_itself.likely_s > 3600.0
    assert swapped.likely_s < 2400.0


def test_seed_cools_the_bowl() -> None:
    seed = question("seed", action=Action.ADD_SEED, share=0.2)
    asking = replace(COOL, questions=(question("seed"),))
    plain = foresee(hot(), profile(asking, HOLD), machine())
    seeded = foresee(hot(), profile(replace(COOL, questions=(seed,)), HOLD), machine())
    assert seeded.likely_s < plain.likely_s


def test_a_heater_that_is_too_weak_is_an_obstacle_of_time() -> None:
    weak = machine(heater_w=30.0)
    belief = begin(prior_of(weak, Kind.DARK, 1.0), ROOM_C, ROOM_C)
    told = foresee(hot(belief=belief), profile(MELT, HOLD), weak)
    assert told.obstacle is Obstacle.TIME
    assert told.obstacle_c == 45.0
    assert math.isnan(told.late_s)


def course_s(bath_c: float, bowl_c: float, leg: Phase, *, settled_s: float = 0.0) -> float:
    """How long a leg of the nominal machine takes."""
    belief = begin(prior_of(machine(), Kind.DARK, 1.0), bath_c, bowl_c, has_melted=True)
    rates = rates_of(belief, machine(), leg.bowl_target_c, 0.0)
    return leg_s(pot_of(belief), leg, rates, settled_s)


def test_a_bowl_that_is_there_only_has_to_settle() -> None:
    assert course_s(32.0, 31.5, HOLD) == pytest.approx(60.0)
    assert course_s(32.0, 31.5, HOLD, settled_s=45.0) == pytest.approx(15.0)


def test_a_bowl_that_only_passes_through_has_not_settled() -> None:
    assert course_s(10.0, 29.0, COOL) > 300.0


def test_nothing_takes_longer_than_the_limit_without_being_called_endless() -> None:
    assert course_s(45.0, 45.0, replace(COOL, bowl_target_c=15.0)) == math.inf
    assert course_s(46.0, 45.0, COOL) < LIMIT_S


def test_the_melting_curve_goes_from_solid_to_molten_and_takes_the_latent_heat() -> None:
    content = content_of(Kind.MILK)
    curve = melting_curve(content, 1.0)
    assert [a < b for a, b in pairwise(curve)] == [True] * (len(curve) - 1)
    assert curve[0][1] - curve[0][0] == pytest.approx(content.latent_k)
    assert shown(curve, 40.0) == (40.0, 1.0)
    assert shown(curve, curve[0][0] - 5.0)[0] == pytest.approx(curve[0][1] - 5.0)
    middle_c, slope = shown(curve, 15.0)
    assert 26.0 < middle_c < 34.0
    assert slope < 0.6
    assert melting_curve(content, 0.0) == ()


def test_without_a_belief_nothing_is_told() -> None:
    told = foresee(state(), profile(MELT, HOLD), machine())
    assert math.isnan(told.likely_s)
    assert told.obstacle is UNKNOWN.obstacle


def test_a_target_out_of_reach_is_said_at_once_and_once() -> None:
    cold = replace(COOL, bowl_target_c=19.6)  # under the room
    rig = Rig(profile=profile(cold, HOLD), bath_c=45.0, bowl_c=45.0).start().run(120)
    told = rig.facts(EventName.OBSTACLE_FOUND)
    assert [fact["target_c"] for fact in told] == [19.6]
    assert str(told[0]["what"]).startswith("19.6 °C can't be reached")
    happened = [one.name for one in rig.events if one.name is not EventName.SIGHT_DECLARED]
    assert happened.index(EventName.OBSTACLE_FOUND) < 4  # among what the first second brings


def test_another_target_out_of_reach_is_said_again() -> None:
    once = foresee(hot(phase=1), profile(MELT, replace(COOL, bowl_target_c=19.6)), machine())
    assert once.warned_c == 19.6
    other = profile(MELT, replace(COOL, bowl_target_c=19.5))
    again = foresee(hot(phase=1, outlook=replace(once, due_s=0.0)), other, machine())
    assert again.warned_c == 19.5
    plain = foresee(hot(phase=0, outlook=replace(again, due_s=0.0)), profile(MELT), machine())
    assert (plain.obstacle, plain.warned_c) == (Obstacle.NONE, 19.5)
