"""A short form of the commissioning benchmark: drawn machines are found to be what they are.

Responsible for holding calibration and fit to the bench's truths in CI; the figures are the
benchmark's (tests/benchmarks/commissioning.py).
"""

from pathlib import Path

from hardware.bench.draws import draw
from tests.benchmarks.commissioning import rows_of
from tests.benchmarks.commissioning_truths import Error, calibration_errors, fit_errors

SEED = 3001  # neither what the bands were tuned on, nor what the benchmark judges by


def test_thermometers_of_drawn_machines_are_corrected_within_their_bands() -> None:
    errors = [error for number in range(1, 26) for error in calibration_errors(draw(SEED, number))]
    assert len(errors) == 50
    assert max(abs(error.off) for error in errors) < 0.06
    assert sum(error.holds for error in errors) >= 43  # fewer than 5 of 10⁴ honest bands do worse
    assert sum(abs(error.off) > 0.5 * error.sure for error in errors) >= 8  # and none is too wide


def test_drawn_machines_are_found_to_take_up_and_lose_what_they_do(tmp_path: Path) -> None:
    errors = [error for number in (1, 2) for error in fit_errors(draw(SEED, number), tmp_path)]
    assert len(errors) == 8
    for error in errors:
        assert abs(error.off) <= 2.0 * error.sure, error
        if error.what in {"capacity", "loss"}:
            assert abs(error.off / error.true) < 0.08, error
    lines, _ = rows_of(errors)
    assert [line.split()[0] for line in lines[1:]] == ["capacity", "loss", "bath", "bowl"]


def test_the_table_counts_what_misses_its_goal_or_its_band() -> None:
    def case(off: float) -> Error:
        return Error(machine="m", what="offset", found=1.0 + off, true=1.0, sure=0.04)

    lines, met = rows_of([case(0.01)] * 95 + [case(0.045)] * 5)
    assert met
    assert "100.0 %" in lines[1]
    assert "95.0 %" in lines[1]
    assert not rows_of([case(0.01)] * 95 + [case(0.06)] * 5)[1]  # over the goal
    assert not rows_of([case(0.01)] * 100)[1]  # bands that always hold are too wide
