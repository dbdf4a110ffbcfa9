"""A profile of one's own, in a folder of one's own: tried by the command and held by a test.

The profile and the tests are those of profiles/README.md, to the letter.
"""

import subprocess
import sys
from pathlib import Path
from signal import SIGINT

import pytest

from controller.trials import Trial, run_trial
from tests.helpers.process import COMMAND, END_WAIT_S, end, environment, start

README = Path(__file__).resolve().parents[2] / "profiles" / "README.md"


def block(language: str) -> str:
    """The README's only block of that language."""
    _, _, rest = README.read_text(encoding="utf-8").partition(f"```{language}\n")
    return rest.partition("```")[0]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Another folder than the project's, with the README's profile and tests in it."""
    (tmp_path / "mine.toml").write_text(block("toml"), encoding="utf-8")
    (tmp_path / "test_mine.py").write_text(block("python"), encoding="utf-8")
    return tmp_path


def ran(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    """A command that was run in `folder`."""
    return subprocess.run(
        words,
        cwd=folder,
        env=environment(folder),
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=END_WAIT_S,
        check=False,
    )


def pytest_in(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    """Pytest as somebody elsewhere starts it."""
    return ran(folder, sys.executable, "-m", "pytest", "-p", "no:cacheprovider", *words)


def test_the_tests_of_the_readme_pass_where_bainward_is_installed(folder: Path) -> None:
    result = pytest_in(folder, "-W", "error")
    assert result.returncode == 0, result.stdout
    assert f"{block('python').count('def test_')} passed" in result.stdout


def test_a_failed_test_shows_what_its_trials_measured(folder: Path) -> None:
    spoilt = block("python").replace("bowl_max_c < 50.0", "bowl_max_c < 40.0")
    assert spoilt != block("python")
    (folder / "test_mine.py").write_text(spoilt, encoding="utf-8")

    result = pytest_in(folder, "-k", "ends_in_temper")

    assert result.returncode == 1
    assert "bainward trial" in result.stdout
    assert "exit                 done\n" in result.stdout
    assert "bowl_max_c           4" in result.stdout


def test_the_fixture_looks_beside_the_test_first(folder: Path) -> None:
    result = pytest_in(folder.parent, str(folder), "-k", "ends_in_temper")
    assert result.returncode == 0, result.stdout


@pytest.mark.parametrize("machine", ["brisk", "./own.toml"])
def test_a_profile_is_tried_from_any_folder_on_any_machine(machine: str, folder: Path) -> None:
    own = README.parents[1] / "hardware" / "bench" / "machines" / "reference.toml"
    text = own.read_text(encoding="utf-8").replace('name = "reference"', 'name = "own"')
    (folder / "own.toml").write_text(text, encoding="utf-8")

    result = ran(folder, str(COMMAND), "try", "mine.toml", "--machine", machine, "--no-broker")

    assert result.returncode == 0, result.stderr
    assert f"Machine    {machine.strip('./').removesuffix('.toml')}, " in result.stdout
    assert "Profile    My dark chocolate\n" in result.stdout


@pytest.mark.parametrize("machine", ["small", "drawn-1-3"])
def test_a_profile_is_checked_against_a_machine_by_its_name(machine: str, folder: Path) -> None:
    result = ran(folder, str(COMMAND), "check", "./mine.toml", "--machine", machine)
    assert result.returncode == 0, result.stderr
    assert machine in result.stdout
    assert "My dark chocolate" in result.stdout


@pytest.mark.parametrize("machine", ["brisk", "drawn-1-3"])
def test_a_run_in_real_time_takes_a_machine_of_the_bench_by_its_name(
    machine: str, folder: Path
) -> None:
    words = ("run", "./mine.toml", "--machine", machine, "--no-broker")
    process = start(folder, *words, cwd=folder)
    assert process.stdout is not None
    told = [process.stdout.readline()]
    while told[-1] and "melt: bowl to" not in told[-1]:
        told.append(process.stdout.readline())
    process.send_signal(SIGINT)
    code, _, err = end(process)
    assert any("Somebody stays with a heated machine" in line for line in told)
    assert "melt: bowl to 48.0 °C" in told[-1]
    assert code == 5, err


def test_a_machine_that_is_none_is_refused(folder: Path) -> None:
    result = ran(folder, str(COMMAND), "try", "mine.toml", "--machine", "brisc")
    assert result.returncode == 6
    assert result.stdout == ""
    assert 'There is no machine "brisc"; did you mean brisk?' in result.stderr


def test_something_breaks_on_the_way_when_asked(folder: Path) -> None:
    result = ran(
        folder,
        *(str(COMMAND), "try", "mine.toml", "--machine", "drawn-1-3", "--no-broker"),
        *("--fault", "relay-welded@hold+20min", "--fault", "amount-wrong:80%"),
    )
    assert result.returncode == 4, result.stderr
    said = result.stdout.splitlines()
    assert said[0].startswith("Fault: relay-welded in hold after 20 min: ")
    assert said[1].startswith("Fault: amount-wrong (80%) from the start: ")
    assert "Machine    drawn-1-3, " in result.stdout
    assert "relay stuck on" in result.stdout


def test_a_try_that_takes_too_long_is_given_up(folder: Path) -> None:
    result = ran(
        folder, str(COMMAND), "try", "mine.toml", "--no-broker", "--give-up-after", "10 min"
    )
    assert result.returncode == 5, result.stderr
    assert "Outcome    stopped, after 10 min\n" in result.stdout


def test_a_try_says_what_a_trial_of_the_same_counts(folder: Path) -> None:
    words = ("--machine", "drawn-1-3", "--fault", "heater-half", "--no-broker")
    said = ran(folder, str(COMMAND), "try", "mine.toml", *words).stdout
    trial = Trial(profile=folder / "mine.toml", machine="drawn-1-3", faults=("heater-half",))
    outcome = run_trial(trial)
    assert f"the relay switched {outcome.switches} times" in said
    assert f"working temperature {outcome.working_overshoot_k:.2f} K" in said
    assert f"{outcome.energy_kwh:.3f} kWh used" in said


def test_a_fault_that_is_none_is_refused_before_anything_runs(folder: Path) -> None:
    result = ran(folder, str(COMMAND), "try", "mine.toml", "--fault", "heater-ded")
    assert result.returncode == 2
    assert result.stdout == ""
    assert 'There is no fault "heater-ded"; did you mean heater-dead?' in result.stderr
