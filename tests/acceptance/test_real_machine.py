"""A real machine is heated only through a running guard, and refused in one sentence otherwise."""

import re
from pathlib import Path

from controller.commissioning.proof_file import proofs_path
from controller.errors import Exit
from controller.files.machine_file import load_machine_file
from tests.helpers.guard_stage import Stage
from tests.helpers.process import end, start
from tests.helpers.proven import prove_all

REAL = """[attach]
kind = "linux"

[attach.bath]
kind = "hwmon"
path = "temp3_input" # the guard has one of its own

[attach.bowl]
kind = "hwmon"
path = "temp2_input"

[attach.stirrer]
line = "STIRRER"
"""


def real(stage: Stage, *, guarded: bool = True) -> Path:
    """The stage's machine file with a real machine in it."""
    text = stage.machine.read_text(encoding="utf-8")
    text = re.sub(r"\[attach\]\n(?:.+\n)+", REAL, text)
    # Nothing of the sample's is not to be read by the kernel's drivers of today.
    text = re.sub(r"(level_switch|shaft_pulses|load_signal) = true", r"\1 = false", text)
    if not guarded:
        text = text[: text.index("[guard]")]
    path = stage.folder / "real.toml"
    path.write_text(text, encoding="utf-8")
    if guarded:
        prove_all(load_machine_file(path))
    for probe in ("temp2_input", "temp3_input"):
        (stage.folder / probe).write_text("40000\n")
    return path


def refused(tmp_path: Path, machine: Path) -> tuple[int, str]:
    """Exit code and the one sentence of a run that does not begin."""
    words = ("run", "water-trial", "--machine", str(machine), "--no-broker")
    code, out, err = end(start(tmp_path, *words, "--journal-dir", str(tmp_path / "records")))
    assert out == ""
    assert err.count("\n") == 1, err
    assert not list((tmp_path / "records").glob("*.jsonl"))
    return code, err


def test_a_real_machine_without_a_guard_in_its_file_is_refused(tmp_path: Path) -> None:
    with Stage(tmp_path / "stage") as stage:
        code, err = refused(tmp_path, real(stage, guarded=False))
    assert code == Exit.BAD_FILE
    assert "[guard]" in err


def test_a_real_machine_whose_guard_does_not_run_is_refused(tmp_path: Path) -> None:
    with Stage(tmp_path / "stage") as stage:
        code, err = refused(tmp_path, real(stage))
        assert not stage.is_on()
    assert code == Exit.HARDWARE
    assert "start it with `bainward guard --machine FILE` in another" in err


def test_a_real_machine_without_its_stirrer_is_refused_and_its_guard_stays_off(
    tmp_path: Path,
) -> None:
    with Stage(tmp_path / "stage") as stage:
        stage.start_guard()
        code, err = refused(tmp_path, real(stage))
        assert not stage.is_on()
    assert code == Exit.HARDWARE
    assert "STIRRER" in err


def test_a_real_machine_of_which_a_step_is_missing_is_refused_before_its_guard_is_asked(
    tmp_path: Path,
) -> None:
    with Stage(tmp_path / "stage") as stage:
        machine = real(stage)
        proofs_path(machine).unlink()
        code, err = refused(tmp_path, machine)
    assert code == Exit.UNPROVEN
    assert f"do this next: `bainward probes --machine {machine}`" in err
