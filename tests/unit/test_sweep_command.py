"""The command `bainward sweep`: what it refuses, what it prints, and one machine alone."""

import shlex
import signal
from pathlib import Path

import pytest

from controller.commands.main import main
from controller.errors import Exit
from controller.journal.reader import read_run
from controller.report.summary import summarise
from controller.report.table_file import read_table
from tests.helpers.sweep_process import BRIEF, brief_profile

ALONE = ("--processes", "1")


def sweep(folder: Path, *words: str) -> int:
    """Sweep the brief profile into a table in `folder`."""
    return main(["sweep", brief_profile(folder), "--table", str(folder / "t.csv"), *ALONE, *words])


def test_the_machine_that_a_sweep_names_gives_the_same_figures_alone(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert sweep(tmp_path, "--machines", "1", "--first", "3") == Exit.DONE
    table = read_table(tmp_path / "t.csv")
    assert table.machines == ("drawn-1-3",)

    said = capsys.readouterr().out
    command = shlex.split(said.partition("One alone: bainward ")[2].splitlines()[0])
    main([*command, "--no-broker", "--journal-dir", str(tmp_path)])
    (record,) = tmp_path.glob("*.jsonl")
    run = read_run(record)
    alone = summarise(run)
    assert run.closing is not None
    assert table.words("exit") == (run.closing.outcome,)
    assert table.figures("lasted_s") == (alone.lasted_s,)
    assert table.figures("switches") == (alone.switches,)
    assert table.figures("energy_kwh")[0] == pytest.approx(alone.energy_kwh, abs=1e-8)


def test_a_sweep_prints_where_its_table_is_and_how_the_runs_ended(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert sweep(tmp_path, "--machines", "2", "--plot", str(tmp_path / "p.png")) == Exit.DONE
    said = capsys.readouterr().out
    assert "brief.toml on 2 machines of seed 1: " in said
    assert f"Table: {tmp_path / 't.csv'}\nPicture: {tmp_path / 'p.png'}\n" in said
    assert (tmp_path / "p.png").read_bytes().startswith(b"\x89PNG")


def test_a_run_that_takes_too_long_is_stopped_and_replayed_with_the_same_patience(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["--machines", "1", "--give-up-after", "30min"]
    assert sweep(tmp_path, *words) == Exit.DONE
    table = read_table(tmp_path / "t.csv")
    assert table.words("exit") == ("stopped",)
    assert table.figures("lasted_s")[0] <= 1801.0
    assert "--machine drawn-1-1 --give-up-after 0.5h\n" in capsys.readouterr().out


def test_without_a_name_the_table_goes_where_records_go(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    words = ["sweep", brief_profile(tmp_path), "--machines", "1", "--seed", "7", *ALONE]
    main(words)
    folder = tmp_path / "state" / "bainward" / "sweeps"
    before = (folder / "brief-7.csv").read_bytes()
    main([*words, "--fault", "lid-off@hold+10s/1min"])  # another table takes no place of the first
    assert (folder / "brief-7-lid-off-hold-10s-1min.csv").is_file()
    assert (folder / "brief-7.csv").read_bytes() == before


def test_a_machine_that_cant_run_the_profile_is_a_refused_row(tmp_path: Path) -> None:
    profile = tmp_path / "cold.toml"
    # Colder than the rooms of some machines, though not than the reference's.
    profile.write_text(BRIEF.replace('"32 C"', '"25 C"'), encoding="utf-8")
    words = ["--table", str(tmp_path / "t.csv"), "--machines", "4", *ALONE]
    assert main(["sweep", str(profile), *words]) == Exit.DONE
    table = read_table(tmp_path / "t.csv")
    assert table.counts("exit")["refused"] in (1, 2, 3)
    assert any("can't cool to this" in why for why in table.words("failure"))


@pytest.mark.parametrize(
    ("words", "code", "sentence"),
    [
        (["sweep", "drak"], Exit.BAD_FILE, "did you mean dark?"),
        (["sweep", "dark", "--fault", "relay-weld"], Exit.USAGE, "relay-weld"),
        (["sweep", "dark", "--fault", "relay-welded@holt"], Exit.USAGE, "holt"),
        (["sweep", "dark", "--table", "t.xlsx"], Exit.USAGE, "must end in .csv or .parquet"),
        (["sweep", "dark", "--table", "no/t.csv"], Exit.NO_PERMISSION, "there is no folder no"),
        (["sweep", "dark", "--plot", "p.gif"], Exit.USAGE, "must end in"),
        (["sweep", "dark", "--fault", "broker-away"], Exit.USAGE, "the runs of a sweep have none"),
        (["sweep", "dark", "--machines", "9" * 14], Exit.USAGE, "at most 1000000 --machines"),
        (["sweep", "dark", "--seed", "9" * 11], Exit.USAGE, "a smaller --seed or --first"),
        (["sweep", "dark", "--first", "9" * 11], Exit.USAGE, "a smaller --seed or --first"),
    ],
)
def test_what_cant_be_swept_is_said_in_one_sentence_before_anything_runs(
    words: list[str], code: Exit, sentence: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([*words, *ALONE]) == code
    said = capsys.readouterr()
    assert said.out == ""
    assert sentence in said.err
    assert said.err.count("\n") == 1


@pytest.mark.parametrize("option", ["--machines", "--first", "--processes"])
@pytest.mark.parametrize("number", ["0", "-3", "many", "1.5"])
def test_a_number_that_cant_be_is_refused(
    option: str, number: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as left:
        main(["sweep", "dark", f"{option}={number}"])
    assert left.value.code == Exit.USAGE
    assert f"{number} is not a number of them" in capsys.readouterr().err


def test_a_signal_s_old_handler_is_back_after_a_sweep(tmp_path: Path) -> None:
    before = signal.getsignal(signal.SIGTERM)
    sweep(tmp_path, "--machines", "1")
    assert signal.getsignal(signal.SIGTERM) is before


def test_where_no_table_can_be_the_sentence_names_the_option_that_a_sweep_has(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "state").touch()
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    assert main(["sweep", "dark", "--machines", "1", *ALONE]) == Exit.NO_PERMISSION
    assert "name another place with --table" in capsys.readouterr().err
