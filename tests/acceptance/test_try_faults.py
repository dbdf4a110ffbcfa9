"""Faults in the real command: what a run looks like whose computer, disk or broker is broken."""

import io
import sys
from pathlib import Path

import pytest

from controller.commands.main import main
from controller.errors import Exit
from controller.journal.reader import read_run
from controller.journal.records import Run
from tests.helpers.brokers import free_port

NAMES = ("journal_failed", "trip_latched")


def tried(folder: Path, *words: str) -> tuple[Exit, Run]:
    """Try the commissioning run on the quick machine; its exit code and record."""
    where = ("--machine", "brisk", "--journal-dir", str(folder))
    code = main(["try", "water-trial", *where, *words])
    (path,) = folder.glob("*.jsonl")
    return Exit(code), read_run(path)


def test_a_power_cut_leaves_a_record_without_an_end(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, run = tried(tmp_path, "--no-broker", "--fault", "power-cut@warm+5min")
    assert code is Exit.STOPPED
    assert run.closing is None
    assert 290.0 < run.samples[-1].t_s <= 301.0
    said = capsys.readouterr().out
    assert "Fault: power-cut in warm after 5 min: All power goes" in said
    assert "broke off" in said


def test_a_run_goes_to_its_end_on_a_disk_that_fills_up(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, run = tried(tmp_path, "--no-broker", "--fault", "disk-full@warm+5min")
    assert code is Exit.DONE
    assert run.closing is None
    assert 290.0 < run.samples[-1].t_s <= 301.0
    assert "No space left on device" in capsys.readouterr().out


class Terminal(io.StringIO):
    """A screen that somebody looks at."""

    def isatty(self) -> bool:
        """Say yes."""
        return True


@pytest.mark.parametrize(
    ("screen", "log", "words", "logged"),
    [
        (Terminal, Terminal, (), ["journal_failed"]),
        (Terminal, Terminal, ("--log", "text"), ["journal_failed", "trip_latched"]),
        (io.StringIO, Terminal, (), ["journal_failed", "trip_latched"]),
        (Terminal, io.StringIO, (), ["journal_failed", "trip_latched"]),
    ],
)
def test_a_trip_that_a_terminal_shows_is_logged_only_if_asked_and_other_errors_always(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    screen: type[io.StringIO],
    log: type[io.StringIO],
    words: tuple[str, ...],
    logged: list[str],
) -> None:
    monkeypatch.setattr(sys, "stdout", shown := screen())
    monkeypatch.setattr(sys, "stderr", told := log())
    faults = ("--fault", "disk-full@warm+1min", "--fault", "bowl-probe-open@warm+2min")
    code, _ = tried(tmp_path, "--no-broker", *faults, *words)
    assert code is Exit.TRIPPED
    assert "Heat is off. The bowl probe gives no value" in shown.getvalue()
    lines = told.getvalue().splitlines()
    found = [name for line in lines if "error" in line for name in NAMES if name in line]
    assert sorted(found) == logged


def test_a_broker_that_goes_away_changes_nothing_of_a_run(tmp_path: Path) -> None:
    away, there = tmp_path / "away", tmp_path / "there"
    fault = ("--port", str(free_port()), "--fault", "broker-away@warm+1min/5min")
    code, run = tried(away, *fault)
    assert code is Exit.DONE
    assert run.samples == tried(there, "--no-broker")[1].samples


def test_a_broker_that_is_not_there_can_not_go_away(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["--no-broker", "--fault", "broker-away@warm", "--journal-dir", str(tmp_path)]
    assert main(["try", "water-trial", *words]) == Exit.USAGE
    assert "leave --broker and --no-broker out" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []
