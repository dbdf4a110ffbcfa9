"""What cooks do to a machine is no fault of the machine: it must not trip, nor go blind.

Amounts are own inventions; a run per case on the bench.
"""

import pytest

from controller.core.interlocks import Cause
from controller.ports import Moment
from controller.trials import Trial, run_trial
from controller.wiring import BenchFault
from tests.helpers.faulted import run_faulted


@pytest.mark.parametrize("machine", ["reference", "brisk"])
@pytest.mark.parametrize("profile", ["dark", "dark-seeded"])
@pytest.mark.parametrize("answer_after_s", [0.0, 300.0, 2400.0])
def test_a_cook_who_is_quick_or_slow_trips_nothing(
    answer_after_s: float, profile: str, machine: str
) -> None:
    trial = Trial(profile=profile, machine=machine, answer_after_s=answer_after_s)
    assert run_trial(trial).trips == ()


@pytest.mark.parametrize("share", [10, 30, 60])
@pytest.mark.parametrize("fault", [None, BenchFault.HEATER_DEAD])
def test_cold_water_that_nobody_announced_trips_nothing_and_hides_no_dead_heater(
    fault: BenchFault | None, share: int
) -> None:
    broken = () if fault is None else (f"{fault}@hold+10min",)

    run = run_faulted("dark", [f"water-swapped:{share}%@hold+10min", *broken])

    assert run.outcome.lasted_s > run.since("hold", 600.0)
    assert run.cause == (None if fault is None else Cause.HEAT_WITHOUT_EFFECT)
    assert len(run.outcome.trips) == len(broken)


def test_cold_water_before_a_slow_thermometer_that_never_shows_a_fall_trips_nothing() -> None:
    told = ("water-swapped:12%@melt+933s",)  # a drawn machine that once tripped by it
    run = run_trial(Trial(profile="dark", machine="drawn-77-46", fitted=(), faults=told))
    assert run.trips == ()


def test_a_bath_that_cools_at_half_power_since_its_bowl_takes_more_trips_nothing() -> None:
    run = run_trial(Trial(profile="dark", machine="drawn-1001-483"))  # once tripped by it
    assert run.trips == ()


OPEN_LID = "lid-off@melt+704s/13min"
WEAK = "drawn-612-274"  # 412 W, which can't warm its open bath while the stirrer begins to turn


def test_a_weak_heater_under_an_open_lid_trips_nothing_for_it_is_missed_when_held_back() -> None:
    told: set[str] = set()

    class Withheld:
        def tell(self, moment: Moment) -> None:
            told.update(moment.state.withheld)

    trial = Trial(
        profile="dark", machine=WEAK, fitted=(), faults=(OPEN_LID,), give_up_after_s=2400.0
    )
    run = run_trial(trial, tellers=(Withheld(),))

    assert told == {Cause.HEAT_WITHOUT_EFFECT}  # once it tripped by it
    assert run.trips == ()


@pytest.mark.parametrize("after_s", [720, 900, 1200])
def test_an_open_lid_hides_no_heater_that_dies(after_s: int) -> None:
    faults = (OPEN_LID, f"heater-dead@melt+{after_s}s")
    trial = Trial(profile="dark", machine=WEAK, fitted=(), faults=faults, give_up_after_s=3000.0)

    run = run_trial(trial)

    (trip,) = run.trips
    assert trip.cause == Cause.HEAT_WITHOUT_EFFECT
    assert trip.at_s - (run.phases[0].start_s + after_s) <= 300.0


def test_warm_chocolate_poured_in_before_a_weak_heater_is_no_thermometer_out_of_place() -> None:
    # Its bath warms by less than 1 K in a minute, and once this tripped it.
    faults = ("chocolate-added:200g@melt+60s",)
    trial = Trial(profile="dark", machine="drawn-612-1469", faults=faults, give_up_after_s=300.0)
    assert run_trial(trial).trips == ()


# Both are over-tempered and told so. What was taken for heat of setting once tripped them after
# hours: of the first the stirrer warms the bowl to 4 K over its bath, of the second the stirrer and
# a room of 17 °C that takes less than was learned.
@pytest.mark.parametrize(
    ("machine", "fitted", "faults"),
    [
        (
            "drawn-913-2357",
            ("load", "shaft"),
            (
                "water-swapped:33%@rewarm+254s",
                "chocolate-added:167g@melt+803s",
                "lid-off@rewarm+1198s/7min",
                "bowl-probe-intermittent:3%@cool+684s/18min",
            ),
        ),
        (
            "drawn-923-778",
            ("level", "shaft", "second-switch", "mains-live"),
            (
                "answer-late:11min@hold+1772s",
                "bath-probe-intermittent:3%@cool+748s/20min",
                "lid-off@melt+1652s/16min",
                "bath-probe-offset:-0.3K@melt+593s",
                "bowl-probe-intermittent:3%@cool+615s/17min",
            ),
        ),
    ],
)
def test_a_batch_so_thick_that_the_stirrer_warms_it_trips_nothing(
    machine: str, fitted: tuple[str, ...], faults: tuple[str, ...]
) -> None:
    trial = Trial(
        profile="dark",
        machine=machine,
        fitted=fitted,
        faults=faults,
        give_up_after_s=24_000.0,
    )
    assert run_trial(trial).trips == ()
