"""Machines that do without a part: which modes that makes, what stands in, what is still safe."""

import math

import pytest

from controller.core.consistency import Consistency, noted
from controller.core.course import rates_of
from controller.core.estimate import Belief
from controller.core.lacks import MODES, Lack, lacks_of, mode_text, sentences, widened
from controller.core.machine import Machine
from controller.core.recovery import decide
from controller.core.recovery_rows import Cut, Now, Offer
from controller.core.signals import Permit, Reading, Readings, missing
from controller.core.stand_in import (
    bath_of,
    bath_over_k,
    bowl_of,
    measured_bath_c,
    stand_in_c,
    without_bowl,
)
from controller.core.state import Mode
from controller.core.surveillance import survey
from controller.core.thermal import BATH, BOWL, DRIFT, begin, prior_of
from controller.core.tick import _may_heat, tick
from controller.core.words import headline
from controller.files.profile_file import load_profile
from tests.helpers.records import replace
from tests.helpers.scene import machine, profile, readings, state

NAN = math.nan
NO_BATH, NO_BOWL = machine(has_bath=False), machine(has_bowl=False)
LIMP = machine(has_stirrer=False)
ALL = ("has_bath", "has_bowl", "has_stirrer")


def belief(bath_c: float, bowl_c: float, given: Machine = NO_BOWL) -> Belief:
    """What is believed at these temperatures."""
    return begin(prior_of(given, profile().kind, 1.0), bath_c, bowl_c)


def permit(bath_c: float) -> Permit:
    """The guard's word."""
    return Permit(latched="none", age_s=0.0, bath_c=bath_c)


def seeing(said: dict[str, Reading]) -> Readings:
    """Good readings but for what these thermometers say."""
    good = readings()
    return replace(good, bath=said.get("bath", good.bath), bowl=said.get("bowl", good.bowl))


def test_every_lack_has_a_mode_and_a_sentence_and_a_whole_machine_has_none() -> None:
    assert lacks_of(machine()) == ()
    assert mode_text(()) == "whole"
    assert [lacks_of(machine(**{flag: False})) for flag in ALL] == [(lack,) for lack in Lack]
    assert set(MODES) == set(Lack)
    assert all(len(sentences((lack,))) == 1 for lack in Lack)
    assert mode_text((Lack.BOWL_PROBE, Lack.STIRRER)) == "bath probe only, no stirrer"


def test_without_a_stirrer_every_phase_has_a_wider_band() -> None:
    whole, wide = widened(profile(), machine()), widened(profile(), LIMP)
    assert whole == profile()
    assert [phase.tolerance_k for phase in wide.phases] == [
        phase.tolerance_k + 0.5 for phase in whole.phases
    ]
    loaded = [load_profile("dark", one).phases[2].tolerance_k for one in (machine(), LIMP)]
    assert loaded == pytest.approx([0.3, 0.8])


def test_the_forecast_of_an_unstirred_machine_counts_on_no_stirring() -> None:
    standing = belief(30.0, 30.0, LIMP)
    assert not standing.is_stirred
    still, whole = (rates_of(standing, one, 40.0, 0.0) for one in (LIMP, machine()))
    assert still.k_per_s == still.still_k_per_s
    assert whole.k_per_s > 2.0 * whole.still_k_per_s


def test_measured_where_there_is_a_thermometer_and_stood_in_for_where_there_is_none() -> None:
    given = state(bath_c=41.0, bowl_c=39.0, stand_in_c=7.0)
    assert (bath_of(given, machine()), bowl_of(given, machine())) == (41.0, 39.0)
    assert (bath_of(given, NO_BATH), bowl_of(given, NO_BATH)) == (7.0, 39.0)
    assert (bath_of(given, NO_BOWL), bowl_of(given, NO_BOWL)) == (41.0, 7.0)


@pytest.mark.parametrize(
    ("said", "expected_c"),
    [
        (None, 45.0 + 2.0),
        (permit(NAN), 45.0 + 2.0),
        (permit(44.0), 45.0),
        (permit(48.0), 48.0),
    ],
)
def test_an_unseen_bath_is_taken_to_be_as_warm_as_anybody_says(
    said: Permit | None, expected_c: float
) -> None:
    given = state(bath_c=NAN, belief=belief(45.0, 40.0, NO_BATH))
    assert stand_in_c(given, NO_BATH, said, 1.0) == pytest.approx(expected_c)
    assert math.isnan(stand_in_c(state(bath_c=NAN), NO_BATH, said, 1.0))


@pytest.mark.parametrize(
    ("given", "bath_c", "guard_c", "measured_c"),
    [
        (machine(), 33.0, 36.0, 33.0),  # two that differ so much trip, and neither is believed
        (NO_BATH, NAN, 36.0, 36.0),
        (NO_BATH, NAN, 34.9, NAN),  # colder than the 35 °C believed: it may hang in the air
        (NO_BATH, NAN, NAN, NAN),
        (NO_BOWL, 33.0, 34.0, 33.0),  # each may be half a kelvin off
        (NO_BOWL, 33.0, 34.9, 33.9),
        (NO_BOWL, 33.0, 31.0, 33.0),
        (NO_BOWL, 33.0, NAN, 33.0),
        (NO_BOWL, NAN, 34.0, NAN),  # a lost one withholds heat, and nothing stands in for it
    ],
)
def test_the_bath_is_followed_by_the_guards_thermometer_where_no_other_one_tells(
    given: Machine, bath_c: float, guard_c: float, measured_c: float
) -> None:
    now = state(bath_c=bath_c, belief=belief(35.0, 32.0, given))
    said_c = measured_bath_c(now, permit(guard_c), given)
    assert said_c == pytest.approx(measured_c, nan_ok=True)
    assert measured_bath_c(now, None, given) == pytest.approx(bath_c, nan_ok=True)
    first = replace(now, belief=None)
    assert given is not NO_BATH or math.isnan(measured_bath_c(first, permit(36.0), given))


@pytest.mark.parametrize(("later_s", "is_followed"), [(0.0, True), (299.0, True), (300.0, False)])
def test_once_its_water_was_changed_an_unseen_bath_is_for_a_while_as_cold_as_the_guard_says(
    later_s: float, *, is_followed: bool
) -> None:
    swapped = noted(Consistency(), 1000.0, touched=True)
    now = state(bath_c=NAN, belief=belief(35.0, 32.0, NO_BATH), run_s=1000.0 + later_s)
    memory = replace(now.watch.memory, seen=swapped)
    now = replace(now, watch=replace(now.watch, memory=memory))
    assert math.isfinite(measured_bath_c(now, permit(25.0), NO_BATH)) is is_followed


def test_an_unseen_bowl_follows_what_is_believed_of_it_a_little_late() -> None:
    given = state(belief=belief(50.0, 45.0), stand_in_c=40.0)
    moved_k = stand_in_c(given, NO_BOWL, None, 1.0) - 40.0
    assert moved_k == pytest.approx(5.0 / 120.0, rel=0.01)
    assert stand_in_c(replace(given, stand_in_c=NAN), NO_BOWL, None, 1.0) == 45.0


@pytest.mark.parametrize(
    ("bath_c", "believed_c", "from_c"), [(50.0, 20.0, 40.0), (30.0, 55.0, 48.0)]
)
def test_an_unseen_bowl_comes_to_its_bath_whatever_is_believed_of_it(
    bath_c: float, believed_c: float, from_c: float
) -> None:
    given = state(belief=belief(bath_c, believed_c), stand_in_c=from_c)
    for _ in range(20_000):
        given = replace(given, stand_in_c=stand_in_c(given, NO_BOWL, None, 1.0))
    rest_c = bath_c - bath_over_k(bath_c, NO_BOWL)
    assert given.stand_in_c == pytest.approx(rest_c, abs=0.1)


@pytest.mark.parametrize(
    ("bowl_c", "j_per_kg_k"), [(40.0, 1900.0), (36.0, 1900.0), (35.9, 6200.0), (24.0, 1900.0)]
)
def test_an_unseen_bowl_is_no_slower_than_chocolate_that_takes_up_what_melts_it(
    bowl_c: float, j_per_kg_k: float
) -> None:
    given = state(belief=belief(60.0, 20.0), stand_in_c=bowl_c)
    rest_k = 60.0 - bath_over_k(60.0, NO_BOWL) - bowl_c
    lag_s = NO_BOWL.batch_kg * j_per_kg_k / 5.0  # through 5 W/K
    moved_k = stand_in_c(given, NO_BOWL, None, 1.0) - bowl_c
    assert moved_k == pytest.approx(rest_k / lag_s, rel=0.01)


def test_what_heats_an_unseen_bowl_beside_its_bath_is_not_learned() -> None:
    given = belief(50.0, 45.0)
    mean = (*given.mean[:DRIFT], 0.01, *given.mean[DRIFT + 1 :])
    pinned = without_bowl(replace(given, mean=mean))
    assert pinned.mean[DRIFT] == 0.0
    assert pinned.spread[DRIFT][DRIFT] == 1e-14
    assert pinned.spread[BATH][DRIFT] == pinned.spread[DRIFT][BOWL] == 0.0
    busy = replace(given, since_s=2.0)
    assert without_bowl(busy) is busy  # between two corrections there is nothing to do


@pytest.mark.parametrize(
    ("given", "lost"),
    [
        (NO_BATH, {"bowl": missing()}),
        (NO_BOWL, {"bath": missing()}),
        (NO_BOWL, {"bath": Reading(NAN)}),
        (NO_BOWL, {"bath": Reading(40.0, 6.0)}),
    ],
)
def test_the_thermometer_that_is_left_withholds_heat_when_it_is_lost(
    given: Machine, lost: dict[str, Reading]
) -> None:
    gone = {"bath" if given is NO_BATH else "bowl": missing()}
    whole = survey(state(), profile(), given, seeing(gone), 1.0)
    assert whole.withheld == ()
    broken = survey(state(), profile(), given, seeing(gone | lost), 1.0)
    assert broken.withheld != ()


def test_on_a_whole_machine_no_thermometer_may_be_missing() -> None:
    for gone in ({"bath": missing()}, {"bowl": missing()}):
        assert survey(state(), profile(), machine(), seeing(gone), 1.0).withheld != ()


def heats(given: Machine, **changes: float) -> bool:
    """Whether a tick of such a run may close the relay."""
    values = {"bath_c": 38.0, "bowl_c": 38.0, "stand_in_c": 38.0} | changes
    start = state(**values, belief=belief(values["bath_c"], values["bowl_c"], given))
    seen = readings(values["bath_c"], values["bowl_c"])
    seen = replace(seen, bowl=missing()) if given.has_bath else replace(seen, bath=missing())
    _, commands, _ = tick(start, profile(), given, seen, 1.0)
    return commands.heater_on


def test_either_mode_heats_a_cold_bowl_and_neither_over_a_limit() -> None:
    assert heats(NO_BATH)
    assert heats(NO_BOWL)
    assert not heats(NO_BATH, bath_c=53.5)  # believed, and perhaps over the phase's cut
    assert not heats(NO_BOWL, bath_c=42.9)  # over what the bowl needs


def test_the_last_word_on_heat_counts_what_stands_in_as_it_counts_what_is_measured() -> None:
    unseen_bath = state(bath_c=NAN, stand_in_c=55.0)
    assert _may_heat(unseen_bath, NO_BATH, 55.0)
    assert not _may_heat(replace(unseen_bath, stand_in_c=55.01), NO_BATH, 55.0)
    assert not _may_heat(replace(unseen_bath, stand_in_c=NAN), NO_BATH, 55.0)
    unseen_bowl = state(bowl_c=NAN, stand_in_c=40.0)
    assert _may_heat(unseen_bowl, NO_BOWL, 55.0)
    assert not _may_heat(replace(unseen_bowl, stand_in_c=NAN), NO_BOWL, 55.0)


def test_a_machine_without_a_stirrer_is_told_to_turn_nothing() -> None:
    turning, commands, _ = tick(state(), profile(), machine(), readings(), 1.0)
    assert commands.stirrer_rpm > 0.0
    standing, commands, _ = tick(state(), profile(), LIMP, readings(), 1.0)
    assert commands.stirrer_rpm == standing.stirrer_rpm == 0.0
    assert (turning.lacks, standing.lacks) == ((), (Lack.STIRRER,))


def test_of_an_unseen_bowl_the_headline_says_nothing() -> None:
    said = headline(state(bath_c=41.2, bowl_c=NAN, lacks=(Lack.BOWL_PROBE,)), profile())
    assert said == "Melting unseen, for a bowl at 40.0 °C: bath 41.2 °C"
    held = state(bath_c=41.2, lacks=(Lack.BOWL_PROBE,), withheld=("tick-late",), mode=Mode.RUNNING)
    assert headline(held, profile()).endswith("heat is held back for now (tick late)")


@pytest.mark.parametrize(("given", "now"), [(NO_BATH, (NAN, 40.0)), (NO_BOWL, (40.0, NAN))])
def test_after_a_power_cut_a_person_looks_and_begins_afresh(
    given: Machine, now: tuple[float, float]
) -> None:
    cut = Cut(phase=0, bath_c=40.0, bowl_c=40.0, hottest_c=40.0)
    found = Now(bath_c=now[0], bowl_c=now[1], gap_s=60.0, boots=1)
    decision = decide(cut, found, profile(), given)
    assert (decision.row, decision.offer) == ("probe-lacking", Offer.STOP_ONLY)
    assert decision.may_set_aside
    hot = replace(found, bath_c=80.0) if given.has_bath else replace(found, bowl_c=80.0)
    assert decide(cut, hot, profile(), given).row == "over-limit"
    lost = replace(found, bath_c=NAN, bowl_c=NAN)
    assert decide(cut, lost, profile(), given).row == "probe-bad"
