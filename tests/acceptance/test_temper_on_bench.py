"""The temper estimate on machines of the bench: sure verdicts come true, whatever went wrong.

The truth follows a crystal law of another form, with constants and a viscosity law of its own for
each machine; tests/benchmarks/temper.py asks hundreds, and has the tables. Machines are of the
tuning seeds 1 to 99.
"""

from dataclasses import dataclass, field

import pytest

from controller.core.profile import Verdict
from controller.core.tempering import Temper
from controller.files.profile_file import load_profile
from controller.ports import Moment
from controller.trials import Outcome, Trial, run_trial
from controller.wiring import machine_meant
from tests.benchmarks.temper_cases import MISHAPS, Said, run_case
from tests.helpers.records import replace

SEED = 4
SURE = 0.8
HOLD_S = 1820.0  # one look into the hold
WENT = ("cool too warm", "cool too cold", "seeded", "seed early")


@pytest.fixture(scope="module")
def said() -> dict[str, list[Said]]:
    """One machine of each mishap."""
    return {word: run_case(SEED, MISHAPS.index(word), "nuclei", hold_s=HOLD_S) for word in WENT}


def test_sure_verdicts_are_true_and_most_are_sure(said: dict[str, list[Said]]) -> None:
    whole = [one for rows in said.values() for one in rows]
    sure = [one for one in whole if one.confidence >= SURE]
    assert len(sure) >= 0.5 * len(whole) > 4.0
    assert sum(one.verdict == one.truth for one in sure) >= 0.9 * len(sure)


@pytest.mark.parametrize(
    ("word", "verdict"),
    [
        ("cool too warm", Temper.UNDER),
        ("cool too cold", Temper.OVER),
        ("seeded", Temper.IN_TEMPER),
        ("seed early", Temper.MELTED_OUT),
    ],
)
def test_each_is_known_for_what_it_is(
    word: str, verdict: Temper, said: dict[str, list[Said]]
) -> None:
    assert verdict in {one.verdict for one in said[word]}


def held(warm_to_c: float | None) -> Outcome:
    """Dark chocolate held half a kelvin too cool for an hour and a half."""
    plain = load_profile("dark", machine_meant("brisk").machine)
    melt, cool, rewarm, hold = plain.phases
    hold = replace(
        hold, bowl_target_c=31.3, bath_ceiling_c=33.0, dwell_s=5400.0, warm_to_c=warm_to_c
    )
    phases = (melt, cool, replace(rewarm, bowl_target_c=31.3), hold)
    return run_trial(
        Trial(
            profile=replace(plain, phases=phases),
            machine="brisk",
            fitted=("level", "shaft", "load"),
        )
    )


def test_what_would_thicken_too_far_stays_in_temper_where_it_may_be_warmed() -> None:
    cool, warm = held(None), held(32.3)
    assert cool.truth.form_v > 0.04
    assert warm.is_in_temper
    assert warm.working_overshoot_k <= 1.2
    assert not warm.causes


@dataclass
class Verdicts:
    """A teller that remembers what was said of temper: surely, before a set test, and after it."""

    said: set[Temper] = field(default_factory=set)
    before: set[Temper] = field(default_factory=set)
    after: set[Temper] = field(default_factory=set)

    def tell(self, moment: Moment) -> None:
        """Take note."""
        temper = moment.state.temper
        if temper.confidence >= SURE:
            self.said.add(temper.verdict)
        heard = self.before if temper.test is Verdict.NONE else self.after
        heard.add(temper.verdict)


@pytest.mark.parametrize("is_good", [True, False])
def test_what_the_cook_saw_overrules_what_temperatures_and_load_say(is_good: bool) -> None:
    # The cook mistakes the smear, so that test and estimate are at odds for the whole of the hold.
    plain = load_profile("dark", machine_meant("brisk").machine)
    melt, cool, rewarm, hold = plain.phases
    if not is_good:
        cool = replace(cool, bowl_target_c=31.0, dwell_s=0.0)
    hold = replace(hold, dwell_s=1200.0)
    verdicts = Verdicts()
    trial = Trial(
        profile=replace(plain, phases=(melt, cool, rewarm, hold)),
        machine="brisk",
        faults=("answer-wrong",),
        fitted=("level", "shaft", "load"),
        give_up_after_s=4 * 3600.0,
    )
    run_trial(trial, tellers=(verdicts,))
    if is_good:
        assert Temper.IN_TEMPER in verdicts.before
        assert Temper.IN_TEMPER not in verdicts.after
    else:
        assert Temper.UNDER in verdicts.before
        assert verdicts.after == {Temper.IN_TEMPER}


def test_white_seed_that_a_hot_room_has_half_melted_is_never_said_to_be_in_temper() -> None:
    # Half of its form V is gone at 30 °C: white melts 2.5 K lower (own engineering value).
    verdicts = Verdicts()
    trial = Trial(
        profile="white-seeded",
        law="nuclei",
        room_c=30.0,
        fitted=("level", "shaft", "load"),
        give_up_after_s=4 * 3600.0,
    )
    outcome = run_trial(trial, tellers=(verdicts,))
    assert not outcome.is_in_temper
    assert Temper.IN_TEMPER not in verdicts.said
    assert verdicts.said & {Temper.UNDER, Temper.MELTED_OUT}
