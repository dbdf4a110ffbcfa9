"""How late a tick is in quiet and under attack: figures, never a test.

Usage: python tests/benchmarks/link_lateness.py [--rounds 10] [--phase-s 8] [--seed 1] [--service]

A run on the bench in real time, four ticks a second, publishes at a mosquitto on this computer.
Quiet seconds take turns with seconds in which hostile messages come as fast as the broker takes
them, and with seconds in which they go to somebody else, so that whatever else the computer does
falls on all. The mark is the quiet 99th percentile and 20 ms. The attacker stands for another
computer, so it gives way to all else on this one. `--service` gives the daemon the priority that
the shipped systemd unit gives it, and needs root. "But for busy cores" leaves out for how long a
tick's thread was ready while others had every processor, as the kernel tells: what is left is the
interpreter, held by the link.
"""

import argparse
import os
import shutil
import sys
import tempfile
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from controller.service.units import RUN_NICE
from tests.helpers.brokers import Mosquitto
from tests.helpers.hostile import BATCH, attack
from tests.helpers.target_process import Target, late_ms, percentile, queued_ms
from tests.helpers.watcher import Watcher

BASE = "homie/5/bainward"
NEXT_DOOR = "homie/5/somebody-else"  # what the machine doesn't hear
ATTACKER_NICE = 10
SLACK_MS = 20.0
SHARES = {"p50": 0.5, "p90": 0.9, "p99": 0.99, "most": 1.0}


@dataclass
class Phase:
    """What was seen in all phases of a kind."""

    late_ms: list[float] = field(default_factory=list)
    own_ms: list[float] = field(default_factory=list)  # without the wait for a processor

    def add(self, seconds: list[dict[str, Any]]) -> None:
        """Add one phase; its first second is left out."""
        late, queued = late_ms(seconds[1:]), queued_ms(seconds[1:])
        self.late_ms += late
        self.own_ms += [max(0.0, a - b) for a, b in zip(late, queued, strict=True)]

    def told(self, name: str) -> str:
        """As a line."""
        late, own = (
            ", ".join(f"{word} {percentile(ms, share):.1f}" for word, share in SHARES.items())
            for ms in (self.late_ms, self.own_ms)
        )
        return f"lateness of {len(self.late_ms)} ticks {name}, ms: {late}; but for busy cores {own}"


def attacked(target: Target, watcher: Watcher, seconds: int, seed: int, base: str = BASE) -> int:
    """Send below `base` for so long; how many messages that were."""
    begun, sent = target.count(), 0
    while target.count() < begun + seconds:
        attack(watcher, seed + sent, BATCH, base)
        sent += BATCH
    return sent


def measure(arguments: argparse.Namespace, port: int, folder: Path) -> None:
    """Run and print."""
    more = ("--nice", str(RUN_NICE)) if arguments.service else ()
    calm, beside, hostile = Phase(), Phase(), Phase()
    messages, phase_s = 0, arguments.phase_s
    with Target(port, folder, *more) as target, Watcher(port) as watcher:
        os.nice(ATTACKER_NICE)
        watcher.until_topic(f"{BASE}/$state", "ready")
        missed = target.listen_for(2)[-1]["missed"]
        for turn in range(arguments.rounds):
            seed = arguments.seed + turn * 1_000_000
            calm.add(target.listen_for(phase_s))
            begun = target.count()
            messages += attacked(target, watcher, phase_s, seed)
            hostile.add(target.seconds[begun : begun + phase_s])
            begun = target.count()
            attacked(target, watcher, phase_s, seed, NEXT_DOOR)
            beside.add(target.seconds[begun : begun + phase_s])
        last = target.seconds[-1]
    told = {"in quiet": calm, "with others attacked": beside, "under attack": hostile}
    for name, phase in told.items():
        print(phase.told(name))
    over = percentile(hostile.late_ms, 0.99) - percentile(calm.late_ms, 0.99)
    own = percentile(hostile.own_ms, 0.99) - percentile(calm.own_ms, 0.99)
    print(
        f"{messages} messages, {messages / (arguments.rounds * phase_s):.0f} a second, "
        f"{last['refused']} refused; {last['missed'] - missed} ticks missed; later than in quiet "
        f"at the 99th percentile by {over:.1f} ms, but for busy cores by {own:.1f} ms; "
        f"{SLACK_MS:.0f} ms are allowed"
    )


def main() -> None:
    """Measure against a broker of its own."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=10)
    parser.add_argument("--phase-s", type=int, default=8)
    parser.add_argument("--service", action="store_true")
    parser.add_argument("--seed", type=int, default=1)
    arguments = parser.parse_args()
    executable = shutil.which("mosquitto") or "/usr/sbin/mosquitto"
    with tempfile.TemporaryDirectory() as folder:
        broker = Mosquitto(executable, Path(folder))
        broker.start()
        try:
            measure(arguments, broker.port, Path(folder))
        finally:
            broker.kill()


if __name__ == "__main__":
    main()
