"""Which proofs a machine lacks, and the file that keeps them."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from msgspec.structs import replace as replaced

from controller.commissioning.proof_file import (
    change_proofs,
    proofs_path,
    read_proofs,
    refuse_unproven,
    with_step,
)
from controller.commissioning.proofs import (
    RULES,
    Done,
    Lack,
    Proofs,
    Step,
    ending_soon,
    lacking,
    made_of,
    needed_before,
    needed_for,
    steps_of,
)
from controller.core.profile import Kind
from controller.errors import AccessError, RecordError, UnprovenError
from controller.files.machine_file import MachineFile, load_machine_file
from tests.helpers.commissioned import machine_text
from tests.helpers.proven import facts_of, prove_all

FILE = Path(__file__).resolve().parents[1] / "helpers" / "board_machine.toml"
HERE = "this computer"
NOW = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)


def kitchen(folder: Path, *changes: tuple[str, str]) -> MachineFile:
    """A real machine in that folder."""
    text = FILE.read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    path = folder / "kitchen.toml"
    path.write_text(text, encoding="utf-8")
    return load_machine_file(path)


def all_shown(machine_file: MachineFile, at: datetime = NOW) -> Proofs:
    """Every step, at one time."""
    proofs = Proofs(machine=machine_file.machine.name)
    for step in Step:
        proofs = with_step(step, machine_file, at, facts_of(step, machine_file), on=HERE)(proofs)
    return proofs


def first_lack(
    proofs: Proofs, machine_file: MachineFile, now: datetime, kind: Kind = Kind.DARK
) -> Lack:
    """The first that is lacking."""
    return lacking(
        proofs, machine_file, now, needed_for(machine_file, "own", kind), Path("k.toml"), on=HERE
    )[0]


def test_a_machine_of_which_nothing_was_shown_lacks_every_step_in_its_order(
    tmp_path: Path,
) -> None:
    machine_file = kitchen(tmp_path)
    proofs = Proofs(machine=machine_file.machine.name)
    found = lacking(proofs, machine_file, NOW, needed_for(machine_file, "dark", Kind.DARK), on=HERE)
    assert [lack.step for lack in found] == list(Step)
    assert found[1].command == f"bainward prove --machine {machine_file.machine.name}"


def test_a_machine_of_which_all_was_shown_lacks_nothing(tmp_path: Path) -> None:
    machine_file = kitchen(tmp_path)
    needed = needed_for(machine_file, "dark", Kind.DARK)
    assert lacking(all_shown(machine_file), machine_file, NOW, needed, on=HERE) == ()


@pytest.mark.parametrize("step", Step)
def test_each_step_counts_for_its_days_and_not_a_second_longer(tmp_path: Path, step: Step) -> None:
    machine_file = kitchen(tmp_path)
    proofs = all_shown(machine_file)
    end = NOW + timedelta(days=RULES[step].counts_d)
    assert lacking(proofs, machine_file, end - timedelta(seconds=1), (step,), on=HERE) == ()
    why = lacking(proofs, machine_file, end, (step,), on=HERE)[0].why
    assert why.endswith(f"which counts {RULES[step].counts_d} days")


def test_a_proof_from_days_to_come_asks_for_the_clock_to_be_set(tmp_path: Path) -> None:
    machine_file = kitchen(tmp_path)
    lack = first_lack(all_shown(machine_file, NOW + timedelta(days=2)), machine_file, NOW)
    assert "set the clock" in lack.why
    assert not lacking(
        all_shown(machine_file, NOW + timedelta(hours=20)), machine_file, NOW, tuple(Step), on=HERE
    )


@pytest.mark.parametrize(
    ("old", "new", "lost"),
    [
        (
            "[attach.bath]\ninput_register = 0",
            "[attach.bath]\ninput_register = 9",
            {Step.PROBES, Step.BATH, Step.FIT, Step.TRIAL},
        ),
        (
            "[attach.bowl]\ninput_register = 1",
            "[attach.bowl]\ninput_register = 9",
            {Step.PROBES, Step.BOWL, Step.FIT, Step.TRIAL},
        ),
        (
            '[guard.main]\nkind = "modbus"\ncoil = 0',
            '[guard.main]\nkind = "modbus"\ncoil = 7',
            {Step.PROVE, Step.FIT, Step.TRIAL},
        ),
        (
            '[guard.probe]\nkind = "modbus"\ninput_register = 2',
            '[guard.probe]\nkind = "modbus"\ninput_register = 9',
            {Step.PROBES, Step.PROVE, Step.TRIAL},
        ),
    ],
)
def test_another_part_ends_the_proofs_that_were_of_it_and_no_others(
    tmp_path: Path, old: str, new: str, lost: set[Step]
) -> None:
    proofs = all_shown(kitchen(tmp_path))
    changed = kitchen(tmp_path, (old, new))
    found = lacking(proofs, changed, NOW, needed_for(changed, "dark", Kind.DARK), on=HERE)
    assert {lack.step for lack in found} == lost
    assert all("other parts" in lack.why for lack in found)


def test_with_another_computer_only_thermometers_with_numbers_of_their_own_keep_proofs(
    tmp_path: Path,
) -> None:
    path = tmp_path / "kitchen.toml"
    path.write_text(machine_text(), encoding="utf-8")
    wired = load_machine_file(path)
    found = lacking(all_shown(wired), wired, NOW, tuple(Step), on="another")
    assert [lack.step for lack in found] == [Step.PROVE, Step.FIT, Step.TRIAL]
    board = kitchen(tmp_path)
    found = lacking(all_shown(board), board, NOW, tuple(Step), on="another")
    assert [lack.step for lack in found] == list(Step)
    assert all("with another computer than this" in lack.why for lack in found)


def test_a_proof_counts_however_the_machine_file_is_named_and_wherever_its_folder_goes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    here, there = tmp_path / "here", tmp_path / "there"
    here.mkdir()
    (here / "kitchen.toml").write_text(machine_text(), encoding="utf-8")

    def made(path: Path) -> list[str]:
        return [made_of(step, load_machine_file(path)) for step in Step]

    meant = made(here / "kitchen.toml")
    monkeypatch.chdir(here)
    assert made(Path("kitchen.toml")) == meant
    monkeypatch.chdir(tmp_path)
    assert made(Path("here/kitchen.toml")) == meant
    here.rename(there)
    assert made(there / "kitchen.toml") == meant
    moved = machine_text(("tree/lines/heater", "tree/lines/other"))
    (there / "kitchen.toml").write_text(moved, encoding="utf-8")
    assert made(there / "kitchen.toml") != meant


def test_what_a_step_was_shown_of_is_the_same_on_every_build(tmp_path: Path) -> None:
    machine_file = kitchen(tmp_path)
    assert made_of(Step.BATH, machine_file) == "aa42551c938d19a0"


def test_a_correction_and_other_sizes_in_the_machine_file_end_no_proof(tmp_path: Path) -> None:
    proofs = all_shown(kitchen(tmp_path))
    changed = kitchen(tmp_path, ('heater = "500 W"', 'heater = "470 W"'))
    assert lacking(proofs, changed, NOW, needed_for(changed, "dark", Kind.DARK), on=HERE) == ()


def test_a_run_with_water_needs_all_but_the_run_itself(tmp_path: Path) -> None:
    machine_file = kitchen(tmp_path)
    assert needed_for(machine_file, "mine", Kind.WATER) == tuple(Step)[:-1]
    assert needed_for(machine_file, "step-test", Kind.WATER) == tuple(Step)[:-2]
    assert needed_before(machine_file, Step.FIT) == tuple(Step)[:-2]
    assert needed_before(machine_file, Step.PROBES) == ()


def test_a_bench_needs_no_proof(tmp_path: Path) -> None:
    bench = load_machine_file(None)
    assert steps_of(bench) == ()
    refuse_unproven(bench, "dark", Kind.DARK, NOW, on=HERE)
    assert list(tmp_path.iterdir()) == []


def test_an_unproven_machine_is_refused_with_the_next_command(tmp_path: Path) -> None:
    machine_file = kitchen(tmp_path)
    with pytest.raises(UnprovenError) as refused:
        refuse_unproven(machine_file, "dark", Kind.DARK, NOW, on=HERE)
    said = str(refused.value)
    assert said.endswith(f"`bainward probes --machine {tmp_path / 'kitchen.toml'}`.")
    prove_all(machine_file, NOW, on=HERE)
    refuse_unproven(machine_file, "dark", Kind.DARK, NOW, on=HERE)
    with pytest.raises(UnprovenError, match="bainward prove"):
        refuse_unproven(machine_file, "dark", Kind.DARK, NOW + timedelta(days=200), on=HERE)


def test_a_step_is_written_dated_and_ends_its_parts(tmp_path: Path) -> None:
    machine_file = kitchen(tmp_path)
    part = Done(done_utc=NOW.isoformat(), of="x")
    name = machine_file.machine.name
    path = tmp_path / "kitchen.toml"
    parts = {"prove/first": part, "probes/bath": part}
    change_proofs(path, name, lambda old: replaced(old, parts=parts))
    change_proofs(path, name, with_step(Step.PROVE, machine_file, NOW, {"lines": "seen"}, on=HERE))
    proofs = read_proofs(path, name)
    assert proofs.steps["prove"].done_utc == "2026-03-01T12:00:00+00:00"
    assert proofs.steps["prove"].facts == {"lines": "seen"}
    assert set(proofs.parts) == {"probes/bath"}


def test_a_file_that_is_torn_foreign_or_of_another_schema_is_refused_by_name(
    tmp_path: Path,
) -> None:
    machine_file = kitchen(tmp_path)
    path, name = tmp_path / "kitchen.toml", machine_file.machine.name
    prove_all(machine_file, NOW, on=HERE)
    whole = proofs_path(path).read_text(encoding="utf-8")
    for text, said in (
        (whole[:50], "can't be understood"),
        (whole.replace(f'"{name}"', '"other"'), "not of"),
        (whole.replace('"schema": 1', '"schema": 2'), "has schema 2"),
        (whole.replace('"steps"', '"stepps"'), "can't be understood"),
        (whole.replace(f'"{name}"', '"\xff"'), "can't be understood"),
    ):
        proofs_path(path).write_text(text, encoding="latin-1")
        with pytest.raises(RecordError, match=said):
            read_proofs(path, name)


def test_a_file_that_can_not_be_read_is_refused(tmp_path: Path) -> None:
    machine_file = kitchen(tmp_path)
    proofs_path(tmp_path / "kitchen.toml").mkdir()
    with pytest.raises(AccessError, match=r"kitchen\.proofs\.json"):
        refuse_unproven(machine_file, "dark", Kind.DARK, NOW, on=HERE)


def test_what_ends_within_a_fortnight_is_told_with_its_days(tmp_path: Path) -> None:
    machine_file = kitchen(tmp_path)
    proofs = all_shown(machine_file)
    later = NOW + timedelta(days=RULES[Step.PROVE].counts_d - 10)
    assert ending_soon(proofs, later, tuple(Step)) == ((Step.PROVE, 10),)
    assert ending_soon(proofs, NOW, tuple(Step)) == ()
    assert ending_soon(Proofs(machine="none"), NOW, tuple(Step)) == ()


@pytest.mark.parametrize("text", ["yesterday", "", "0001-01-01T00:00:00+14:00"])
def test_a_step_with_a_date_that_is_none_is_named_with_what_stands_there_and_taken_again(
    tmp_path: Path, text: str
) -> None:
    machine_file = kitchen(tmp_path)
    done = Done(done_utc=text, of=made_of(Step.PROBES, machine_file), on=HERE)
    proofs = Proofs(machine=machine_file.machine.name, steps={"probes": done})
    lack = first_lack(proofs, machine_file, NOW)
    assert lack.step is Step.PROBES
    assert f'was shown on machine {proofs.machine} at "{text}", which is no date' in lack.why
    assert ending_soon(proofs, NOW, (Step.PROBES,)) == ()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("0001-01-01", "was shown on 0001-01-01 on machine"),
        ("9999-12-31", "was shown on 9999-12-31, which is still to come"),
    ],
)
def test_the_first_and_the_last_of_all_dates_are_dates(
    tmp_path: Path, text: str, said: str
) -> None:
    machine_file = kitchen(tmp_path)
    done = Done(done_utc=text, of=made_of(Step.PROBES, machine_file), on=HERE)
    proofs = Proofs(machine=machine_file.machine.name, steps={"probes": done})
    assert said in first_lack(proofs, machine_file, NOW).why
    assert ending_soon(proofs, NOW, (Step.PROBES,)) == ()
