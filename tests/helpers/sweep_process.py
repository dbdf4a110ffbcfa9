"""The sweep as a process of its own, on a profile that is soon over; and a small Dask cluster.

Responsible for starting, waiting and ending; not for any expectation.
"""

import os
import subprocess
import sys
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path

from tests.helpers.process import start

BIN = Path(sys.executable).parent
END_WAIT_S = 180.0  # never reached unless something is wrong: a busy computer only takes longer

# Own engineering values: water that is soon warm enough, or given up after some minutes.
BRIEF = """\
schema = 1
name = "brief"
title = "Water, briefly"
kind = "water"
source = "Own engineering values, not published."
notes = "For tests: soon over."

[never_above]
bowl = "45 C"
bath = "50 C"

[outcome]
stop_stirrer = "off"
power_back = "begin-again"
lost_probe_wait = "10 s"

[[phase]]
name = "hold"
bowl = "32 C"
tolerance = "0.5 K"
settle = "30 s"
dwell = "1 min"
bath_ceiling = "38 C"
bath_cut = "40 C"
stirrer = "30 rpm"
stir_from = "5 C"
late_after = "8 min"
late_action = "stop"
"""


def brief_profile(folder: Path) -> str:
    """The path of that profile, written into `folder`."""
    path = folder / "brief.toml"
    path.write_text(BRIEF, encoding="utf-8")
    return str(path)


def start_sweep(folder: Path, table: str, *words: str) -> subprocess.Popen[str]:
    """Start a sweep of the brief profile into a table in `folder`."""
    return start(folder, "sweep", brief_profile(folder), "--table", str(folder / table), *words)


@dataclass(frozen=True, slots=True)
class Cluster:
    """A scheduler and its workers, each a process."""

    address: str
    scheduler: subprocess.Popen[str]
    workers: tuple[subprocess.Popen[str], ...]


@contextmanager
def cluster(folder: Path, workers: int, **settings: str) -> Iterator[Cluster]:
    """A Dask scheduler on loopback with so many workers of one thread each.

    `settings` are environment variables of all of them.
    """
    environment = {**os.environ, **settings}
    with ExitStack() as stack:

        def started(*words: str) -> subprocess.Popen[str]:
            return stack.enter_context(_dask(folder, environment, *words, "--no-dashboard"))

        scheduler = started("scheduler", "--host", "127.0.0.1", "--port", "0")
        address = _said(scheduler, "Scheduler at:").split()[-1]
        all_workers = tuple(
            started("worker", address, "--no-nanny", "--nthreads", "1") for _ in range(workers)
        )
        for worker in all_workers:
            _said(worker, "Registered to:")
        yield Cluster(address, scheduler, all_workers)


@contextmanager
def _dask(
    folder: Path, environment: Mapping[str, str], *words: str
) -> Iterator[subprocess.Popen[str]]:
    process = subprocess.Popen(
        [str(BIN / "dask"), *words],
        cwd=folder,
        env=environment,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
    )
    try:
        yield process
    finally:
        process.kill()
        process.communicate(timeout=END_WAIT_S)


def _said(process: subprocess.Popen[str], words: str) -> str:
    """The line of its log in which these words stand."""
    assert process.stderr is not None
    return next(line for line in process.stderr if words in line).strip()
