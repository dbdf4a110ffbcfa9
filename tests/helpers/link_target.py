"""A run on the bench in real time with a link, to be attacked or measured from other processes.

Run as `python -m tests.helpers.link_target PORT FOLDER [--host HOST] [--keepalive-s S] [--nice N]`.
Each second it prints a line of JSON: its newest ticks' lateness, its threads and memory, and what
its link refused. Requests that lead to heat need a signature that nobody has.
"""

import argparse
import json
import os
import sys
import threading
from pathlib import Path

from controller.clock import RealClock
from controller.files.profile_file import load_profile
from controller.journal.host import read_stamp
from controller.link import session
from controller.link.link import Link
from controller.link.settings import LinkSettings, Remote
from controller.ports import Moment, Question, Request
from controller.wiring import Order, Starter, attach, execute, identity
from controller.wiring import running as wiring
from tests.helpers.logs import listening_log
from tests.helpers.records import replace
from tests.helpers.runs import bench_machine

PERIOD_S = 0.25  # the fastest that a machine file may ask for
_PAGE = os.sysconf("SC_PAGE_SIZE")
_MS = 1000.0


def _waited_ms() -> float:
    """How long this thread has waited for a processor, ms (the kernel's sched-stats document)."""
    told = Path("/proc/thread-self/schedstat").read_text("ascii").split()
    return int(told[1]) / 1e6


class Gauge:
    """A teller that measures how late each tick is, and prints; a panel, to see ticks begin."""

    def __init__(self) -> None:
        """Nothing seen yet."""
        self.link: Link | None = None
        self._first_s: float | None = None
        self._last_s = 0.0
        self._late_ms: list[float] = []
        self._queued_ms: list[float] = []
        self._slept_ms = 0.0
        self._missed = 0

    def take(self, now_s: float, ask: Question | None) -> tuple[Request, ...]:  # noqa: ARG002 - the Panel's contract
        """A tick begins: how long its thread was ready and no processor was free."""
        self._queued_ms.append(_waited_ms() - self._slept_ms)
        return ()

    def tell(self, moment: Moment) -> None:
        """Note one tick; print about once a second."""
        if self._first_s is None:
            self._first_s = self._last_s = moment.now_s
        gap = round((moment.now_s - self._last_s) / PERIOD_S)
        self._missed += max(0, gap - 1)
        self._last_s = moment.now_s
        self._late_ms.append((moment.now_s - self._first_s) % PERIOD_S * _MS)
        if len(self._late_ms) >= round(1.0 / PERIOD_S):
            self._print(moment)
        self._slept_ms = _waited_ms()

    def _print(self, moment: Moment) -> None:
        # A hair early is not a whole period late.
        late = [ms - PERIOD_S * _MS if ms > 0.9 * PERIOD_S * _MS else ms for ms in self._late_ms]
        pages = int(Path("/proc/self/statm").read_text("ascii").split()[1])
        told = {
            "late_ms": [round(ms, 3) for ms in late],
            "queued_ms": [round(ms, 3) for ms in self._queued_ms],
            "missed": self._missed,
            "threads": threading.active_count(),
            "rss_mb": pages * _PAGE / 1e6,
            "cpu_s": sum(os.times()[:2]),
            "mode": moment.state.mode.value,
            "refused": sum(self.link.refused.values()) if self.link else 0,
            "connected": self.link.connected if self.link else False,
        }
        self._late_ms.clear()
        self._queued_ms.clear()
        sys.stdout.write(json.dumps(told) + "\n")
        sys.stdout.flush()


def main(arguments: argparse.Namespace) -> None:
    """Run until somebody stops it."""
    folder: Path = arguments.folder
    os.nice(arguments.nice)
    if arguments.keepalive_s:
        session.KEEPALIVE_S = arguments.keepalive_s
        session.ACK_WAIT_S = 2.0 * arguments.keepalive_s
    machine_file = bench_machine()
    machine = replace(machine_file.machine, period_s=PERIOD_S)
    profile, clock, gauge = load_profile("dark", machine), RealClock(), Gauge()
    key = folder / "signing.key"
    key.write_text(os.urandom(32).hex(), encoding="ascii")
    key.chmod(0o600)
    settings = LinkSettings(
        host=arguments.host, port=arguments.port, remote=Remote.SIGNED, signing_key_file=key
    )
    make = wiring._link  # noqa: SLF001 - to look into the link that the wiring makes

    def kept(order: Order) -> Link | None:
        gauge.link = make(order)
        return gauge.link

    wiring._link = kept  # noqa: SLF001
    attached = attach(replace(machine_file, machine=machine), profile, clock)
    order = Order(
        profile=profile,
        machine=machine,
        attached=replace(attached, panels=()),
        clock=clock,
        identity=identity("attacked", "2026-01-01T06:00:00+00:00", profile, machine),
        journal_path=folder / "record.jsonl",
        link=settings,
        panels=(Starter(), gauge),
        tellers=(gauge,),
        stamp=read_stamp,
        log=listening_log()[0],
    )
    execute(order)


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("port", type=int)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--host", default="127.0.0.1")
    parser.add_argument("--keepalive-s", type=int, default=0)
    parser.add_argument("--nice", type=int, default=0)
    main(parser.parse_args())
