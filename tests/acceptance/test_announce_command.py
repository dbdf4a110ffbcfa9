"""`bainward announce` beside a real run: a process of its own, its tick, its record."""

from pathlib import Path
from subprocess import Popen

import pytest

from controller.errors import Exit
from controller.files.machine_file import bench_machine_path
from controller.journal.reader import read_run
from tests.helpers.process import end, start

REFERENCE = str(bench_machine_path("reference"))
SMALL = str(bench_machine_path("small"))


def said(folder: Path, *words: str) -> tuple[int, str, str]:
    """What `bainward announce` says and how it ends."""
    return end(start(folder, "announce", *words))


def running(folder: Path, machine: str) -> Popen[str]:
    """A run that has started."""
    words = ("run", "dark", "--machine", machine, "--journal-dir", str(folder), "--no-broker")
    process = start(folder, *words, "--log", "json")
    assert process.stderr is not None
    assert "run_started" in process.stderr.readline()
    return process


def test_a_run_takes_what_is_announced_from_another_terminal_and_writes_it_down(
    tmp_path: Path,
) -> None:
    process = running(tmp_path, REFERENCE)
    said_so = said(tmp_path, "swapped", "50", "%", "at", "15", "C")
    by_file = said(tmp_path, "--machine", REFERENCE, "lid open")
    of_another = said(tmp_path, "--machine", SMALL, "lid open")
    more = [said(tmp_path, "lid closed") for _ in range(2)]
    process.terminate()
    end(process)

    assert said_so == (Exit.DONE, "The run takes it into account: swapped 50 % at 15.0 C.\n", "")
    assert by_file == (Exit.DONE, "The run takes it into account: lid open.\n", "")
    assert of_another[0] == Exit.HARDWARE
    assert more[0][0] == Exit.DONE
    assert more[1][0] == Exit.USAGE
    assert "more than 3 a minute are not taken" in more[1][2]
    (record,) = tmp_path.glob("*.jsonl")
    deeds = [
        (event.facts["deed"], event.facts["by"])
        for event in read_run(record).events
        if event.name == "deed_announced"
    ]
    assert deeds == [
        ("swapped 50 % at 15.0 C", "link"),
        ("lid open", "link"),
        ("lid closed", "link"),
    ]


def test_of_several_runs_one_must_be_named(tmp_path: Path) -> None:
    processes = [running(tmp_path, machine) for machine in (REFERENCE, SMALL)]
    code, _, err = said(tmp_path, "lid open")
    named = said(tmp_path, "--machine", "small", "lid open")
    for process in processes:
        process.terminate()
        end(process)
    assert code == Exit.USAGE
    assert "say which with --machine: reference, small" in err
    assert named[0] == Exit.DONE


@pytest.mark.parametrize("is_killed", [True, False])
def test_without_a_run_a_sentence_says_so(tmp_path: Path, is_killed: bool) -> None:
    if is_killed:
        process = running(tmp_path, REFERENCE)
        process.kill()
        end(process)
    code, out, err = said(tmp_path, "lid open")
    assert (code, out) == (Exit.HARDWARE, "")
    assert "No run goes on that could be told" in err
    assert len(err.splitlines()) == 1


def test_what_is_no_deed_is_refused_before_any_run_hears_of_it(tmp_path: Path) -> None:
    for words, why in (("added", "write announce added 200 g"), ("added 200", "mean 200 g?")):
        code, out, err = said(tmp_path, *words.split())
        assert (code, out) == (Exit.USAGE, "")
        assert f"{words!r} is nothing that can be announced; " in err
        assert why in err


def test_a_slow_try_takes_it_too(tmp_path: Path) -> None:
    words = ("try", "dark", "--you-answer", "--no-broker", "--journal-dir", str(tmp_path))
    process = start(tmp_path, *words, "--log", "json")
    assert process.stderr is not None
    assert "run_started" in process.stderr.readline()
    answer = said(tmp_path, "lid open")
    process.terminate()
    end(process)
    assert answer == (Exit.DONE, "The run takes it into account: lid open.\n", "")
