"""Whatever comes back, heat doesn't: after SIGCONT, reboot, re-plug or upgrade a person must act.

Responsible for real processes with a file for the line; tests/board does the same with a real boot.
"""

import json
import os
import pty
import signal
import socket
import subprocess
import zlib
from pathlib import Path

import pytest

from controller.errors import Exit
from controller.files.machine_file import bench_machine_path
from controller.guard import messages
from controller.guard.decision import Cause, Lease
from controller.guard.messages import pack
from tests.helpers.guard_stage import START_S, Stage, never, until
from tests.helpers.process import COMMAND, end, environment, start

STAYS_S = 0.6  # how long a line is watched that must stay off; the stage's lease is 0.5 s


def person_lets_a_new_run_heat(stage: Stage) -> None:
    """Re-arm and start a controller: the way back is open, and it is the only one."""
    stage.start_controller()
    never("heat for a new run, unasked", stage.is_on, STAYS_S)
    stage.signal_controller(signal.SIGKILL)
    words = ("rearm", "--machine", str(stage.machine), "--yes")
    # What was lost must have been back for a while.
    until("re-armed", lambda: end(start(stage.folder, *words))[0] == Exit.DONE)
    never("heat by re-arming alone", stage.is_on, STAYS_S)
    stage.start_controller()
    until("heat", stage.is_on)


@pytest.mark.parametrize("frozen", ["controller", "guard"])
def test_after_a_sigcont_no_heat_comes_without_a_person(frozen: str, tmp_path: Path) -> None:
    with Stage(tmp_path) as stage:
        stage.heat()
        send = stage.signal_controller if frozen == "controller" else stage.signal_guard
        send(signal.SIGSTOP)
        if frozen == "controller":
            until("heat off", stage.is_off)
            assert stage.latched() is Cause.LEASE_LAPSED
        else:
            never("a frozen guard switches nothing", stage.is_off, 1.0)  # > 0.7 s latches here
        send(signal.SIGCONT)
        until("heat off", stage.is_off)
        assert stage.latched() is Cause.LEASE_LAPSED
        never("heat by itself", stage.is_on, STAYS_S)
        stage.signal_controller(signal.SIGKILL)
        person_lets_a_new_run_heat(stage)


def test_after_a_reboot_no_heat_comes_without_a_person(tmp_path: Path) -> None:
    with Stage(tmp_path) as stage:
        stage.heat()
        stage.signal_controller(signal.SIGKILL)  # all processes go at once, and nothing is tidied
        stage.end_guard(signal.SIGKILL)
        stage.line.write_text("1\n", encoding="ascii")  # even if the board kept its line driven
        stage.start_guard()
        assert stage.is_off()
        assert stage.status().latched is Cause.GUARD_RESTARTED
        person_lets_a_new_run_heat(stage)


def test_after_a_re_plug_of_the_thermometer_no_heat_comes_without_a_person(tmp_path: Path) -> None:
    with Stage(tmp_path) as stage:
        stage.heat()
        stage.probe.unlink()
        assert stage.latched() is Cause.GUARD_PROBE_LOST
        stage.warm()
        until("a value again", lambda: stage.status().bath_mc is not None)
        never("heat by itself", stage.is_on, STAYS_S)
        stage.signal_controller(signal.SIGKILL)
        person_lets_a_new_run_heat(stage)


def test_after_a_re_plug_of_a_line_no_heat_comes_without_a_person(tmp_path: Path) -> None:
    with Stage(tmp_path) as stage:
        live = tmp_path / "live"
        live.write_text("0\n", encoding="ascii")
        with stage.machine.open("a", encoding="utf-8") as file:
            file.write('[guard.mains_live]\nkind = "file"\npath = "live"\n')
        stage.heat()
        live.write_text("", encoding="ascii")  # unplugged: no level any more
        until("heat off", stage.is_off)
        assert stage.guard is not None
        assert stage.guard.wait(START_S) == Exit.CRASHED
        live.write_text("0\n", encoding="ascii")
        stage.start_guard()  # as the service manager does
        assert stage.status().latched is Cause.GUARD_RESTARTED
        never("heat by itself", stage.is_on, STAYS_S)
        stage.signal_controller(signal.SIGKILL)
        person_lets_a_new_run_heat(stage)


def test_after_an_upgrade_in_mid_run_no_heat_comes_without_a_person(tmp_path: Path) -> None:
    with Stage(tmp_path) as stage:
        stage.heat()
        stage.end_guard(signal.SIGTERM)
        assert stage.is_off()
        older = json.loads(stage.latch.read_bytes().partition(b"\n")[0])
        del older["tripped"]  # an older build's file has not all that ours has
        line = json.dumps(older).encode()
        stage.latch.write_bytes(line + b"\n%08x\n" % zlib.crc32(line))
        stage.start_guard()
        assert stage.status().latched is Cause.GUARD_RESTARTED
        person_lets_a_new_run_heat(stage)


def run_words(folder: Path, *more: str) -> tuple[str, ...]:
    """The command of a run on the bench, in real time."""
    words = ("run", "dark", "--machine", str(bench_machine_path("reference")), "--no-broker")
    return (*words, "--journal-dir", str(folder / "runs"), "--log", "json", *more)


def run_until_terminated(process: subprocess.Popen[str]) -> None:
    """Let it get under way, then end it as a service manager does."""
    assert process.stderr is not None
    assert any("phase_entered" in line for line in process.stderr)
    process.terminate()
    assert end(process)[0] == Exit.STOPPED


def test_a_tool_that_restarts_a_run_after_an_upgrade_is_refused_and_a_person_is_not(
    tmp_path: Path,
) -> None:
    run_until_terminated(start(tmp_path, *run_words(tmp_path)))
    (stopped,) = (tmp_path / "runs").glob("*.jsonl")

    code, out, err = end(start(tmp_path, *run_words(tmp_path)))
    assert code == Exit.STOPPED
    assert out == ""
    assert err.count("\n") == 1
    assert f"Run {stopped.stem} was ended by SIGTERM" in err
    assert "start it at a terminal, or with --begin-again" in err
    assert list((tmp_path / "runs").glob("*.jsonl")) == [stopped]  # nothing began

    person, terminal = pty.openpty()
    run_until_terminated(
        subprocess.Popen(
            [str(COMMAND), *run_words(tmp_path)],
            stdin=terminal,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
            env=environment(tmp_path),
        )
    )
    os.close(person)
    os.close(terminal)
    run_until_terminated(start(tmp_path, *run_words(tmp_path, "--begin-again")))


def test_a_controller_of_another_build_is_not_understood_and_gets_no_heat(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with Stage(tmp_path) as stage, socket.socket(socket.AF_UNIX, socket.SOCK_SEQPACKET) as other:
        stage.start_guard()
        other.connect(str(stage.socket))
        monkeypatch.setattr(messages, "VERSION", messages.VERSION - 1)
        for number in range(1, 20):
            other.send(pack(Lease(peer=5, number=number, heat=True, cap_mc=50_000, good=True)))
        never("heat for another build", stage.is_on, STAYS_S)
