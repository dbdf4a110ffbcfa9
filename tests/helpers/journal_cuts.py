"""Writers of journals that are killed, or whose power is cut, and a judge of what is left.

Responsible for the processes, the loop-mounted disks and the verdict; not for how often. Run as a
program, for it forks: `python -m tests.helpers.journal_cuts kills|power FOLDER COUNT SEED`.
"""

import json
import os
import random
import shutil
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from itertools import count
from pathlib import Path

from controller.core.state import EventName
from controller.journal.inspection import inspect_file
from controller.journal.reader import read_run
from controller.journal.writer import Journal
from tests.helpers.batch import DRAIN_S, HandClock, a_header, a_moment, an_event

IMAGE_BYTES = 8 * 1024 * 1024
ACKNOWLEDGED_MAX = 50  # a writer is cut after at most so many acknowledgements
LOST_MAX_S = 5.0  # what a power cut may cost of a run, by our own promise
HURRY_TICKS = 8  # so far may a hurrying writer run ahead of its disk
EVENT_EVERY = 7  # ticks


@dataclass(slots=True)
class Tally:
    """What came of many cuts."""

    cuts: int = 0
    acknowledged: int = 0
    acknowledged_lost: int = 0
    unreadable: int = 0
    torn: int = 0
    worst_lost_s: float = 0.0  # run time told and not found


def write_until_cut(path: Path, acknowledge: int) -> None:
    """Write a tick a second of a hand-held clock; after each say what is told and what is safe."""
    clock = HandClock()
    journal = Journal(path, header=a_header(), clock_s=clock)
    for tick in count():
        clock.now_s += 1.0
        events = (an_event(EventName.QUESTION_ASKED, id="swap"),) if not tick % EVENT_EVERY else ()
        journal.tell(a_moment(float(tick), events=events))
        if not journal.drain(DRAIN_S):
            raise OSError("the disk does not answer")
        os.write(acknowledge, b"%d %d\n" % (tick, journal.safe))


def write_in_a_hurry(path: Path, acknowledge: int) -> None:
    """Write as fast as it goes, so that a kill comes in the midst of a write."""
    journal = Journal(path, header=a_header(), clock_s=lambda: 0.0, sync_every_s=0.0)
    said = 0
    for tick in count():
        journal.tell(a_moment(float(tick), events=(an_event(EventName.HEAT_PERMITTED),)))
        if not tick % HURRY_TICKS:
            journal.drain(DRAIN_S)
        if journal.safe != said:
            said = journal.safe
            os.write(acknowledge, b"%d %d\n" % (tick, said))


def cut_once(
    path: Path, writer: Callable[[Path, int], None], acks: int, cut: Callable[[], object] | None
) -> tuple[int, int]:
    """Let a writer acknowledge so often, `cut` while it stands still, kill it: its last words."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:  # never returns
        try:
            os.close(reading)
            writer(path, writing)
        finally:
            os._exit(1)
    os.close(writing)
    with os.fdopen(reading, "rb") as words:
        heard = [words.readline() for _ in range(acks)]
        if cut is not None:
            os.kill(child, signal.SIGSTOP)
            os.waitpid(child, os.WUNTRACED)
            cut()
        os.kill(child, signal.SIGKILL)
        heard += words.read().splitlines(keepends=True)
        os.waitpid(child, 0)
    last = next((line for line in reversed(heard) if line.endswith(b"\n")), b"")
    if not last:
        raise RuntimeError("the writer died before it acknowledged anything")
    tick, safe = last.split()
    return int(tick), int(safe)


def judge(path: Path, told_s: int, safe: int, tally: Tally) -> None:
    """Compare what is left in `path` with the writer's last words."""
    tally.cuts += 1
    tally.acknowledged += safe
    try:
        run, found = read_run(path), inspect_file(path)
    except Exception:  # noqa: BLE001 - whatever it is, it is a record that can't be read
        tally.unreadable += 1
        return
    records = found.lines - 1
    tally.acknowledged_lost += max(0, safe - records)
    tally.torn += found.broken is not None
    if [sample.t_s for sample in run.samples] != sorted({sample.t_s for sample in run.samples}):
        tally.unreadable += 1
    tally.worst_lost_s = max(tally.worst_lost_s, told_s - found.ends_at_s)


def kill_often(folder: Path, times: int, seed: int) -> Tally:
    """Kill -9 a writer in the midst of its work, again and again."""
    rng, tally = random.Random(seed), Tally()  # noqa: S311 - moments, not secrets
    for index in range(times):
        path = folder / f"kill-{index}.jsonl"
        told_s, safe = cut_once(path, write_in_a_hurry, rng.randint(1, ACKNOWLEDGED_MAX), None)
        judge(path, told_s, safe, tally)
        path.unlink()
    return tally


@contextmanager
def mounted(image: Path, at: Path, options: str = "loop") -> Iterator[Path]:
    """An ext4 image, mounted.

    Raises:
        OSError: this machine does not let us mount.
    """
    at.mkdir(exist_ok=True)
    done = subprocess.run(
        ["mount", "-o", options, str(image), str(at)], capture_output=True, text=True, check=False
    )
    if done.returncode != 0:
        raise OSError(done.stderr.strip() or "mount failed")
    try:
        yield at
    finally:
        subprocess.run(["umount", str(at)], check=True)


def ext4_image(path: Path) -> Path:
    """A fresh file system in a file.

    Raises:
        OSError: there is no mkfs.ext4.
    """
    with path.open("wb") as file:
        file.truncate(IMAGE_BYTES)
    maker = shutil.which("mkfs.ext4", path=f"{os.environ.get('PATH', '')}:/usr/sbin:/sbin")
    if maker is None:
        raise OSError("there is no mkfs.ext4")
    subprocess.run([maker, "-q", str(path)], check=True)
    return path


def cut_power_often(folder: Path, times: int, seed: int) -> Tally:
    """Cut the power of a disk while it is written to: what is on it then is all that is left."""
    rng, tally = random.Random(seed), Tally()  # noqa: S311 - moments, not secrets
    blank = ext4_image(folder / "blank.img")
    disk, left = folder / "disk.img", folder / "left.img"
    for _ in range(times):
        shutil.copyfile(blank, disk)
        with mounted(disk, folder / "disk") as at:
            told_s, safe = cut_once(
                at / "run.jsonl",
                write_until_cut,
                rng.randint(1, ACKNOWLEDGED_MAX),
                lambda: shutil.copyfile(disk, left),
            )
        with mounted(left, folder / "left") as at:
            judge(at / "run.jsonl", told_s, safe, tally)
    return tally


def main(arguments: list[str]) -> None:
    """Do it, and print the tally as one line of JSON."""
    kind, folder, times, seed = arguments
    work = {"kills": kill_often, "power": cut_power_often}[kind]
    tally = work(Path(folder), int(times), int(seed))
    sys.stdout.write(json.dumps(asdict(tally)) + "\n")


if __name__ == "__main__":
    main(sys.argv[1:])
