"""The commands of commissioning as processes, with a guard of its own and a bench as files.

Responsible for what a person types and reads in real time; not for every defect (unit tests).
"""

import os
import pty
import signal
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from controller.commissioning.proof_file import read_proofs
from controller.commissioning.proofs import Step
from controller.errors import Exit
from tests.helpers.commissioned import Minutes, Scripted, site_in
from tests.helpers.guard_stage import until
from tests.helpers.kitchen_file import served_as_files
from tests.helpers.process import COMMAND, END_WAIT_S, end, environment, start

NAME = "kitchen"


@contextmanager
def kitchen(folder: Path) -> Iterator[Path]:
    """A bench served as files, and its guard; the machine file."""
    machine = folder / f"{NAME}.toml"
    machine.write_text(served_as_files(), encoding="utf-8")
    fitted = ("--fitted", "second-switch,mains-live")
    bench = start(folder, "bench", "--files", str(folder / "tree"), *fitted)
    assert bench.stdout is not None
    assert "at files in" in bench.stdout.readline()
    guard = start(folder, "guard", "--machine", str(machine))
    until("the guard listens", (folder / "guard").exists)
    try:
        yield machine
    finally:
        for process in (guard, bench):
            process.send_signal(signal.SIGTERM)
            end(process)


def typed(folder: Path, words: tuple[str, ...], hands: dict[bytes, tuple[str, str]]) -> str:
    """Give a command at a terminal, and do what each question asks for; all that was printed.

    Args:
        folder: where its records go.
        words: the command.
        hands: by a word of a question, the file of the bench's hands to be written, and its text.
    """
    ours, theirs = pty.openpty()
    process = subprocess.Popen(
        [str(COMMAND), *words], stdin=theirs, stdout=theirs, stderr=theirs, env=environment(folder)
    )
    os.close(theirs)
    printed, from_here = b"", 0
    try:
        while True:
            try:
                more = os.read(ours, 4096)
            except OSError:  # the other end is closed: the command has ended
                break
            if not more:
                break
            printed += more
            if printed.endswith(b"[yes/no] "):
                asked = printed[from_here:]
                from_here = len(printed)
                for word, (name, text) in hands.items():
                    if word in asked:
                        (folder / "tree" / "hands" / name).write_text(text)
                os.write(ours, b"yes\n")
        assert process.wait(END_WAIT_S) == Exit.DONE, printed.decode()
    finally:
        process.kill()
        os.close(ours)
    return printed.decode()


def test_all_that_cuts_the_heat_is_proven_at_a_terminal_through_a_real_guard(
    tmp_path: Path,
) -> None:
    with kitchen(tmp_path) as machine:
        site_in(tmp_path, Scripted(), Minutes(), shown=(Step.PROBES,))
        words = ("prove", "--machine", str(machine))
        hands = {
            b"Let the cut-out trip": ("cut-out", "1"),
            b"reset it by hand": ("cut-out", "0"),
            b"Press the stop": ("stop-button", "1"),
            b"Release": ("stop-button", "0"),
        }
        printed = typed(tmp_path, words, hands)
        assert "All of it cuts." in printed
    done = read_proofs(machine, NAME).steps["prove"]
    assert done.facts["cut-out"] == done.facts["first-opens"] == "measured"
