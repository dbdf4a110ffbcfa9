"""The temper estimate: what it says of courses, what overrules it, and when it says nothing."""

import math

import pytest

from controller.core.batches import COUNT, EVEN
from controller.core.profile import Action, Verdict
from controller.core.rescuing import likelihood
from controller.core.temper import BLIND_MOST_S
from controller.core.tempering import LEAST_V, MOST_V, Temper, Unseen, chances_of
from tests.helpers.records import replace
from tests.helpers.scene import machine, question
from tests.helpers.tempers import COOL, HOLD, MELT, REWARM, TEMPERED, Batch

UNTESTED = replace(TEMPERED, phases=TEMPERED.phases[:3])


def worked(batch: Batch, solid: float, *, bowl_c: float = 31.8) -> Batch:
    """A melted batch cooled, warmed again and held with so much of its fat solid."""
    batch.melted().go(28.0, 8.0, phase=COOL)
    for step in range(1, 11):  # at once it would be no crystals
        batch.solid = 0.1 * step * solid
        batch.go(bowl_c, 0.5, phase=REWARM)
    batch.go(bowl_c, 10.0, phase=HOLD)
    return batch


def test_a_profile_that_is_after_no_crystals_has_no_verdict() -> None:
    batch = Batch(profile=UNTESTED)
    batch.go(31.8, 60.0)
    assert batch.temper.verdict is Temper.NONE
    assert batch.temper.confidence == 0.0
    assert batch.looks == 1


@pytest.mark.parametrize(
    ("lack", "unseen"), [("has_bowl", Unseen.NO_PROBE), ("has_stirrer", Unseen.NO_STIRRER)]
)
def test_without_a_bowl_thermometer_or_a_stirrer_nothing_is_claimed(
    lack: str, unseen: Unseen
) -> None:
    batch = worked(Batch(machine=machine(**{lack: False})), 0.02)
    assert batch.temper.verdict is Temper.UNKNOWN
    assert batch.temper.unseen is unseen
    assert batch.temper.why.endswith((".",))


def test_while_it_melts_it_is_not_in_temper_yet() -> None:
    assert Batch().go(30.0, 5.0, phase=MELT).verdict is Temper.NOT_YET


@pytest.mark.parametrize(
    ("solid", "verdict"),
    [(0.0, Temper.UNDER), (0.015, Temper.IN_TEMPER), (0.02, Temper.IN_TEMPER), (0.07, Temper.OVER)],
)
def test_the_load_beside_that_of_the_melt_tells_how_much_is_solid(
    solid: float, verdict: Temper
) -> None:
    batch = worked(Batch(), solid)
    assert batch.temper.verdict is verdict
    assert batch.temper.confidence > 0.8
    assert "load" in batch.temper.why


@pytest.mark.parametrize("said_w", [math.nan, math.inf])
def test_a_load_that_is_no_number_counts_as_none_however_good_it_is_called(said_w: float) -> None:
    broken, blind = Batch(), Batch()
    for batch in (broken, blind):  # once while a load teaches, and once while it would move
        batch.go(50.0, 10.0, phase=MELT)
        batch.turns, batch.has_load = said_w, batch is broken
        batch.go(50.0, 1.0)
        batch.turns, batch.has_load = 1.0, True
        worked(batch, 0.02)
        batch.turns, batch.has_load = said_w, batch is broken
        batch.go(31.8, 2.0)
    assert math.isfinite(broken.temper.melt.level + sum(broken.temper.form_v))
    assert broken.temper.bank == blind.temper.bank


def test_a_batch_thinner_than_its_melt_proves_the_melt_wrong_and_leaves_less_sure() -> None:
    right, wrong = worked(Batch(), 0.0), worked(Batch(), 0.0)
    wrong.turns = 0.8
    wrong.go(31.8, 5.0)
    assert right.go(31.8, 5.0).confidence > 0.96
    assert wrong.temper.confidence < 0.94
    assert wrong.temper.form_v[2] > 2.0 * right.temper.form_v[2]
    wrong.turns = 1.0  # what is beyond the thinnest is crystals from now on
    wrong.go(31.8, 5.0)
    assert wrong.temper.form_v[1] == pytest.approx(-math.log(0.8) / 30.0, rel=0.2)


def test_one_thin_look_alone_proves_nothing() -> None:
    batch = worked(Batch(), 0.0)
    before, looks = batch.temper.melt, batch.looks
    batch.turns = 0.8
    while batch.looks == looks:
        batch.run_s += 1.0
        batch.tick()
    assert batch.temper.excess < -0.15
    assert batch.temper.melt == before
    batch.turns = 1.0
    batch.go(31.8, 5.0)
    assert batch.temper.melt == before


def test_what_a_thinner_melt_takes_is_learned_from_the_same_batch() -> None:
    # Ring tests differ by 2 to 7 times between laboratories (Aeschlimann & Beckett 2000), so that
    # no load means anything by itself.
    thin = Batch()
    worked(thin, 0.02)
    middle = thin.temper.form_v[1]
    assert middle == pytest.approx(0.02, rel=0.25)
    assert thin.temper.melt.slope == pytest.approx(30_000.0 / 8.314 / 1000.0, rel=0.1)


def test_after_a_clean_melt_cooled_no_further_than_31_degrees_it_is_under_tempered() -> None:
    batch = Batch(has_load=False).melted()
    batch.go(31.0, 10.0, phase=COOL)
    batch.go(31.8, 5.0, phase=HOLD)
    assert batch.temper.verdict is Temper.UNDER
    assert "alone" in batch.temper.why


def test_a_batch_kept_far_too_cool_is_over_tempered_even_without_a_load() -> None:
    batch = Batch(has_load=False).melted()
    batch.go(26.0, 30.0, phase=COOL)
    batch.go(30.0, 30.0, phase=HOLD)
    assert batch.temper.verdict is Temper.OVER


def test_what_was_in_temper_and_got_far_too_warm_has_melted_out() -> None:
    batch = worked(Batch(has_load=False), 0.0)
    batch.go(27.0, 20.0)
    batch.go(37.0, 15.0)
    batch.go(31.8, 5.0)
    assert batch.temper.verdict is Temper.MELTED_OUT
    assert batch.temper.confidence > 0.7


def test_it_is_less_sure_without_a_load() -> None:
    seen, unseen = worked(Batch(), 0.02), worked(Batch(has_load=False), 0.02)
    assert seen.temper.confidence > unseen.temper.confidence
    low, _, high = unseen.temper.form_v
    near, _, far = seen.temper.form_v
    assert high / low > far / near


def test_crystals_that_warm_the_bowl_speak_for_batches_that_grow() -> None:
    quiet, warming = Batch(has_load=False).melted(), Batch(has_load=False).melted()
    warming.drift_k_per_s = 1.5e-3
    for batch in (quiet, warming):
        batch.go(28.0, 15.0, phase=COOL)
    assert warming.temper.form_v[1] > 1.2 * quiet.temper.form_v[1]


def test_a_run_that_begins_in_a_later_phase_knows_nothing_until_it_is_melted_again() -> None:
    batch = Batch(phase=HOLD)
    assert batch.go(31.8, 5.0).verdict is Temper.UNKNOWN
    assert "cut off" in batch.temper.why
    batch.go(50.0, 10.0)
    assert batch.temper.unseen is Unseen.NOTHING


def test_two_minutes_without_the_bowls_thermometer_and_nothing_is_known() -> None:
    batch = worked(Batch(), 0.02)
    batch.blind_s = 5.0
    batch.go(31.8, 1.0)
    assert batch.temper.verdict is Temper.IN_TEMPER
    batch.go(31.8, BLIND_MOST_S / 60.0)
    batch.blind_s = 0.0
    assert batch.go(31.8, 10.0).verdict is Temper.UNKNOWN
    batch.go(50.0, 2.0)
    assert batch.temper.unseen is Unseen.NOTHING


def test_a_load_that_jumps_is_water_or_a_spoon_and_no_crystal() -> None:
    batch = worked(Batch(), 0.01)
    batch.solid = 0.05
    assert batch.go(31.8, 2.0).verdict is Temper.UNKNOWN
    assert "water" in batch.temper.why


@pytest.mark.parametrize("solid", [0.0, 0.07])
def test_a_clean_set_test_overrules_the_estimate(solid: float) -> None:
    batch = worked(Batch(has_load=False), solid)
    batch.go(31.0, 1.0)
    batch.test = Verdict.IN_TEMPER
    batch.go(31.8, 2.0)
    assert batch.temper.verdict is Temper.IN_TEMPER
    assert batch.temper.confidence > 0.9


def test_a_clean_set_test_tells_what_a_cut_run_could_not_know() -> None:
    batch = Batch(phase=HOLD)
    batch.go(31.8, 5.0)
    batch.test = Verdict.IN_TEMPER
    assert batch.go(31.8, 20.0).verdict is Temper.IN_TEMPER


def test_a_streaked_set_test_takes_the_sure_verdict_back_for_as_long_as_nothing_changes() -> None:
    batch = worked(Batch(), 0.02)
    assert batch.temper.verdict is Temper.IN_TEMPER
    assert batch.temper.confidence > 0.9
    batch.test = Verdict.NOT_IN_TEMPER
    for _ in range(10):
        assert batch.go(31.8, 2.0).verdict is not Temper.IN_TEMPER


def test_a_streaked_test_of_what_may_as_well_be_under_says_that_it_is() -> None:
    batch = worked(Batch(), 0.006)
    assert batch.temper.verdict is not Temper.UNDER
    batch.test = Verdict.NOT_IN_TEMPER
    for _ in range(10):
        assert batch.go(31.8, 2.0).verdict in {Temper.UNDER, Temper.MELTED_OUT, Temper.UNKNOWN}
    assert batch.temper.unseen is Unseen.NOTHING


@pytest.mark.parametrize("solid", [0.0, 0.07])
def test_after_a_clean_set_test_the_load_no_longer_says_the_contrary(solid: float) -> None:
    batch = worked(Batch(), solid)
    assert batch.temper.verdict in {Temper.UNDER, Temper.OVER}
    batch.test = Verdict.IN_TEMPER
    for _ in range(15):
        assert batch.go(31.8, 2.0).verdict is Temper.IN_TEMPER


def test_a_set_test_of_before_it_was_melted_says_nothing_of_it() -> None:
    batch = worked(Batch(), 0.02)
    batch.test = Verdict.NOT_IN_TEMPER
    batch.go(31.8, 2.0)
    batch.solid = 0.0
    batch.go(50.0, 15.0)
    assert worked(batch, 0.02).temper.verdict is Temper.IN_TEMPER


def test_seed_that_cools_the_bowl_is_believed_and_seed_that_does_not_is_doubted() -> None:
    for falls_k, doubted in ((5.0, False), (0.2, True)):
        batch = Batch(has_load=False).melted()
        batch.go(37.0, 2.0)
        batch.seed(0.15)
        batch.go(37.0 - falls_k, 3.0)
        batch.go(33.0, 5.0, phase=HOLD)
        assert batch.temper.doubts_seed is doubted
    assert batch.temper.verdict is Temper.UNDER
    assert "seed" in batch.temper.why


def test_seed_that_is_in_before_it_is_said_counts_once() -> None:
    batch = Batch().melted()
    batch.go(40.0, 2.0)
    level = batch.temper.melt.level
    batch.ask = question(action=Action.ADD_SEED, share=0.25)
    batch.go(40.0, 0.5)
    batch.turns = 1.25
    batch.go(37.5, 3.0)
    batch.turns, batch.ask = 1.0, None
    batch.seed(0.25)
    assert batch.temper.melt.level == pytest.approx(level + math.log(1.25), abs=0.02)


def test_what_was_taken_for_seed_and_never_came_is_taken_back() -> None:
    batch = Batch().melted()
    batch.go(40.0, 2.0)
    level = batch.temper.melt.level
    batch.turns = 1.0 / 1.25  # the load of what is really in
    batch.seed(0.25)
    batch.go(39.9, 2.0)
    assert batch.temper.doubts_seed
    assert batch.temper.melt.level == pytest.approx(level, abs=0.02)


def test_seed_put_in_warm_melts_out_and_late_seed_tempers() -> None:
    batch = Batch(has_load=False).melted()
    batch.go(45.0, 2.0)
    batch.seed(0.10)
    batch.go(39.9, 10.0)
    batch.go(31.8, 5.0, phase=HOLD)
    assert batch.temper.verdict is Temper.MELTED_OUT
    batch = Batch(has_load=False).melted()
    batch.go(33.5, 1.0)
    batch.seed(0.03)
    batch.go(32.5, 6.0)
    batch.go(31.8, 2.0, phase=HOLD)
    assert LEAST_V < batch.temper.form_v[1] < MOST_V


def test_melted_chocolate_that_tops_it_up_dilutes_the_crystals() -> None:
    batch = worked(Batch(), 0.02)
    batch.has_load = False
    before = batch.temper.form_v[1]
    batch.seed(0.5, is_set=False)
    assert batch.temper.form_v[1] == pytest.approx(before / 1.5, rel=0.05)


def test_more_in_the_bowl_takes_more_load_and_means_no_crystals() -> None:
    batch = worked(Batch(), 0.02)
    batch.solid /= 1.3
    batch.seed(0.3, is_set=False)
    batch.go(31.8, 10.0)
    assert batch.temper.form_v[1] == pytest.approx(batch.solid, rel=0.25)


def test_between_two_looks_it_costs_nothing() -> None:
    batch = worked(Batch(), 0.02)
    looks = batch.looks
    batch.go(31.8, 10.0)
    assert batch.looks - looks <= 21


def test_the_same_readings_give_the_same_estimate() -> None:
    assert worked(Batch(), 0.02).temper == worked(Batch(), 0.02).temper


def test_by_temperatures_alone_the_limits_are_blurred_wider() -> None:
    bank = ((0.008, 0.0, 0.6, 0.0, 0.008),) * COUNT
    seen = chances_of(bank, EVEN, arrived=True, by_load=True)
    alone = chances_of(bank, EVEN, arrived=True, by_load=False)
    assert seen[Temper.IN_TEMPER] > 0.9
    assert alone[Temper.IN_TEMPER] < 0.8


def test_what_thickens_it_above_form_v_is_no_crystals() -> None:
    batch = Batch().melted()
    batch.solid = 0.02  # as lumps, or the spoon of a cook, load it
    batch.go(40.0, 3.0)
    assert batch.temper.form_v[1] < 0.001


def test_what_was_kept_melted_for_two_hours_and_is_cooled_then_still_gets_a_verdict() -> None:
    batch = Batch()
    batch.go(20.0, 10.0)
    batch.go(50.0, 120.0)
    batch.melted().go(33.5, 3.0)
    assert batch.temper.by_load
    assert batch.temper.verdict is Temper.NOT_YET


@pytest.mark.parametrize("form_v", [5e-324, 1e-200, 1e-50])
@pytest.mark.parametrize("by_load", [False, True])
def test_however_little_is_solid_it_is_too_little(form_v: float, by_load: bool) -> None:
    bank = ((form_v, form_v, form_v, form_v, form_v),) * COUNT
    assert chances_of(bank, EVEN, arrived=True, by_load=by_load)[Temper.UNDER] > 0.9
    assert likelihood(bank, EVEN) == 0.0


def test_seed_in_doubt_leaves_open_whether_it_melted_out_or_never_was_in_temper() -> None:
    bank = ((0.0, 0.0, 0.0, 0.0, 0.07),) * COUNT
    sure, unsure, none = (
        chances_of(bank, EVEN, arrived=True, by_load=True, came=came) for came in (1.0, 0.6, 0.1)
    )
    assert sure[Temper.MELTED_OUT] > 0.9
    assert max(unsure[Temper.MELTED_OUT], unsure[Temper.UNDER]) < 0.75
    assert none[Temper.MELTED_OUT] > 0.85  # for then it is the batches without it that melted out


def test_a_portion_too_small_to_be_seen_is_believed_as_far_as_the_last_one_was() -> None:
    for falls_k, lumps in ((5.0, True), (0.2, False)):
        batch = Batch(has_load=False).melted()
        batch.go(37.0, 2.0)
        batch.seed(0.15)
        batch.go(37.0 - falls_k, 3.0)
        batch.seed(0.01)
        assert any(one[3] > 0.005 for one in batch.temper.bank) is lumps


def test_pieces_forgotten_in_a_batch_that_is_held_are_no_crystals_that_melted() -> None:
    for is_in in (True, False):
        batch = worked(Batch(), 0.0)
        assert batch.temper.verdict is Temper.UNDER
        batch.turns = 1.0 if is_in else 1.0 / 1.05
        batch.seed(0.05)
        batch.solid = 0.02 if is_in else 0.0
        batch.go(31.8 - (2.0 if is_in else 0.0), 3.0)
        batch.go(31.8, 5.0)
        assert batch.temper.verdict is (Temper.IN_TEMPER if is_in else Temper.UNDER)
        assert batch.temper.doubts_seed is not is_in


def test_a_first_portion_too_small_to_be_seen_is_never_sure_to_have_melted() -> None:
    batch = Batch().melted()
    batch.go(39.0, 1.0)
    batch.seed(0.008)
    batch.go(39.0, 5.0)
    batch.go(31.8, 5.0, phase=HOLD)
    assert batch.temper.came < 0.9
    assert max(batch.temper.confidence, 0.9) == 0.9


@pytest.mark.parametrize("has_load", [True, False])
def test_the_sentence_names_only_what_was_looked_at(has_load: bool) -> None:
    batch = worked(Batch(has_load=has_load), 0.0)
    batch.turns = 1.0 / 1.05
    batch.seed(0.05)
    batch.go(31.8, 8.0)
    assert batch.temper.doubts_seed
    assert "look whether the seed is in" in batch.temper.why
    assert ("stirrer" in batch.temper.why) is has_load


def test_seed_that_was_doubted_is_forgotten_once_the_batch_is_melted_anew() -> None:
    batch = worked(Batch(), 0.0)
    batch.turns = 1.0 / 1.05
    batch.seed(0.05)
    doubts = [batch.go(31.8, 8.0).doubts_seed, batch.go(50.0, 1.0, phase=MELT).doubts_seed]
    assert doubts == [True, False]
    assert batch.temper.came == 1.0
