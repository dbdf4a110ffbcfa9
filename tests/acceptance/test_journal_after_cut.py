"""A killed run and the next starts of the real command: nothing heats without a person's word."""

import os
import pty
import signal
import subprocess
from pathlib import Path

from controller.errors import Exit
from controller.files.machine_file import bench_machine_path
from controller.journal.reader import read_header, read_run
from tests.helpers.process import COMMAND, END_WAIT_S, end, environment, start

REFERENCE = str(bench_machine_path("reference"))


def words(folder: Path, profile: str = "dark") -> tuple[str, ...]:
    """The command that runs a profile with its records in `folder`."""
    return ("run", profile, "--machine", REFERENCE, "--journal-dir", str(folder), "--no-broker")


def kill_a_run(folder: Path) -> Path:
    """Start a run, kill it once it is under way and recorded; its record."""
    process = start(folder, *words(folder), "--log", "json")
    assert process.stderr is not None
    for line in process.stderr:
        if "phase_entered" in line:
            break
    (path,) = folder.glob("*.jsonl")
    while not read_run(path).samples:  # the writer's thread has it in its hands
        os.sched_yield()
    process.kill()
    end(process)
    assert read_run(path).closing is None
    return path


def newest(folder: Path, old: set[Path]) -> Path:
    """The one record that was not there before."""
    (path,) = set(folder.glob("*.jsonl")) - old
    return path


def until_entered(process: subprocess.Popen[str]) -> None:
    """Wait until the run is under way."""
    assert process.stderr is not None
    assert any("phase_entered" in line for line in process.stderr)


def test_after_a_kill_nothing_heats_until_a_person_says_how(tmp_path: Path) -> None:
    cut = kill_a_run(tmp_path)
    run_id = read_header(cut).run_id

    code, out, err = end(start(tmp_path, *words(tmp_path)))
    assert code == Exit.STOPPED
    assert out == ""
    assert f"Run {run_id} was cut off in melt" in err
    assert "start again with --resume or --begin-again" in err
    assert set(tmp_path.glob("*.jsonl")) == {cut}  # no run, not even a record of one

    process = start(tmp_path, *words(tmp_path), "--resume", "--log", "json")
    until_entered(process)
    process.terminate()
    code, _, _ = end(process)
    assert code == Exit.STOPPED
    resumed = read_header(newest(tmp_path, {cut}))
    assert resumed.continues == run_id
    assert resumed.boot_id
    assert resumed.profile_made_of == read_header(cut).profile_made_of


def test_another_profile_is_refused_until_the_cut_batch_is_set_aside(tmp_path: Path) -> None:
    cut = kill_a_run(tmp_path)
    for word in ((), ("--resume",)):
        code, _, err = end(start(tmp_path, *words(tmp_path, "milk"), *word))
        assert code == Exit.STOPPED
        assert "not those that it ran with" in err
    process = start(tmp_path, *words(tmp_path, "milk"), "--begin-again", "--log", "json")
    until_entered(process)
    process.terminate()
    end(process)
    assert read_header(newest(tmp_path, {cut})).continues == ""


def typed_answer(folder: Path, answer: bytes | None) -> int:
    """Start at a terminal, type an answer or send a signal when asked; the exit code."""
    person, terminal = pty.openpty()
    process = subprocess.Popen(
        [str(COMMAND), *words(folder), "--log", "json"],
        stdin=terminal,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=environment(folder),
    )
    try:
        assert process.stdout is not None
        assert any("Type resume, begin-again or stop" in line for line in process.stdout)
        if answer is None:
            process.send_signal(signal.SIGINT)
        else:
            os.write(person, answer)
            if answer != b"stop\n":
                until_entered(process)
                process.terminate()
        process.communicate(timeout=END_WAIT_S)
    finally:
        os.close(person)
        os.close(terminal)
    return process.returncode


def test_a_person_at_the_keyboard_is_asked_and_may_stop_interrupt_or_go_on(tmp_path: Path) -> None:
    cut = kill_a_run(tmp_path)
    assert typed_answer(tmp_path, b"stop\n") == Exit.STOPPED
    assert typed_answer(tmp_path, None) == Exit.STOPPED
    assert set(tmp_path.glob("*.jsonl")) == {cut}
    assert typed_answer(tmp_path, b"resume\n") == Exit.STOPPED  # by the signal, once under way
    assert read_header(newest(tmp_path, {cut})).continues == read_header(cut).run_id
