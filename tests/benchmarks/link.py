"""What the link costs and how soon it answers: figures, never a test.

Usage: python tests/benchmarks/link.py [--subscribers 50] [--seconds 20]

A run on the bench in real time, four ticks a second, publishes at a mosquitto on this computer.
Counted are what its subscribers see between two marks, and how long a request takes to its answer:
a refused one, which the link answers by itself, and one that waits for the next tick.
"""

import argparse
import json
import shutil
import sys
import tempfile
import time
from contextlib import ExitStack
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.helpers.brokers import Mosquitto
from tests.helpers.target_process import Target, percentile
from tests.helpers.watcher import Watcher

BASE = "homie/5/bainward"
REQUEST, RESPONSE = f"{BASE}/control/request/set", f"{BASE}/control/response"
REFUSED, ACCEPTED = 30, 60  # requests measured; a flood of refusals isn't answered
TICKS_PER_S = 4
MS = 1000.0


def between(watcher: Watcher, first: str, last: str) -> list[tuple[str, str]]:
    """What it saw between two marks, in order."""
    seen = [(one.topic, one.payload) for one in watcher.seen]
    return seen[seen.index(("homie/5/mark", first)) + 1 : seen.index(("homie/5/mark", last))]


def answered_ms(watcher: Watcher, command: str, id_: str) -> float:
    """From sending a request until its answer is here."""
    begun_s = time.perf_counter()
    watcher.flood(REQUEST, json.dumps({"id": id_, "command": command}).encode(), 1)
    watcher.until(
        f"an answer to {id_}",
        lambda w: any(one.topic == RESPONSE and f'"{id_}"' in one.payload for one in w.seen[-20:]),
    )
    return (time.perf_counter() - begun_s) * MS


def answers(watcher: Watcher, command: str, count: int) -> str:
    """The percentiles of so many answers."""
    took_ms = [answered_ms(watcher, command, f"{command}-{number}") for number in range(count)]
    return f"p50 {percentile(took_ms, 0.5):.0f} ms, p99 {percentile(took_ms, 0.99):.0f} ms"


def measure(arguments: argparse.Namespace, port: int, folder: Path) -> None:
    """Run and print."""
    with ExitStack() as stack:
        target = stack.enter_context(Target(port, folder))
        target.listen_for(1)  # a busy computer takes long to start it
        watchers = [stack.enter_context(Watcher(port)) for _ in range(arguments.subscribers)]
        for watcher in watchers:
            watcher.until_topic(f"{BASE}/$state", "ready")
        target.listen_for(3)
        watchers[0].send("homie/5/mark", "first")
        before = target.seconds[-1]
        target.listen_for(arguments.seconds)
        after = target.seconds[-1]
        watchers[0].send("homie/5/mark", "last")
        for watcher in watchers:
            watcher.until_topic("homie/5/mark", "last")
        seen = [between(watcher, "first", "last") for watcher in watchers]
        most = max(seen, key=len)
        lost = sum(len(most) - len(one) for one in seen)
        same = sum(one == most for one in seen)
        cpu = (after["cpu_s"] - before["cpu_s"]) / arguments.seconds
        print(
            f"{len(most) / arguments.seconds:.1f} messages a second to {len(watchers)} "
            f"subscribers, {lost} lost, {same} of them saw the same in the same order; "
            f"daemon with bench at {TICKS_PER_S} ticks a second: {cpu:.1%} of a core, "
            f"{after['rss_mb']:.0f} MB"
        )
        print(f"from request to answer, refused: {answers(watchers[0], 'reset', REFUSED)}")
        print(f"from request to answer, by a tick: {answers(watchers[0], 'acknowledge', ACCEPTED)}")


def main() -> None:
    """Measure against a broker of its own."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--subscribers", type=int, default=50)
    parser.add_argument("--seconds", type=int, default=20)
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
