"""How late a tick is in quiet and under attack: figures, never a test.

Usage: python tests/benchmarks/link_lateness.py [--rounds 10] [--phase-s 8] [--seed 1]

A run on the bench in real time, four ticks a second, publishes at a mosquitto on this computer.
Quiet seconds take turns with seconds in which hostile messages come as fast as the broker takes
them, and with seconds in which they go to somebody else, so that whatever else the computer does
falls on all. The mark is the quiet 99th percentile and 20 ms. The attacker stands for another
computer, so it gives way to all else on this one.
"""

import argparse
import os
import shutil
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.helpers.brokers import Mosquitto
from tests.helpers.hostile import BATCH, attack
from tests.helpers.target_process import Target, late_ms, percentile
from tests.helpers.watcher import Watcher

BASE = "homie/5/bainward"
NEXT_DOOR = "homie/5/somebody-else"  # what the machine doesn't hear
ATTACKER_NICE = 10
SLACK_MS = 20.0
SHARES = {"p50": 0.5, "p99": 0.99, "most": 1.0}


def quiet(target: Target, seconds: int) -> list[float]:
    """How late each tick is while nobody asks for anything, ms; the first second is left out."""
    return late_ms(target.listen_for(seconds)[1:])


def attacked(
    target: Target, watcher: Watcher, seconds: int, seed: int, base: str = BASE
) -> tuple[list[float], int]:
    """The same while messages are sent below `base`, and how many that were."""
    begun, sent = target.count(), 0
    while target.count() < begun + seconds:
        attack(watcher, seed + sent, BATCH, base)
        sent += BATCH
    return late_ms(target.seconds[begun + 1 : begun + seconds]), sent


def measure(arguments: argparse.Namespace, port: int, folder: Path) -> None:
    """Run and print."""
    with Target(port, folder) as target, Watcher(port) as watcher:
        os.nice(ATTACKER_NICE)
        watcher.until_topic(f"{BASE}/$state", "ready")
        calm: list[float] = []
        hostile: list[float] = []
        beside: list[float] = []
        messages = 0
        missed = target.listen_for(2)[-1]["missed"]
        for turn in range(arguments.rounds):
            calm += quiet(target, arguments.phase_s)
            late, sent = attacked(
                target, watcher, arguments.phase_s, arguments.seed + turn * 1_000_000
            )
            hostile += late
            beside += attacked(target, watcher, arguments.phase_s, 7, NEXT_DOOR)[0]
            messages += sent
        last = target.seconds[-1]
    told = {"in quiet": calm, "with others attacked": beside, "under attack": hostile}
    for name, late in told.items():
        words = (f"{word} {percentile(late, share):.1f}" for word, share in SHARES.items())
        print(f"lateness of {len(late)} ticks {name}, ms: {', '.join(words)}")
    rate = messages / (arguments.rounds * arguments.phase_s)
    over = percentile(hostile, 0.99) - percentile(calm, 0.99)
    print(
        f"{messages} messages, {rate:.0f} a second, {last['refused']} refused; "
        f"{last['missed'] - missed} ticks missed; later by {over:.1f} ms at the 99th percentile "
        f"({'within' if over <= SLACK_MS else 'BEYOND'} the {SLACK_MS:.0f} ms allowed)"
    )


def main() -> None:
    """Measure against a broker of its own."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=10)
    parser.add_argument("--phase-s", type=int, default=8)
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
