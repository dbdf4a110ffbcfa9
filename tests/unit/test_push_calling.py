"""One message to a program of this computer."""

import errno
import os
import stat
import threading
from pathlib import Path

import pytest

from controller.push import calling
from controller.push.calling import Caller
from controller.push.parcel import TAKEN, Outcome
from tests.helpers.messages import waiting

PATH = {"PATH": os.environ["PATH"]}


def script(folder: Path, *lines: str) -> tuple[str, ...]:
    path = folder / "tell me.sh"
    path.write_text("#!/bin/sh\n" + "\n".join(lines) + "\n")
    path.chmod(path.stat().st_mode | stat.S_IXUSR)
    return (str(path),)


def test_a_program_gets_the_text_at_its_input_and_the_rest_in_its_surroundings(
    tmp_path: Path,
) -> None:
    told = tmp_path / "told"
    command = script(tmp_path, f'cat > "{told}"; env | grep ^BAINWARD | sort >> "{told}"')
    assert Caller(command, surroundings=PATH).send(waiting(), "Schließ ihn.") is TAKEN
    assert told.read_text() == (
        "Schließ ihn.\nBAINWARD_PUSH_ID=0a1b2c3d-7\nBAINWARD_PUSH_KIND=alarm\n"
        "BAINWARD_PUSH_PRIORITY=high\nBAINWARD_PUSH_TITLE=Alarm - kitchen\n"
    )


def test_no_shell_reads_what_the_machine_says(tmp_path: Path) -> None:
    told = tmp_path / "told"
    command = (*script(tmp_path, f'echo "$1" > "{told}"; cat >> "{told}"'), "$(id); *")
    hostile = f"$(touch {tmp_path}/harm); `touch {tmp_path}/harm`"
    assert Caller(command, surroundings=PATH).send(waiting(), hostile) is TAKEN
    assert told.read_text() == f"$(id); *\n{hostile}\n"
    assert not (tmp_path / "harm").exists()


def test_a_program_that_fails_is_tried_again_later(tmp_path: Path) -> None:
    answer = Caller(script(tmp_path, "exit 3"), surroundings=PATH).send(waiting(), "a")
    assert (answer.outcome, answer.why) == (Outcome.LATER, "it ended with code 3")


def test_a_program_that_is_not_there_is_told() -> None:
    answer = Caller(("/nowhere/tell",), surroundings=PATH).send(waiting(), "a")
    assert answer.outcome is Outcome.WRONG
    assert answer.why == "it can't be started: No such file or directory"


def test_a_program_that_reads_nothing_is_no_harm(tmp_path: Path) -> None:
    assert (
        Caller(script(tmp_path, "exit 0"), surroundings=PATH).send(waiting(), "a" * 200_000)
        is TAKEN
    )


def test_a_program_that_hangs_is_ended_with_all_that_it_started(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(calling, "WHOLE_S", 0.5)
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    command = script(tmp_path, f'(exec 3<>"{pipe}"; read x <&3) &', f'read x < "{pipe}"')
    answer = Caller(command, surroundings=PATH).send(waiting(), "a")
    assert answer.outcome is Outcome.LATER
    assert is_left_alone(pipe)


def is_left_alone(pipe: Path) -> bool:
    """Whether soon nobody has the pipe open any more: to write into it is then refused."""
    waited = threading.Event()
    for _ in range(1000):
        try:
            os.close(os.open(pipe, os.O_WRONLY | os.O_NONBLOCK))
        except OSError as error:
            return error.errno == errno.ENXIO
        waited.wait(0.02)
    return False
