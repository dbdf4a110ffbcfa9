"""An ordeal for real: copies of runs on drawn machines, and the command around them."""

import math
import os
import signal
from pathlib import Path

import pytest

from controller.commands.main import main
from controller.errors import CrashError, Exit
from controller.report.table_file import read_table
from controller.trials import Trial, run_trial
from controller.trials.ordeal import found_of, try_machine
from controller.trials.ordeal_draws import drawn_fittings
from controller.trials.ordeal_rough import ROUGH, drawn_deeds
from controller.trials.ordeal_summary import Tried, replay_text
from controller.trials.ordeal_watch import Found
from controller.wiring import BY_WORD, Bench, BenchFault

MACHINE = "drawn-3-2"
FAULTS = ("bath-probe-open", "memory-bit", "stirrer-stopped", "tick-late", "heater-dead")


def finds() -> list[Found]:
    """What came of a few faults on one machine."""
    return found_of(try_machine(MACHINE, "dark", FAULTS, count=6))


def test_a_copy_sees_what_a_run_of_its_own_with_that_fault_sees() -> None:
    found = finds()
    assert len(found) > 3
    fitted = drawn_fittings(3, 2)
    for one in found:
        tried = Tried(machine=MACHINE, fittings=frozenset(fitted), found=one)
        spec = replay_text(tried, "dark").rsplit(" ", 1)[1]
        alone = run_trial(Trial(profile="dark", machine=MACHINE, fitted=fitted, faults=(spec,)))
        if math.isnan(one.trip_s):
            continue
        (phase,) = [each for each in alone.phases if each.name == one.phase]
        assert alone.trips[0].cause == one.cause
        assert alone.trips[0].at_s == pytest.approx(phase.start_s + one.after_s + one.trip_s)
    assert {one.cause for one in found} >= {"bath-probe-missing", "limits-changed"}


@pytest.mark.parametrize(
    ("machine", "profile", "after_s"),
    [("drawn-625-61", "dark", 270.0), ("drawn-626-24", "milk", 536.0)],
)
def test_a_bath_at_its_ceiling_spares_a_batch_whose_thermometer_creeps_away(
    machine: str, profile: str, after_s: float
) -> None:
    # Each was melted out before anybody was told, while the bath might stand where form V melts.
    found = found_of(
        try_machine(machine, profile, ("bowl-probe-drift", "bowl-probe-frozen"), count=8)
    )
    (crept,) = [one for one in found if (one.phase, one.after_s) == ("hold", after_s)]
    assert (crept.fault, crept.size) == ("bowl-probe-drift", -5.0)
    assert [one.harm for one in found] == [""] * len(found)


def test_what_breaks_the_program_in_a_copy_is_told_of_that_fault_alone(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    inject = Bench.inject

    def injected(bench: Bench, fault: BenchFault, size: float | None = None) -> None:
        inject(bench, fault, size)
        if fault is BenchFault.LID_OFF:
            bench.plant.parameters = None  # type: ignore[assignment] # as a bug would

    monkeypatch.setattr(Bench, "inject", injected)
    row = try_machine(MACHINE, "water-trial", ("lid-off", "level-stuck"), count=2)
    crashes = {one.fault: one.crash for one in found_of(row)}
    assert "AttributeError" in crashes["lid-off"]
    assert crashes["level-stuck"] == ""


def test_a_copy_that_ends_without_a_word_ends_the_machines_row(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def kill(_bench: Bench, _fault: BenchFault, _size: float | None = None) -> None:
        os.kill(os.getpid(), signal.SIGKILL)

    monkeypatch.setattr(Bench, "inject", kill)
    with pytest.raises(CrashError, match="broken by lid-off, ended without a word"):
        try_machine(MACHINE, "water-trial", ("lid-off",), count=1)


def test_the_command_prints_what_was_seen_and_two_processes_give_the_bytes_of_one(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["ordeal", "water-trial", "--machines", "2", "--each", "4", "--seed", "4"]
    tables = []
    for count in ("1", "2"):
        table = tmp_path / f"{count}.csv"
        assert main([*words, "--processes", count, "--table", str(table)]) == Exit.DONE
        tables.append(table.read_bytes())
        said = capsys.readouterr().out
        assert "8 faults on 2 machines, water-trial" in said
        assert "Harm with heat on and nobody told, where it could be seen: 0.\n" in said
    assert tables[0] == tables[1]


def test_harm_that_came_unseen_shows_in_the_exit_code(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("controller.trials.ordeal_watch.SCALDS_C", 0.0)
    words = ["--machines", "1", "--each", "1", "--fault", "heater-dead", "--processes", "1"]
    table = str(tmp_path / "t.csv")
    assert main(["ordeal", "water-trial", *words, "--table", table]) == Exit.TRIPPED
    assert "bainward try water-trial --machine drawn-1-1 --fitted" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("word", "hint"), [("relay-weld", "did you mean relay-welded?"), ("broker-away", "there are ")]
)
def test_a_fault_that_cant_be_tried_is_said_in_one_sentence(
    word: str, hint: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["ordeal", "dark", "--fault", word]) == Exit.USAGE
    said = capsys.readouterr().err
    assert word in said
    assert hint in said


def test_machines_that_are_handled_roughly_are_whole_and_their_hours_counted(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    table = tmp_path / "t.csv"
    words = ["--machines", "2", "--seed", "8", "--processes", "1", "--table", str(table)]
    assert main(["ordeal", "water-trial", "--rough", *words]) == Exit.DONE
    read = read_table(table)
    hours = sum(read.figures("hours"))
    assert hours == pytest.approx(sum(read.figures("lasted_s")) / 3600.0)
    said = capsys.readouterr().out
    assert f"{hours:.0f} h of water-trial, 2 machines handled roughly: 0 tripped" in said


def test_rough_handling_is_drawn_from_its_table_and_can_be_written_as_faults() -> None:
    deeds = [deed for number in range(1, 40) for deed in drawn_deeds(1, number, ("melt", "hold"))]
    words = {deed.split(":")[0].split("@")[0] for deed in deeds}
    assert words == {str(fault) for fault in ROUGH}
    assert all(BY_WORD[word] in ROUGH for word in words)
    assert all("@melt+" in deed or "@hold+" in deed for deed in deeds)


def test_a_machine_that_trips_though_it_is_whole_shows_in_the_exit_code(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(
        "controller.trials.ordeal_rough.drawn_deeds", lambda *_: ("bath-probe-open@warm",)
    )
    words = ["--rough", "--machines", "1", "--processes", "1", "--table", str(tmp_path / "t.csv")]
    assert main(["ordeal", "water-trial", *words]) == Exit.TRIPPED
