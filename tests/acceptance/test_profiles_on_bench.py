"""Whole runs of the shipped profiles in virtual time, through the real control, safety and journal.

What a good batch is: reference values of the project, named beside each number.
"""

from pathlib import Path

import pytest

from controller.core.profile import Verdict
from controller.errors import Exit
from controller.files.profile_file import shipped_profiles
from tests.helpers.runs import run_on_bench

MACHINES = ("reference", "brisk")
# The project's own goals for the first version: common practice asks for a working window of about
# 0.5 K to either side (common practice, no source).
OVERSHOOT_K = 0.3
HOLD_K = 0.3


# What only melts and keeps warm is the same on both.
TRIED = [
    (profile, machine)
    for profile in shipped_profiles()
    for machine in MACHINES
    if machine == "brisk" or profile not in {"compound-coat", "hold-liquid", "melt-only", "reset"}
]


@pytest.mark.parametrize(("profile", "machine"), TRIED)
def test_every_shipped_profile_ends_well_on_every_bench_machine(
    profile: str, machine: str, tmp_path: Path
) -> None:
    run = run_on_bench(profile, tmp_path, machine=machine)

    assert run.result.outcome is Exit.DONE
    assert run.causes == []
    assert run.summary.working_overshoot_k is not None
    assert run.summary.working_overshoot_k <= OVERSHOOT_K
    band = run.summary.hold_band
    assert band is not None
    assert band.min_k >= -HOLD_K
    assert band.max_k <= HOLD_K


def test_a_dark_run_melts_cools_rewarms_and_holds_and_is_in_temper(tmp_path: Path) -> None:
    run = run_on_bench("dark", tmp_path)

    assert [phase.name for phase in run.summary.phases] == ["melt", "cool", "rewarm", "hold"]
    truth = run.result.truth
    assert truth is not None
    # In temper on the bench: form V 0.5 to 4 % of the fat and at most 0.2 % unstable. Own
    # engineering values, from the 0.5 to 4 % that the literature spans (from memory, not checked).
    assert 0.005 <= truth.form_v <= 0.04
    assert truth.unstable <= 0.002
    assert run.summary.verdict is Verdict.IN_TEMPER


def test_a_batch_left_too_long_at_the_low_point_is_told_to_be_out_of_temper(
    tmp_path: Path,
) -> None:
    text = Path("profiles/dark.toml").read_text(encoding="utf-8")
    spoilt = text.replace('dwell = "5 min"', 'dwell = "20 min"')
    assert spoilt != text
    path = tmp_path / "spoilt.toml"
    path.write_text(spoilt, encoding="utf-8")

    run = run_on_bench(str(path), tmp_path)

    assert run.result.outcome is Exit.NOT_IN_TEMPER
    assert run.result.truth is not None
    assert run.result.truth.form_v > 0.04


def test_the_same_seed_gives_the_same_journal_byte_for_byte(tmp_path: Path) -> None:
    first, second, third = (tmp_path / name for name in ("first", "second", "third"))
    for folder in (first, second, third):
        folder.mkdir()

    one = run_on_bench("dark", first, seed=7)
    two = run_on_bench("dark", second, seed=7)
    other = run_on_bench("dark", third, seed=8)

    assert one.path.read_bytes() == two.path.read_bytes()
    assert one.path.read_bytes() != other.path.read_bytes()


@pytest.mark.parametrize("machine", MACHINES)
def test_the_whole_profile_of_the_readme_ends_in_temper(machine: str, tmp_path: Path) -> None:
    readme = Path("profiles/README.md").read_text(encoding="utf-8")
    path = tmp_path / "mine.toml"
    path.write_text(readme.split("```toml\n")[1].split("```")[0], encoding="utf-8")

    run = run_on_bench(str(path), tmp_path, machine=machine)

    assert run.result.outcome is Exit.DONE
    assert run.causes == []
