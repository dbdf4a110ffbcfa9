"""Long job: the step test and the water trial as a maker gives them, by real processes.

Run as `python tests/proofs/water_steps.py [FOLDER]`; about a minute on two quiet cores. Bench,
guard and the commands `fit` and `run water-trial` are processes of their own that meet in files, at
a terminal, in a time that is handed in. Prints what the commands print last; ends with 1 when one
of them fails, or a run with chocolate would still be refused.
"""

import os
import pty
import re
import subprocess
import sys
from collections.abc import Sequence
from contextlib import ExitStack
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from controller.commissioning.computer import computer_id
from controller.commissioning.proof_file import change_proofs, refuse_unproven, with_step
from controller.commissioning.proofs import Step
from controller.core.profile import Kind
from controller.errors import BainwardError, Exit
from controller.files.machine_file import load_machine_file
from tests.helpers.commissioned import machine_text
from tests.helpers.guard_stage import until
from tests.helpers.pace import pacemaker
from tests.helpers.paced_process import BEGAN_UTC, started
from tests.helpers.process import environment
from tests.helpers.proven import facts_of
from tests.helpers.steps import folder_in_memory

ROOT = Path(__file__).resolve().parents[2]
REFERENCE = ROOT / "hardware" / "bench" / "machines" / "reference.toml"
LONG_S = 900.0  # of real time, never reached unless something is wrong
LIVE = re.compile(rb"\r\x1b\[K[^\r\n]*")  # a line that the next one takes the place of
# What somebody at the terminal types, by what is asked.
ANSWERS = ((b"What is in the bowl", b"water\n"), (b"Does the stirrer turn", b"yes\n"))
LAST = 16  # lines of a command that are printed here


def say(line: str) -> None:
    """Print one line."""
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


def at_terminal(folder: Path, pace: Path, words: Sequence[str]) -> tuple[int, str]:
    """Give a command at a terminal and answer what it asks; its exit code and all it printed."""
    ours, theirs = pty.openpty()
    process = subprocess.Popen(
        [sys.executable, "-m", "tests.helpers.paced_process", str(pace), *words],
        stdin=theirs,
        stdout=theirs,
        stderr=theirs,
        env=environment(folder),
        cwd=ROOT,
    )
    os.close(theirs)
    printed, answered = b"", set[bytes]()
    try:
        while True:
            try:
                more = os.read(ours, 4096)
            except OSError:  # the other end is closed: the command has ended
                break
            printed += more
            for asked, answer in ANSWERS:
                if asked in printed and asked not in answered:
                    answered.add(asked)
                    os.write(ours, answer)
        return process.wait(LONG_S), LIVE.sub(b"", printed).decode("utf-8", "replace")
    finally:
        process.kill()
        os.close(ours)


def written(folder: Path) -> tuple[Path, Path]:
    """The machine's file, of which all before was shown, and the bench's."""
    machine, bench = folder / "kitchen.toml", folder / "bench.toml"
    machine.write_text(machine_text(), encoding="utf-8")
    text = REFERENCE.read_text(encoding="utf-8")
    bench.write_text(text.replace('batch = "1.5 kg"', 'batch = "0.4 kg"'), encoding="utf-8")
    machine_file = load_machine_file(machine)
    for step in (Step.PROBES, Step.PROVE, Step.BATH, Step.BOWL):
        facts = facts_of(step, machine_file)
        change = with_step(step, machine_file, BEGAN_UTC, facts, on=computer_id())
        change_proofs(machine, machine_file.machine.name, change)
    return machine, bench


def given(folder: Path, machine: Path, bench_file: Path, words: tuple[str, ...]) -> int:
    """One command beside a guard and a bench that has stood cold; its exit code."""
    pace = folder / "pace"
    with ExitStack() as stack:
        stack.enter_context(pacemaker(pace))
        served = ("bench", "--machine", str(bench_file), "--files", str(folder / "tree"))
        fitted = ("--fitted", "second-switch,mains-live")
        bench = stack.enter_context(started(folder, pace, *served, *fitted))
        assert bench.stdout is not None
        assert "at files in" in bench.stdout.readline()
        stack.enter_context(started(folder, pace, "guard", "--machine", str(machine)))
        until("the guard listens", (folder / "guard").exists, LONG_S)
        code, printed = at_terminal(folder, pace, (*words, "--machine", str(machine)))
    say(f"bainward {' '.join(words)}: exit code {code}")
    for line in printed.splitlines()[-LAST:]:
        say(f"  {line.rstrip()}")
    return code


def go(folder: Path) -> bool:
    """Both steps; whether chocolate may be heated then."""
    machine, bench_file = written(folder)
    for words in (
        ("fit", "--power", "500 W", "--room", "20 C"),
        ("run", "water-trial", "--no-broker"),
    ):
        if given(folder, machine, bench_file, words) != Exit.DONE:
            return False
    machine_file = load_machine_file(machine)
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
        return 0 if go(Path(sys.argv[1])) else 1
    with folder_in_memory() as folder:
        return 0 if go(folder) else 1


if __name__ == "__main__":
    sys.exit(main())
