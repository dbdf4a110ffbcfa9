"""Long job: a maker's way from wired parts to a machine that may heat, by real processes.

Run as `python tests/proofs/makers_way.py [FOLDER]`; about two minutes on two cores. It gives the
commands that hardware/DRIVERS.md prints, as they stand there and on the machine file that stands
there: bench, guard and each step are processes of their own that meet in files, at a terminal, in a
time that is handed in; hands and answers are ours. Prints what each command prints last; ends with
1 when one of them fails, or a run with chocolate would still be refused.
"""

import os
import pty
import re
import shlex
import subprocess
import sys
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from controller.clock import process_s
from controller.commissioning.computer import computer_id
from controller.commissioning.proof_file import refuse_unproven
from controller.core.profile import Kind
from controller.errors import BainwardError, Exit
from controller.files.machine_file import load_machine_file
from tests.helpers.guard_stage import until
from tests.helpers.kitchen_file import served_as_files, typed_there
from tests.helpers.pace import Shared, pacemaker, pass_s
from tests.helpers.paced_process import BEGAN_UTC, command, started, surroundings
from tests.helpers.steps import folder_in_memory

MACHINE, PACE = "kitchen.toml", "pace"
LONG_S = 1800.0  # of real time, never reached unless something is wrong
REST_S = 600.0  # of a thermometer that is back in its place
LIVE = re.compile(rb"\r\x1b\[K[^\r\n]*")  # a line that the next one takes the place of
BOILS_C = "97.05"  # at 912 hPa, as the page says
LAST = 14  # lines of a command that are printed here
WARM, BACK = "33", ""
# What hands do, and what is typed, by what is asked or told: a file, its text, an answer.
Deed = tuple[str, str, bytes]
DEEDS: dict[bytes, tuple[Deed, ...]] = {
    b"bath's turn.": (("bath", WARM, b""),),
    b"bowl's turn.": (("bath", BACK, b""), ("bowl", WARM, b"")),
    b"guard's turn.": (("bowl", BACK, b""), ("guard", WARM, b"")),
    b"Water covers": (("guard", BACK, b"yes\n"),),
    b"Let the cut-out trip": (("cut-out", "1", b"yes\n"),),
    b"reset it by hand": (("cut-out", "0", b"yes\n"),),
    b"Press the stop": (("stop-button", "1", b"yes\n"),),
    b"Release the stop": (("stop-button", "0", b"yes\n"),),
    b"Does the stirrer turn": (("guard", BACK, b"yes\n"),),
}


def say(line: str) -> None:
    """Print one line."""
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


def hand(folder: Path, name: str, text: str) -> None:
    """Do something at the machine."""
    (folder / "tree" / "hands" / name).write_text(f"{text}\n", encoding="utf-8")


class Terminal:
    """Somebody at a terminal who does what is asked for."""

    def __init__(self, folder: Path, pace: Path, words: Sequence[str]) -> None:
        """Give a command."""
        self._folder, (self._ours, theirs) = folder, pty.openpty()
        self._process = subprocess.Popen(
            command(pace, words),
            stdin=theirs,
            stdout=theirs,
            stderr=theirs,
            env=surroundings(folder),
            cwd=folder,
        )
        os.close(theirs)
        self._printed, self._done = b"", set[bytes]()

    def follow(self) -> tuple[int, str]:
        """To its end; its exit code and all it printed."""
        try:
            while True:
                try:
                    self._printed += os.read(self._ours, 4096)
                except OSError:  # the other end is closed: the command has ended
                    break
                self._react()
            code = self._process.wait(LONG_S)
        finally:
            self._process.kill()
            os.close(self._ours)
        return code, LIVE.sub(b"", self._printed).decode("utf-8", "replace")

    def _react(self) -> None:
        for asked, deeds in DEEDS.items():
            if asked not in self._printed or asked in self._done:
                continue
            self._done.add(asked)
            for name, text, answer in deeds:
                hand(self._folder, name, text)
                os.write(self._ours, answer)


@contextmanager
def bench(folder: Path) -> Iterator[None]:
    """The bench, its water as cold as the room."""
    serve, _ = typed_there("beside")
    with started(folder, folder / PACE, *serve) as process:
        assert process.stdout is not None
        assert "at files in tree" in process.stdout.readline()
        yield


@contextmanager
def guard(folder: Path) -> Iterator[None]:
    """The guard, once it listens."""
    _, words = typed_there("beside")
    with started(folder, folder / PACE, *words):
        until("the guard listens", (folder / "guard").exists, LONG_S)
        yield


def held(folder: Path, words: Sequence[str]) -> str:
    """Where a thermometer is held for a calibration, which one it is; nothing for other steps."""
    if words[0] != "calibrate":
        return ""
    hand(folder, words[1], BOILS_C if "--pressure" in words else "0")
    return words[1]


def given(folder: Path, words: Sequence[str]) -> bool:
    """One command; whether it did what it is for."""
    which = held(folder, words)
    seconds = Shared(folder / PACE)
    began_s, began_real_s = seconds.now_s(), process_s()
    code, printed = Terminal(folder, folder / PACE, words).follow()
    took_s, real_s = seconds.now_s() - began_s, process_s() - began_real_s
    say(f"$ bainward {shlex.join(words)}")
    for line in printed.splitlines()[-LAST:]:
        say(f"  {line.rstrip()}")
    say(f"exit code {code} after {took_s / 60.0:.1f} min, which took {real_s:.0f} s\n")
    if which:
        hand(folder, which, BACK)
        pass_s(folder / PACE, REST_S)
    return code == Exit.DONE


def go(folder: Path) -> bool:
    """All steps; whether chocolate may be heated then."""
    (folder / MACHINE).write_text(served_as_files(), encoding="utf-8")
    *steps, trial = typed_there("way")
    with pacemaker(folder / PACE), ExitStack() as stack:
        with bench(folder):
            stack.enter_context(guard(folder))
            if not all(given(folder, words) for words in steps):
                return False
        with bench(folder):
            if not given(folder, trial):
                return False
    machine_file = load_machine_file(folder / MACHINE)
    try:
        refuse_unproven(machine_file, "dark", Kind.DARK, BEGAN_UTC, on=computer_id())
    except BainwardError as error:
        say(str(error))
        return False
    say("a run with chocolate may heat")
    return True


def main() -> int:
    """In the folder that is named, which is kept, or in one that is not."""
    if len(sys.argv) > 1:
        return 0 if go(Path(sys.argv[1]).resolve()) else 1
    with folder_in_memory() as folder:
        return 0 if go(folder) else 1


if __name__ == "__main__":
    sys.exit(main())
