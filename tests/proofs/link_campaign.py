"""Hostile messages by the thousand against the link of a running daemon.

Usage: python tests/proofs/link_campaign.py [--cases 20000] [--seed 1] [--quiet-s 20]
       [--frozen-s 60] [--patient]

A run on the bench in real time, four ticks a second, publishes at a mosquitto that lets anybody
write anything. After some quiet seconds, messages are sent as fast as the broker takes them; then
the broker is frozen for a while. What must hold: ticks no later than in quiet by more than 20 ms at
the 99th percentile and none missed (not asked with `--patient`, for a busy computer), memory and
threads as before, the run neither paused by force nor ended, the link back soon after the frost,
every value on the broker sound in the end, and a stop in the middle of a flood heeded by the next
ticks. Exits 1 if anything doesn't.
"""

import argparse
import shutil
import signal
import sys
import tempfile
from contextlib import suppress
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from controller.clock import process_s
from tests.helpers.brokers import Mosquitto
from tests.helpers.homie import faults_in_device
from tests.helpers.hostile import BATCH, attack
from tests.helpers.target_process import Target, late_ms, percentile
from tests.helpers.watcher import Watcher

BASE = "homie/5/bainward"
SLACK_MS = 20.0
MOST_MB = 20.0  # own engineering value: interpreters grow a little whatever one does
STOP_S = 3.0  # the same
NOTICED_S = 30  # the wait for an acknowledgement, and the longest silence of a value
BACK_S = 20  # the longest pause between two tries, and a connection


def stop_s(watcher: Watcher, seed: int) -> float:
    """How long a stop takes in the middle of a flood, until the run says so."""
    begun_s = process_s()
    attack(watcher, seed, BATCH)
    watcher.flood(f"{BASE}/control/command/set", b"pause", 500)
    watcher.send(f"{BASE}/control/command/set", "stop")
    watcher.until(
        "the run stopping",
        lambda w: w.topics.get(f"{BASE}/run/state") in {"stopping", "stopped"},
    )
    return process_s() - begun_s


def frozen(broker: Mosquitto, target: Target, seconds: int) -> tuple[int, int]:
    """Freeze the broker; after how many seconds the link knew, and after the thaw was back."""
    if not seconds:
        return 0, 0
    broker.signal(signal.SIGSTOP)
    told = target.listen_for(seconds)
    broker.signal(signal.SIGCONT)
    noticed_s = next((at for at, second in enumerate(told) if not second["connected"]), seconds)
    begun = target.count()
    target.until("the link back", lambda seen: bool(seen[begun:]) and seen[-1]["connected"])
    return noticed_s, target.count() - begun


def campaign(arguments: argparse.Namespace, broker: Mosquitto, folder: Path) -> list[str]:
    """Run it, print what was seen, and give what didn't hold."""
    port = broker.port
    with Target(port, folder) as target, Watcher(port) as watcher:
        watcher.until_topic(f"{BASE}/$state", "ready")
        quiet = target.listen_for(arguments.quiet_s)
        begun = target.count()
        rate = attack(watcher, arguments.seed, arguments.cases)
        target.listen_for(2)
        hostile = target.seconds[begun:]
        noticed_s, back_s = frozen(broker, target, arguments.frozen_s)
        thawed = target.listen_for(1)[-1]
        stopped_s = stop_s(watcher, arguments.seed + 1)
        faults = settled_faults(watcher, port)
    before, after = quiet[-1], hostile[-1]
    late = [percentile(late_ms(part), 0.99) for part in (quiet, hostile)]
    print(
        f"{arguments.cases} messages, {rate:.0f} a second, {after['refused']} refused; "
        f"p99 of a tick's lateness {late[0]:.1f} ms in quiet, {late[1]:.1f} ms under attack; "
        f"memory {before['rss_mb']:.0f} MB, then {after['rss_mb']:.0f} MB; "
        f"threads {before['threads']}, then {after['threads']}; "
        f"stop heeded {stopped_s:.2f} s after it was sent into a flood"
    )
    if arguments.frozen_s:
        print(
            f"broker frozen for {arguments.frozen_s} s: noticed after {noticed_s} s, link back "
            f"{back_s} s after the thaw, memory {thawed['rss_mb']:.0f} MB"
        )
    wrong = {
        "ticks came later": not arguments.patient and late[1] > late[0] + SLACK_MS,
        "ticks were missed": not arguments.patient and thawed["missed"] > before["missed"],
        "memory grew": max(after["rss_mb"], thawed["rss_mb"]) > before["rss_mb"] + MOST_MB,
        "the frost was not noticed": noticed_s > NOTICED_S,
        "the link came back late": back_s > BACK_S and not arguments.patient,
        "threads were lost or made": after["threads"] != before["threads"],
        "the run was ended": after["mode"] not in {"running", "pausing", "paused"},
        "the link was lost": not after["connected"],
        "nothing was refused": after["refused"] < arguments.cases // 4,
        "the stop came late": stopped_s > STOP_S and not arguments.patient,
        **{f"the tree is wrong: {fault}": True for fault in faults},
    }
    return [what for what, is_wrong in wrong.items() if is_wrong]


def settled_faults(watcher: Watcher, port: int) -> list[str]:
    """What is wrong with the values that are ours, once the next ones have overwritten the lies."""
    watcher.until_topic(f"{BASE}/run/state", "stopped")
    with Watcher(port) as late:
        # A cold bowl needs no stirring after the stop, so that the run may have taken its leave.
        said = {"ready", "disconnected"}
        late.until("a state that is ours", lambda w: w.topics.get(f"{BASE}/$state") in said)
        late.until_topic(f"{BASE}/run/state", "stopped")
        with suppress(AssertionError):  # what is wrong for good is given below
            late.until("a sound tree", lambda w: not own_faults(w.topics))
        return own_faults(dict(late.topics))


def own_faults(topics: dict[str, str]) -> list[str]:
    """Faults, leaving aside topics that only others write."""
    faults = faults_in_device(topics, "bainward")
    others = ("not described", "a command never is")
    return [fault for fault in faults if not any(word in fault for word in others)]


def main() -> int:
    """Run the campaign; the exit code."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cases", type=int, default=20_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--quiet-s", type=int, default=20)
    parser.add_argument("--frozen-s", type=int, default=60)
    parser.add_argument("--patient", action="store_true")
    arguments = parser.parse_args()
    executable = shutil.which("mosquitto") or "/usr/sbin/mosquitto"
    with tempfile.TemporaryDirectory() as folder:
        broker = Mosquitto(executable, Path(folder))
        broker.start()
        try:
            wrong = campaign(arguments, broker, Path(folder))
        finally:
            broker.kill()
    for what in wrong:
        print(f"WRONG: {what}")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
