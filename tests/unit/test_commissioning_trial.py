"""The water trial's sheet, and the commands that need and write proofs."""

import argparse
from dataclasses import replace
from pathlib import Path

import pytest
from msgspec.structs import replace as replaced

from controller.book.pen import PART
from controller.commands import fitting, trusting
from controller.commands.options import parser
from controller.commissioning.fitting import METER_SD, NAMEPLATE_SD
from controller.commissioning.proof_file import change_proofs, read_proofs
from controller.commissioning.proofs import Proofs, Step
from controller.commissioning.step_test import PROFILE
from controller.commissioning.trial_sheet import Row, passes, sheet_of, sheet_text
from controller.core.profile import Profile
from controller.errors import AccessError, Exit, UnprovenError
from controller.files.machine_file import MachineFile, load_machine_file
from controller.files.profile_file import load_profile
from controller.files.toml_file import package_folder
from controller.journal.reader import read_run
from controller.journal.records import Run
from controller.trials.trial import Trial, run_trial
from tests.helpers.commissioned import BEGAN, Minutes, Scripted, machine_text, site_in
from tests.helpers.proven import prove_all

SHIPPED = str(package_folder("profiles") / "water-trial.toml")


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A water trial of the reference machine with pulses of its shaft."""
    path = tmp_path_factory.mktemp("trial") / "trial.jsonl"
    trial = Trial(profile="water-trial", machine="brisk", fitted=("shaft",))
    run_trial(trial, journal=path, began_utc=BEGAN.isoformat())
    return path


@pytest.fixture(scope="module")
def run(record: Path) -> Run:
    """The same, read back."""
    return read_run(record)


def failed(run: Run) -> list[str]:
    """What does not pass."""
    return [row.what for row in sheet_of(run) if not row.passes]


def test_a_sound_trial_passes_in_every_row(run: Run) -> None:
    rows = sheet_of(run)
    assert passes(rows), sheet_text(rows)
    assert len(rows) == 11
    assert "All of it passes" in sheet_text(rows)
    assert "pass  hold: hottest bath" in sheet_text(rows)


def changed(
    run: Run,
    phase: str,
    *,
    bath_c: float | None = None,
    bowl_c: float | None = None,
    shaft_rpm: float | None = None,
) -> Run:
    """The same with other readings in the second half of a phase."""
    mine = [one.seq for one in run.samples if one.phase == phase]
    late = set(mine[len(mine) // 2 :])
    samples = tuple(
        replace(
            one,
            bath_c=one.bath_c if bath_c is None else bath_c,
            bowl_c=one.bowl_c if bowl_c is None else bowl_c,
            shaft_rpm=one.shaft_rpm if shaft_rpm is None else shaft_rpm,
        )
        if one.seq in late
        else one
        for one in run.samples
    )
    return replace(run, samples=samples)


def without(run: Run, name: str) -> Run:
    """The same without such events."""
    return replace(run, events=tuple(note for note in run.events if note.name != name))


def test_each_defect_fails_its_row_and_says_so(run: Run) -> None:
    assert failed(changed(run, "warm", bowl_c=32.45)) == ["warm: held within"]
    assert failed(changed(run, "warm", bowl_c=33.0)) == [
        "warm: held within",
        "warm: bowl over its target",
    ]
    assert failed(changed(run, "hold", bath_c=47.0)) == ["hold: hottest bath"]
    assert failed(changed(run, "hold", shaft_rpm=0.0)) == ["the stirrer turned"]
    assert failed(replace(run, closing=None)) == ["the run ended by itself"]
    assert failed(without(run, "target_reached"))[:2] == [
        "warm: 32 °C reached",
        "warm: held within",
    ]
    answers = tuple(
        replace(note, facts={**note.facts, "choice": "no"})
        if note.name == "question_answered"
        else note
        for note in run.events
    )
    assert failed(replace(run, events=answers)) == ["a person was asked: look"]
    text = sheet_text(sheet_of(changed(run, "hold", bath_c=47.0)))
    assert "FAIL  hold: hottest bath" in text
    assert "1 failed: see to" in text


def test_a_run_without_readings_passes_nothing_that_they_show(run: Run) -> None:
    rows = sheet_of(replace(run, samples=(), events=()))
    shown = [row.what for row in rows if row.passes]
    assert shown == ["the run ended by itself", "the stirrer turned"]
    counted = next(row for row in rows if row.what == "the stirrer turned")
    assert counted == Row("the stirrer turned", "not counted: a person looked", "", passes=True)


def kitchen(folder: Path) -> Path:
    """A real machine of which all but the trial was shown."""
    path = folder / "kitchen.toml"
    path.write_text(machine_text(), encoding="utf-8")
    site_in(folder, Scripted(), Minutes())
    return path


def test_a_passed_trial_is_dated_and_a_failed_one_is_not(
    tmp_path: Path, record: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = kitchen(tmp_path)
    machine_file = load_machine_file(path)
    profile = load_profile("water-trial", machine_file.machine)
    assert trusting.concluded(machine_file, profile, record, Exit.DONE) is Exit.DONE
    assert "All of it passes" in capsys.readouterr().out
    assert read_proofs(path, "kitchen").steps["water-trial"].facts["hold: held within"]
    proofs = path.with_name("kitchen.proofs.json")
    proofs.unlink()
    cut = tmp_path / "cut.jsonl"
    cut.write_bytes(b"".join(record.read_bytes().splitlines(keepends=True)[:200]))
    assert trusting.concluded(machine_file, profile, cut, Exit.DONE) is Exit.UNPROVEN
    assert trusting.concluded(machine_file, profile, cut, Exit.STOPPED) is Exit.STOPPED
    assert not proofs.exists()


def test_runs_of_a_bench_and_of_other_profiles_conclude_nothing(
    tmp_path: Path, record: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bench = load_machine_file(None)
    profile = load_profile("water-trial", bench.machine)
    assert trusting.concluded(bench, profile, record, Exit.DONE) is Exit.DONE
    real = load_machine_file(kitchen(tmp_path))
    dark = load_profile("dark", real.machine)
    assert trusting.concluded(real, dark, record, Exit.DONE) is Exit.DONE
    assert capsys.readouterr().out == ""


def all_but(step: Step, path: Path) -> MachineFile:
    """That machine, with every other step shown."""
    machine_file = load_machine_file(path)
    prove_all(machine_file)

    def without_it(old: Proofs) -> Proofs:
        return replaced(old, steps={k: v for k, v in old.steps.items() if k != step})

    change_proofs(path, "kitchen", without_it)
    return machine_file


def own_copy(folder: Path, machine_file: MachineFile, name: str, old: str, new: str) -> Profile:
    """A maker's own file of a profile that comes with bainward, with something in it changed."""
    text = Path(name).read_text(encoding="utf-8")
    assert old in text
    path = folder / "own.toml"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    return load_profile(str(path), machine_file.machine)


def test_a_profile_of_ones_own_is_no_water_trial_whatever_its_name(
    tmp_path: Path, record: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = kitchen(tmp_path)
    machine_file = all_but(Step.TRIAL, path)
    dark = load_profile("dark", machine_file.machine)
    easy = own_copy(tmp_path, machine_file, SHIPPED, 'bowl = "40 C"', 'bowl = "34 C"')
    said = f"the one that counts comes with bainward, `bainward run water-trial --machine {path}`"
    told = trusting.proofs_to_renew(machine_file, easy)
    assert "This water-trial is a profile of your own, and proves nothing of the machine" in told
    assert said in told
    assert told.count("\n") == 1
    assert trusting.concluded(machine_file, easy, record, Exit.DONE) is Exit.DONE
    assert said in (shown := capsys.readouterr().out)
    assert "Water trial:" not in shown
    with pytest.raises(UnprovenError, match="bainward run water-trial"):
        trusting.proofs_to_renew(machine_file, dark)
    same = own_copy(
        tmp_path, machine_file, SHIPPED, "# Water", "# My own water"
    )  # whatever its file is called
    assert trusting.proofs_to_renew(machine_file, same) == ""
    assert trusting.concluded(machine_file, same, record, Exit.DONE) is Exit.DONE
    assert trusting.proofs_to_renew(machine_file, dark) == ""


def test_a_profile_of_ones_own_is_no_step_test_whatever_its_name(tmp_path: Path) -> None:
    machine_file = all_but(Step.FIT, kitchen(tmp_path))
    theirs = own_copy(tmp_path, machine_file, str(PROFILE), 'bowl = "42 C"', 'bowl = "45 C"')
    with pytest.raises(UnprovenError, match="bainward fit"):
        trusting.proofs_to_renew(machine_file, theirs)
    ours = load_profile(str(PROFILE), machine_file.machine)
    assert trusting.proofs_to_renew(machine_file, ours) == ""


def test_a_run_of_an_unproven_machine_is_refused_and_one_soon_due_is_told(tmp_path: Path) -> None:
    machine_file = load_machine_file(kitchen(tmp_path))
    dark = load_profile("dark", machine_file.machine)
    with pytest.raises(UnprovenError, match="bainward probes"):
        trusting.proofs_to_renew(machine_file, dark)
    prove_all(machine_file)
    assert trusting.proofs_to_renew(machine_file, dark) == ""


def test_what_can_not_be_kept_is_refused_before_anybody_does_anything(tmp_path: Path) -> None:
    machine_file = load_machine_file(kitchen(tmp_path))
    prove_all(machine_file)
    trial, dark = (load_profile(name, machine_file.machine) for name in ("water-trial", "dark"))
    site = site_in(tmp_path, Scripted(), Minutes())
    before = sorted(tmp_path.iterdir())
    site.begin(Step.PROBES)
    trusting.proofs_to_renew(machine_file, trial)
    assert sorted(tmp_path.iterdir()) == before
    (tmp_path / f"kitchen.proofs.json{PART}").mkdir()  # in the way, even of root
    with pytest.raises(AccessError, match="can't be written"):
        site.begin(Step.PROBES)
    with pytest.raises(AccessError, match="can't be written"):
        trusting.proofs_to_renew(machine_file, trial)
    trusting.proofs_to_renew(machine_file, dark)  # which writes none


class Fitting:
    """The command `fit` with a run that is there already, or comes."""

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        """A machine that is like the bench's reference, and of which all before was shown."""
        self.path = folder / "kitchen.toml"
        self.runs = folder / "runs"
        self.runs.mkdir()
        self.path.write_text(
            machine_text(('batch = "0.4 kg"', 'batch = "1.5 kg"'))
            + '\n[journal]\nfolder = "runs"\n',
            encoding="utf-8",
        )
        self.person, self.clock = Scripted(), Minutes()
        site_in(folder, self.person, self.clock, shown=tuple(Step)[:-2])
        self.ran: list[Path] = []
        self.ends = Exit.DONE
        monkeypatch.setattr(
            fitting, "opened_site", lambda _: site_in(folder, self.person, self.clock)
        )
        monkeypatch.setattr(fitting, "_run_test", self._run)

    def _run(self, machine: Path) -> Exit:
        self.ran.append(machine)
        if self.ends is Exit.DONE:
            self.test(f"{len(self.ran)}.jsonl")
        return self.ends

    def test(self, name: str) -> Path:
        """A step test's record, as this machine's run would leave it."""
        record = self.runs / name
        bench = self.path.with_name("bench.toml")
        reference = load_machine_file(None).path
        assert reference is not None
        text = reference.read_text(encoding="utf-8")
        bench.write_text(text.replace('name = "reference"', 'name = "kitchen"', 1), "utf-8")
        run_trial(
            Trial(profile=PROFILE, machine=bench), journal=record, began_utc=BEGAN.isoformat()
        )
        return record

    def fit(self, *words: str) -> Exit:
        """Give the command."""
        return fitting.fit(parser().parse_args(["fit", "--machine", str(self.path), *words]))


@pytest.fixture
def stage(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Fitting:
    """A stage in a folder of its own."""
    return Fitting(tmp_path, monkeypatch)


def test_a_fit_runs_the_step_test_once_and_dates_what_it_found(stage: Fitting) -> None:
    assert stage.fit("--power", "500 W", "--room", "20 C") is Exit.DONE
    assert stage.ran == [stage.path]
    assert "heat capacity" in stage.person.said[-2]
    assert stage.person.said[-1].endswith("run water-trial --machine " + f"{stage.path}`.")
    assert "losses" in read_proofs(stage.path, "kitchen").steps["fit"].facts
    assert stage.fit() is Exit.DONE  # the record is there
    assert len(stage.ran) == 1


def test_a_step_test_that_does_not_end_by_itself_dates_nothing(stage: Fitting) -> None:
    stage.ends = Exit.TRIPPED
    assert stage.fit() is Exit.TRIPPED
    assert "nothing is fitted" in stage.person.said[-1]
    assert "fit" not in read_proofs(stage.path, "kitchen").steps
    stage.test("before.jsonl")
    assert stage.fit("--again") is Exit.TRIPPED  # and not what was there before
    assert "fit" not in read_proofs(stage.path, "kitchen").steps


def test_a_record_that_is_meant_is_fitted_and_none_is_run(stage: Fitting) -> None:
    assert stage.fit("--record", str(stage.test("mine.jsonl"))) is Exit.DONE
    assert stage.ran == []


def test_a_power_that_is_not_measured_is_less_sure() -> None:
    machine = load_machine_file(None).machine
    told = fitting.known_of(argparse.Namespace(power=None, room=None), machine)
    measured = fitting.known_of(argparse.Namespace(power=480.0, room=21.0), machine)
    assert (told.power_w, told.power_sd) == (machine.heater_w, NAMEPLATE_SD)
    assert (measured.power_w, measured.power_sd, measured.room_c) == (480.0, METER_SD, 21.0)
    assert told.room_sd_k > measured.room_sd_k
