"""Which faults an ordeal draws."""

from controller.core.interlocks import INTERLOCKS
from controller.files.machine_file import bench_machine_path, load_machine_file
from controller.files.profile_file import load_profile
from controller.trials.expectations import EXPECTATIONS
from controller.trials.ordeal_draws import OF_HANDS, drawn_fittings, drawn_injections, tried_faults
from controller.trials.trial import FITTED
from controller.wiring import BenchFault

DARK = load_profile("dark", load_machine_file(bench_machine_path("reference")).machine)


def test_the_same_machine_gets_the_same_faults_and_another_one_others() -> None:
    assert drawn_injections(1, 2, DARK, 20) == drawn_injections(1, 2, DARK, 20)
    assert drawn_injections(1, 2, DARK, 20) != drawn_injections(1, 3, DARK, 20)
    assert drawn_injections(1, 2, DARK, 20) != drawn_injections(2, 2, DARK, 20)


def test_many_machines_get_every_fault_in_every_phase_in_which_it_can_come() -> None:
    drawn = {
        (one.fault, one.phase)
        for number in range(1, 60)
        for one in drawn_injections(1, number, DARK, 40)
    }
    phases = [phase.name for phase in DARK.phases]
    for fault in tried_faults():
        at = [phase for phase in phases if (fault, phase) in drawn]
        is_before = fault in {BenchFault.PROFILE_WRONG, BenchFault.AMOUNT_WRONG}
        assert at == (phases[:1] if is_before else phases), fault


def test_a_size_that_may_be_turned_comes_both_ways_and_another_one_does_not() -> None:
    sizes = {
        fault: {
            one.size
            for number in range(1, 20)
            for one in drawn_injections(1, number, DARK, 4, (fault,))
        }
        for fault in (BenchFault.BATH_PROBE_OFFSET, BenchFault.HEATER_HALF, BenchFault.RELAY_WELDED)
    }
    assert sizes == {
        BenchFault.BATH_PROBE_OFFSET: {-5.0, 5.0},
        BenchFault.HEATER_HALF: {0.5},
        BenchFault.RELAY_WELDED: {None},
    }


def test_machines_are_fitted_with_this_or_that_and_some_with_a_second_switch() -> None:
    fittings = [drawn_fittings(1, number) for number in range(1, 100)]
    for name in FITTED:
        among = (0, 1) if name in OF_HANDS else (30, 70)
        assert sum(name in fitted for fitted in fittings) in range(*among)


def test_every_cause_that_is_right_for_a_fault_is_one_that_can_be_given() -> None:
    known = {str(row.cause) for row in INTERLOCKS}
    assert {cause for row in EXPECTATIONS.values() for cause in row.causes} <= known


def test_each_fault_that_is_tried_has_a_row_that_says_what_is_to_be_seen() -> None:
    assert set(EXPECTATIONS) == set(tried_faults())
