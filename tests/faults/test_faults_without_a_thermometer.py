"""Faults on a machine that does without a thermometer in bath or bowl: what is left must see them.

Responsible for whole runs on the bench; not for the arithmetic (tests/unit/test_core_consistency).
"""

from pathlib import Path

import pytest

from controller.core.interlocks import Cause
from controller.errors import Exit
from controller.files.machine_file import bench_machine_path
from controller.trials import Outcome, Trial, run_trial

FITTED = "[fitted]\n"
GIVE_UP_S = 4 * 3600.0


def without(probe: str, folder: Path) -> Path:
    """The reference machine, said to have no such thermometer."""
    text = bench_machine_path("reference").read_text(encoding="utf-8")
    assert FITTED in text
    path = folder / "lacking.toml"
    path.write_text(text.replace(FITTED, f"{FITTED}{probe} = false\n"), encoding="utf-8")
    return path


def tried(probe: str, folder: Path, profile: str, *faults: str) -> Outcome:
    """What came of a run without that thermometer."""
    machine = without(probe, folder)
    trial = Trial(profile=profile, machine=machine, faults=faults, give_up_after_s=GIVE_UP_S)
    return run_trial(trial)


@pytest.mark.parametrize("profile", ["milk", "white"])
def test_a_batch_gets_ready_without_a_thermometer_in_its_bath(profile: str, tmp_path: Path) -> None:
    # Cold water that is poured in was once believed warm for hours: the bowl stayed 1 K too cold.
    outcome = tried("bath_probe", tmp_path, profile)
    assert outcome.exit is Exit.DONE
    assert outcome.trips == ()


@pytest.mark.parametrize(
    ("probe", "fault", "cause"),
    [
        ("bath_probe", "guard-probe-frozen@melt+300s", Cause.GUARD_PROBE_FROZEN),
        ("bath_probe", "belt-off@hold+300s", Cause.STIRRER_UNLOADED),
        ("bath_probe", "bowl-probe-drift:-5K@hold+200s", Cause.BOWL_UNLIKE_BATH),
        ("bowl_probe", "guard-probe-frozen@melt+300s", Cause.BATH_PROBES_DISAGREE),
        ("bowl_probe", "belt-off@hold+300s", Cause.STIRRER_UNLOADED),
        ("bowl_probe", "bath-probe-drift:-3K@hold+200s", Cause.BATH_PROBES_DISAGREE),
    ],
)
def test_what_is_left_sees_a_fault(probe: str, fault: str, cause: Cause, tmp_path: Path) -> None:
    assert [trip.cause for trip in tried(probe, tmp_path, "dark", fault).trips[:1]] == [cause]


@pytest.mark.parametrize("fault", ["guard-probe-frozen@melt+300s", "guard-probe-out@melt+300s"])
def test_a_guards_thermometer_that_lies_leads_no_heat(fault: str, tmp_path: Path) -> None:
    # Followed without a limit, one that stayed at 30 °C once led the bath to 74 °C.
    assert tried("bath_probe", tmp_path, "dark", fault).bath_max_c <= 58.5


def test_a_bath_probe_too_little_off_to_trip_heats_an_unseen_bowl_little(tmp_path: Path) -> None:
    whole, off = (
        tried("bowl_probe", tmp_path, "milk", *faults)
        for faults in ((), ("bath-probe-drift:-1.9K@hold+200s",))
    )
    assert off.trips == ()
    assert 0.5 <= off.truth.bath_c - whole.truth.bath_c <= 1.2  # not the 1.9 K that it is off by
