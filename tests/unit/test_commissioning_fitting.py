"""What a step test says: least squares, a fit of a bench machine, and what is refused."""

import math
from dataclasses import replace
from pathlib import Path

import pytest

from controller.commissioning.fitting import Known, fitted, samples_of
from controller.commissioning.least_squares import (
    hanging_together,
    inverted,
    minimised,
    solved,
    spread,
)
from controller.commissioning.step_test import (
    PROFILE,
    advice,
    facts_of,
    judged,
    newest_test,
    sheet,
    why_not,
)
from controller.core.machine import Machine
from controller.files.machine_file import load_machine_file
from controller.files.profile_file import load_profile
from controller.journal.reader import read_run
from controller.journal.records import Run
from controller.trials.trial import Trial, run_trial
from tests.helpers.commissioned import BEGAN
from tests.helpers.records import replace as replaced

KNOWN = Known(power_w=500.0, power_sd=0.01, room_c=20.0, room_sd_k=0.4)
# The reference machine of the bench: 3 kg of water and 1.5 kg in the bowl at 4180 J/(kg K), a pot
# of 400 J/K and a bowl of 300 J/K.
TRUE_J_PER_K = 4.5 * 4180.0 + 700.0


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A step test of the reference machine, through the real loop."""
    path = tmp_path_factory.mktemp("step") / "step.jsonl"
    run_trial(Trial(profile=PROFILE), journal=path, began_utc=BEGAN.isoformat())
    return path


@pytest.fixture(scope="module")
def run(record: Path) -> Run:
    """The same, read back."""
    return read_run(record)


@pytest.fixture(scope="module")
def machine() -> Machine:
    """What its owner believes."""
    return load_machine_file(None).machine


def test_a_linear_system_is_solved_and_a_matrix_inverted() -> None:
    matrix = [[0.0, 2.0, 1.0], [4.0, 1.0, 0.0], [1.0, 0.0, 3.0]]
    assert solved(matrix, [7.0, 6.0, 10.0]) == pytest.approx([1.0, 2.0, 3.0])
    inverse = inverted([[4.0, 1.0], [1.0, 3.0]])
    assert inverse[0] == pytest.approx([3.0 / 11.0, -1.0 / 11.0])
    assert spread(inverse, [1.0, 0.0]) == pytest.approx(math.sqrt(3.0 / 11.0))
    with pytest.raises(ZeroDivisionError):
        inverted([[1.0, 2.0], [2.0, 4.0]])


def test_the_search_finds_a_decay_and_its_covariance() -> None:
    times = [0.1 * at for at in range(40)]
    truth = (3.0, 0.7)

    def residuals(values: list[float]) -> list[float]:
        return [
            values[0] * math.exp(-values[1] * t) - truth[0] * math.exp(-truth[1] * t) for t in times
        ]

    found = minimised(lambda values: residuals(list(values)), (1.0, 0.2))
    assert found.values == pytest.approx(truth, abs=1e-4)
    slopes = [[math.exp(-0.7 * t) for t in times], [-3.0 * t * math.exp(-0.7 * t) for t in times]]
    square = [[sum(a * b for a, b in zip(x, y, strict=True)) for y in slopes] for x in slopes]
    assert found.cov[0] == pytest.approx(inverted(square)[0], rel=1e-2)


def test_chance_counts_for_more_where_residuals_hang_together() -> None:
    assert hanging_together([1.0, -1.0] * 50) == 1.0
    assert hanging_together([math.sin(0.05 * at) for at in range(400)]) > 20.0
    assert hanging_together([0.0] * 50) == 1.0


def test_a_step_test_finds_what_the_bench_is_made_of(run: Run, machine: Machine) -> None:
    found = judged(run, KNOWN, machine)
    capacity = found.capacity_j_per_k
    assert capacity.value == pytest.approx(TRUE_J_PER_K, rel=0.02)
    assert abs(capacity.value - TRUE_J_PER_K) < capacity.sure < 0.05 * TRUE_J_PER_K
    # 29 and 7.8 W/K in series, the second with water that stirs as the bench has it.
    assert found.transfer_w_per_k.value == pytest.approx(6.3, abs=0.4)
    assert found.bath_delay_s.value == pytest.approx(20.0 + 5.0 + 0.75, abs=3.0)
    assert 2.0 < found.loss_w_per_k.value < 4.0
    assert found.left_k < 0.05
    text = sheet(found, KNOWN, machine)
    assert "heat capacity            19" in text
    assert "give or take 2%" in text
    assert set(facts_of(found)) == {
        *("heat capacity", "losses", "bath to bowl", "heater to bath", "bath to bowl's reading"),
    }


def test_twice_the_power_makes_twice_the_machine(run: Run, machine: Machine) -> None:
    samples = samples_of(run)
    one = fitted(samples, KNOWN, machine)
    two = fitted(samples, KNOWN._replace(power_w=1000.0), machine)
    ratio = two.capacity_j_per_k.value / one.capacity_j_per_k.value
    assert ratio == pytest.approx(2.0, rel=0.02)


def test_a_power_that_is_less_sure_makes_wider_bands(run: Run, machine: Machine) -> None:
    samples = samples_of(run)
    sure = fitted(samples, KNOWN, machine).capacity_j_per_k.sure
    loose = fitted(samples, KNOWN._replace(power_sd=0.05), machine).capacity_j_per_k.sure
    assert loose > 3.0 * sure


def test_readings_that_were_not_to_be_had_are_left_out(run: Run) -> None:
    gone = tuple(
        replace(one, bath_c=math.nan) if 20 < at < 30 else one for at, one in enumerate(run.samples)
    )
    samples = samples_of(replace(run, samples=gone))
    assert len(samples.at_s) == len(samples_of(run).at_s) - 9
    assert 0.0 <= max(samples.duty) <= 1.001


def test_what_is_off_by_a_tenth_is_told_with_what_to_write(run: Run, machine: Machine) -> None:
    believed = replaced(machine, heater_w=420.0, loss_w_per_k=2.0, vessel_j_per_k=3500.0)
    told = advice(judged(run, KNOWN, believed), KNOWN, believed)
    assert told[0] == 'heater = "500 W" into [bath]'
    assert told[1].startswith('loss = "2.8 W/K"')
    assert "vessel =" in told[2]
    right = replaced(machine, loss_w_per_k=2.7)
    assert advice(judged(run, KNOWN, right), KNOWN, right) == ()


@pytest.fixture
def named(record: Path, run: Run) -> tuple[Path, str]:
    """The folder of that record, and whose it is."""
    return record.parent, run.header.machine_name


def test_only_a_fresh_step_test_that_ended_by_itself_is_fitted(
    named: tuple[Path, str], run: Run, tmp_path: Path
) -> None:
    folder, name = named
    assert newest_test(folder, name, BEGAN) is not None
    assert newest_test(folder, "another", BEGAN) is None
    assert newest_test(folder, name, BEGAN.replace(day=9)) is None
    assert newest_test(tmp_path / "none", name, BEGAN) is None
    assert why_not(run) is None
    assert "did not end" in str(why_not(replace(run, closing=None)))
    other = replace(run.header, profile_name="dark")
    assert "is of profile dark" in str(why_not(replace(run, header=other)))


def test_the_step_test_is_a_profile_that_a_machine_takes(machine: Machine) -> None:
    profile = load_profile(str(PROFILE), machine)
    assert profile.name == "step-test"
    assert profile.bowl_never_above_c < 50.0
