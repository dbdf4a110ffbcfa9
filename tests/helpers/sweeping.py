"""Machines for sweeps that cost nothing to run, and some that go wrong.

Responsible for stand-ins of the function that runs one machine; workers import it, so it must be
a module of its own. Not for any expectation.
"""

import math
import os
import signal
from collections.abc import Mapping
from functools import partial
from pathlib import Path

from controller.report.table import Cell
from controller.trials.sweep_work import RunOne, Work, build_text


def number_of(machine: str) -> int:
    """The number in a drawn machine's name."""
    return int(machine.rpartition("-")[2])


def quick(machine: str, profile: str, faults: tuple[str, ...]) -> Mapping[str, Cell]:
    """A row that depends on all that it is told."""
    number = number_of(machine)
    return {
        "exit": "tripped" if number % 7 == 0 else "done",
        "trip": "bath-too-hot" if number % 7 == 0 else "",
        "ready_s": math.nan if number % 7 == 0 else 3600.0 + number / 3.0,
        "switches": number * 10,
        "told": f"{Path(profile).name} {' '.join(faults)}".strip(),
    }


def failing(machine: str, profile: str, faults: tuple[str, ...]) -> Mapping[str, Cell]:
    """Like `quick`, but number 3 can't be run."""
    if number_of(machine) == 3:
        raise ZeroDivisionError("the bowl\nholds nothing")
    return quick(machine, profile, faults)


def dying_once(
    mark: Path, machine: str, profile: str, faults: tuple[str, ...]
) -> Mapping[str, Cell]:
    """Like `quick`, but number 5 kills its process with -9, the first time."""
    if number_of(machine) == 5 and not mark.exists():
        mark.touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return quick(machine, profile, faults)


def dying(machine: str, profile: str, faults: tuple[str, ...]) -> Mapping[str, Cell]:
    """Like `quick`, but number 5 kills its process with -9 every time."""
    if number_of(machine) == 5:
        os.kill(os.getpid(), signal.SIGKILL)
    return quick(machine, profile, faults)


def reading(machine: str, profile: str, faults: tuple[str, ...]) -> Mapping[str, Cell]:
    """Like `quick`, with what the profile's file says."""
    return {**quick(machine, profile, faults), "text": Path(profile).read_text(encoding="utf-8")}


def dying_once_at(mark: Path) -> RunOne:
    """`dying_once`, remembering in `mark` that it died."""
    return partial(dying_once, mark)


def work(
    run_one: RunOne = quick,
    *,
    profile: str = "water-trial",
    profile_text: str | None = None,
    seed: int = 1,
    faults: tuple[str, ...] = (),
    build: str = "",
) -> Work:
    """What a worker is told."""
    return Work(
        profile=profile,
        profile_text=profile_text,
        seed=seed,
        faults=faults,
        build=build or build_text(),
        run_one=run_one,
    )
