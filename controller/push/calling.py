"""Hands one message to a program on this computer.

Responsible for starting it without a shell, its standard input and bounded time; not for trying
again (errand). Exit code 0 says that the message is told.
"""

import os
import signal
import subprocess
from collections.abc import Mapping

from controller.push.message import Waiting
from controller.push.parcel import TAKEN, Answer, Outcome

WHOLE_S = 30.0  # own engineering value: longer, and it is ended with all that it has started
PREFIX = "BAINWARD_PUSH_"


class Caller:
    """One program, started anew for each message."""

    def __init__(self, command: tuple[str, ...], *, surroundings: Mapping[str, str]) -> None:
        """Nothing is started yet; `surroundings` is the environment that the program gets."""
        self._command = command
        self._surroundings = surroundings

    def send(self, one: Waiting, text: str) -> Answer:
        """Give it `text`, the message's own words or later ones, and wait for its end."""
        try:
            process = subprocess.Popen(  # noqa: S603 - a person wrote it down, and no shell reads it
                self._command,
                stdin=subprocess.PIPE,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                env={**self._surroundings, **_told(one)},
                start_new_session=True,
            )
        except (OSError, ValueError) as error:
            why = getattr(error, "strerror", None) or str(error)
            return Answer(outcome=Outcome.WRONG, why=f"it can't be started: {why}")
        try:
            process.communicate(f"{text}\n".encode(), timeout=WHOLE_S)
        except subprocess.TimeoutExpired:
            _end(process)
            return Answer(outcome=Outcome.LATER, why=f"it took more than {WHOLE_S:.0f} s")
        if process.returncode == 0:
            return TAKEN
        return Answer(outcome=Outcome.LATER, why=f"it ended with code {process.returncode}")


def _told(one: Waiting) -> dict[str, str]:
    """What the program may want to know besides the text."""
    return {
        f"{PREFIX}ID": one.id,
        f"{PREFIX}KIND": one.message.kind.value,
        f"{PREFIX}PRIORITY": one.message.priority.value,
        f"{PREFIX}TITLE": one.message.title,
    }


def _end(process: subprocess.Popen[bytes]) -> None:
    """It, and what it has started; its number is still its own, for nobody has waited for it."""
    os.killpg(process.pid, signal.SIGKILL)
    process.wait()
