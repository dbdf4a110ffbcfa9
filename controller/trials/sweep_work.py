"""What a worker of a sweep does: some machines, one row each.

Responsible for a machine whose run fails being a row and never the end of the sweep, and for no
worker of another build taking part; not for where workers come from (sweep_workers).
"""

import hashlib
import platform
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from importlib.metadata import version
from pathlib import Path
from tempfile import TemporaryDirectory

from controller.errors import AccessError, BainwardError, ProfileError, UsageError
from controller.files.toml_file import package_folder
from controller.report.table import MACHINE, OUTCOME, Cell, Row
from controller.trials.trial import Trial, run_trial

FAILURE = "failure"  # the column that says why a machine's run failed
FAILED = "failed"  # in the column of outcomes
REFUSED = "refused"  # there, too: the profile asks for what the machine can't do

_S_PER_H = 3600.0

Numbers = tuple[int, ...]
# Runs one machine: its name, a profile's name or path, and faults, to the columns of its row.
RunOne = Callable[[str, str, tuple[str, ...]], Mapping[str, Cell]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """All that a worker needs to know, wherever it runs."""

    profile: str  # a shipped name, or the name of a file
    profile_text: str | None  # what was in that file; a worker may not see it, and it may change
    seed: int
    faults: tuple[str, ...]
    build: str
    run_one: RunOne
    give_up_after_s: float | None = None  # when somebody stops a run, of which `run_one` knows
    what: str = "runs"  # what is done with each machine, and how


def run_drawn(
    machine: str, profile: str, faults: tuple[str, ...], *, give_up_after_s: float | None = None
) -> Mapping[str, Cell]:
    """One machine of a sweep, just as `bainward try` runs it alone."""
    trial = Trial(profile=profile, machine=machine, faults=faults, give_up_after_s=give_up_after_s)
    return run_trial(trial).row()


def machine_name(seed: int, number: int) -> str:
    """The name by which a drawn machine is found again."""
    return f"drawn-{seed}-{number}"


def give_up_text(work: Work) -> str:
    """How long its runs may take, as on the command line, like 8h; empty for as long as any."""
    return "" if work.give_up_after_s is None else f"{work.give_up_after_s / _S_PER_H:g}h"


def run_numbers(work: Work, numbers: Numbers) -> dict[int, Row]:
    """Run these machines; the rows by number.

    Raises:
        UsageError: this worker is of another build, so its rows would not be the same.
        AccessError: it has no room for the profile.
    """
    if build_text() != work.build:
        raise UsageError(
            f"A worker on {platform.node()} runs another build ({build_text()}) than this sweep "
            f"({work.build}); install the same bainward and Python there, then go on with the "
            "same command."
        )
    if work.profile_text is None:
        return {number: _row(work, work.profile, number) for number in numbers}
    with _written(work.profile, work.profile_text) as path:
        return {number: _row(work, path, number) for number in numbers}


@contextmanager
def _written(profile: str, text: str) -> Iterator[str]:
    """The user's own file as it was when the sweep began, under the same name, for as long."""
    try:
        folder = TemporaryDirectory(prefix="bainward-")
        path = Path(folder.name) / Path(profile).name
        path.write_text(text, encoding="utf-8")
    except OSError as error:
        raise AccessError(
            f"A worker on {platform.node()} can't write the profile into its folder for temporary "
            f"files ({error.strerror}); make room there, then give the same command again."
        ) from error
    with folder:
        yield str(path)


def _row(work: Work, profile: str, number: int) -> Row:
    """One machine's row. Whatever goes wrong in a run is told of that machine alone."""
    machine = machine_name(work.seed, number)
    try:
        columns = work.run_one(machine, profile, work.faults)
    except ProfileError as error:
        return {MACHINE: machine, OUTCOME: REFUSED, FAILURE: _sentence(error)}
    except Exception as error:  # noqa: BLE001 - no heat to turn off, and 999 other machines
        return {MACHINE: machine, OUTCOME: FAILED, FAILURE: _sentence(error)}
    return {MACHINE: machine, **columns, FAILURE: ""}


def _sentence(error: Exception) -> str:
    """What went wrong, on one line; what no sentence of ours explains is named by its kind."""
    kind = "" if isinstance(error, BainwardError) else f"{type(error).__name__}: "
    return kind + " ".join(str(error).split())


@cache
def build_text() -> str:
    """What the figures depend on: version, a hash of our own files, Python and processor.

    Two computers that agree in it are taken to give the same bytes. Their C libraries may still
    differ in the last digit of a logarithm; nothing here can see that.
    """
    digest = hashlib.sha256()
    for package in ("controller", "hardware", "profiles"):
        folder = package_folder(package)
        for path in sorted((*folder.rglob("*.py"), *folder.rglob("*.toml"))):
            digest.update(f"{package}/{path.relative_to(folder)}\0".encode() + path.read_bytes())
    return (
        f"{version('bainward')} {digest.hexdigest()[:12]}, Python {platform.python_version()}, "
        f"{platform.machine()}"
    )
