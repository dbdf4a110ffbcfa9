"""What a bath is asked for at most: under its phase's ceiling where that alone is not safe."""

import math

import pytest

from controller.core.ceilings import ceiling_of, spared_c, under_guards_c
from controller.core.consistency import Consistency, noted
from controller.core.evidence import ProbeMemory
from controller.core.interlock_rows import Cause
from controller.core.machine import Machine
from controller.core.proof import Proof
from controller.core.signals import Permit, Reading, Verb
from controller.core.state import State
from tests.helpers.records import replace
from tests.helpers.scene import Rig, asks, machine, phase, profile, state

NAN = math.nan
NO_BATH = machine(has_bath=False)
HELD_C, CEILING_C = 40.0, 41.5


def permit(bath_c: float) -> Permit:
    """The guard's word."""
    return Permit(latched="none", age_s=0.0, bath_c=bath_c)


def still(unchanged_s: float, bath_c: float, bowl_c: float = 40.0) -> State:
    """A bowl's thermometer that has shown one value for so long."""
    now = state(bath_c=bath_c, bowl_c=bowl_c)
    memory = replace(now.watch.memory, bowl=ProbeMemory(unchanged_s=unchanged_s))
    return replace(now, watch=replace(now.watch, memory=memory))


def held() -> Rig:
    """A run that holds its bowl, its guard's thermometer in the same bath."""
    endless = phase("hold", bowl_target_c=HELD_C, bath_ceiling_c=HELD_C + 1.0, dwell_s=9e9)
    rig = Rig(
        machine=machine(has_guard=True), profile=profile(endless), bath_c=HELD_C, bowl_c=HELD_C
    )
    rig.step(asks(Verb.START), permit=permit(HELD_C))
    rig.state = replace(rig.state, proof=Proof(cold_apart_k=0.0))
    return rig


@pytest.mark.parametrize(("unchanged_s", "most_c"), [(300.0, 33.8), (300.1, 33.5)])
def test_while_a_bowl_shows_one_value_for_long_its_bath_is_left_so_much_under_its_ceiling(
    unchanged_s: float, most_c: float
) -> None:
    assert spared_c(33.8, ProbeMemory(unchanged_s=unchanged_s)) == pytest.approx(most_c)


@pytest.mark.parametrize(
    ("guard_c", "most_c"),
    [
        (30.0, 33.4),
        (33.0, 33.4),
        (33.29, 33.4),  # two good ones may differ by so much
        (33.31, 33.39),
        (34.8, 31.9),
        (NAN, 33.4),
    ],
)
def test_a_bath_that_the_guard_sees_warmer_has_so_much_of_a_lower_ceiling(
    guard_c: float, most_c: float
) -> None:
    assert under_guards_c(33.4, 33.0, permit(guard_c)) == pytest.approx(most_c)
    assert under_guards_c(33.4, 33.0, None) == 33.4


@pytest.mark.parametrize(
    ("given", "unchanged_s", "guard_c", "most_c"),
    [
        (machine(), 0.0, NAN, 56.0),
        (machine(), 301.0, NAN, 55.7),
        (machine(), 301.0, 51.0, 55.0),  # the two together
        (NO_BATH, 0.0, NAN, 52.0 + 4.0),
        (NO_BATH, 301.0, NAN, 55.7),
        (NO_BATH, 0.0, 51.0, 56.0),
        (machine(has_bowl=False), 0.0, 52.0, 56.0),  # what is followed heeds the guard's already
    ],
)
def test_the_lowest_of_all_ceilings_counts(
    given: Machine, unchanged_s: float, guard_c: float, most_c: float
) -> None:
    now = still(unchanged_s, bath_c=50.0 if given.has_bath else NAN)
    said_c = ceiling_of(56.0, 52.0, now, permit(guard_c), given)
    assert said_c == pytest.approx(most_c)


@pytest.mark.parametrize(("later_s", "most_c"), [(59.0, 56.0), (60.0, 55.0)])
def test_two_thermometers_in_water_that_somebody_just_changed_lower_no_ceiling(
    later_s: float, most_c: float
) -> None:
    now = still(0.0, bath_c=50.0)
    memory = replace(now.watch.memory, seen=noted(Consistency(), 1000.0, touched=True))
    now = replace(now, run_s=1000.0 + later_s, watch=replace(now.watch, memory=memory))
    assert ceiling_of(56.0, 52.0, now, permit(51.3), machine()) == pytest.approx(most_c)


@pytest.mark.parametrize(
    ("unchanged_s", "bowl_c", "most_c"),
    [
        (60.0, 51.5, 56.0),
        (60.0, 53.0, 56.0),
        (60.0, 51.4, 55.0),
        (60.1, 51.5, 55.0),
        (0.0, NAN, 55.0),
    ],
)
def test_a_live_bowl_where_it_should_be_vouches_for_its_bath(
    unchanged_s: float, bowl_c: float, most_c: float
) -> None:
    now = still(unchanged_s, bath_c=50.0, bowl_c=bowl_c)
    assert ceiling_of(56.0, 52.0, now, permit(51.3), machine()) == pytest.approx(most_c)


def test_a_guards_thermometer_that_says_too_much_lets_no_held_bowl_go_cold() -> None:
    rig = held()
    bowls_c: list[float] = []
    for second in range(3600):
        high_k = 1.1 * min(1.0, second / 300.0)
        rig.step(permit=permit(rig.bath_c + high_k))
        bowls_c.append(rig.bowl_c)
    assert rig.causes == []
    assert min(bowls_c) > HELD_C - 0.3


def test_a_guards_thermometer_that_creeps_up_further_is_told() -> None:
    rig = held()
    for second in range(900):
        rig.step(permit=permit(rig.bath_c + 1.9 * min(1.0, second / 300.0)))
    assert rig.causes == [Cause.BATH_PROBES_DISAGREE]


@pytest.mark.parametrize(
    ("cold_k", "causes"), [(0.2, []), (0.0, [Cause.BATH_PROBES_DISAGREE]), (NAN, [])]
)
def test_what_the_two_differed_by_before_any_heat_is_no_creeping(
    cold_k: float, causes: list[Cause]
) -> None:
    rig = held()
    rig.state = replace(rig.state, proof=Proof(cold_apart_k=cold_k))
    for _ in range(600):
        rig.step(permit=permit(rig.bath_c + 1.3))
    assert rig.causes == causes


def test_an_unseen_bath_is_led_no_further_than_a_little_over_the_target() -> None:
    now = still(0.0, bath_c=NAN)
    assert ceiling_of(56.0, 50.0, now, None, NO_BATH) == 50.0 + 4.0
    assert ceiling_of(52.0, 50.0, now, None, NO_BATH) == 52.0
    assert ceiling_of(56.0, 50.0, still(0.0, bath_c=30.0), None, machine()) == 56.0


def test_a_bath_whose_thermometer_creeps_down_is_kept_under_its_ceiling_by_the_guards() -> None:
    endless = phase("hold", bowl_target_c=HELD_C, bath_ceiling_c=CEILING_C, dwell_s=9e9)
    rig = Rig(
        machine=machine(has_guard=True),
        profile=profile(endless),
        bath_c=HELD_C,
        bowl_c=HELD_C,
    )
    rig.step(asks(Verb.START), permit=permit(HELD_C))
    baths_c: list[float] = []
    for second in range(280):
        low_k = 1.8 * min(1.0, second / 200.0)
        rig.step(
            bath=Reading(rig.bath_c - low_k),
            bowl=Reading(HELD_C - 0.6 - 0.001 * second),
            permit=permit(rig.bath_c),
        )
        baths_c.append(rig.bath_c)
    assert rig.causes == []
    assert max(baths_c) < CEILING_C + 0.4
