"""The cable between a running daemon and its broker, cut and mended: two network namespaces.

Usage: python tests/proofs/link_cable.py [--cut-s 60] [--quiet-s 20] [--hurried] [--patient]

The daemon of `tests/helpers/link_target.py` lives in one namespace of the network, a mosquitto and
an onlooker in another, and a pair of virtual Ethernet ends between them. The daemon's end is taken
down. What must hold: the broker says `lost` after one and a half times the keep-alive, the daemon
notices, its ticks go on as if nothing was, and once the end is up again the device is `ready` with
the newest values. `--hurried` shortens the waits, `--patient` doesn't ask how late ticks were, for
a busy computer. Exits 1 if anything doesn't hold, 77 where the kernel forbids namespaces.
"""

import argparse
import json
import os
import shutil
import subprocess
import sys
import tempfile
import threading
from contextlib import ExitStack
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from controller.clock import process_s
from tests.helpers.target_process import ROOT, Target, late_ms, percentile

INSIDE = "BAINWARD_INSIDE"
NEAR, FAR, PORT = "10.99.0.1", "10.99.0.2", 1883  # a network that nobody else can see
SLACK_MS = 20.0
FORBIDDEN = 77
KEEPALIVE_S, HURRIED_KEEPALIVE_S = 15, 2  # the link's own; short enough for a test
GRACE_S = 6.0  # a broker looks now and then; own engineering value
BACK_S = 20.0  # the longest pause between two tries, and a connection
WAIT_S = 90.0  # never reached unless something is wrong


class Onlooker:
    """A process in the broker's namespace that tells what the broker says of the device."""

    def __init__(self, namespace: int) -> None:
        """Start it."""
        self.told: list[tuple[float, str, str]] = []
        self._changed = threading.Condition()
        self._process = subprocess.Popen(
            [*_in(namespace), sys.executable, "-m", "tests.helpers.onlooker", str(PORT)],
            cwd=ROOT,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
            stdout=subprocess.PIPE,
            text=True,
        )
        threading.Thread(target=self._listen, daemon=True).start()

    def until(self, topic: str, payload: str, since_s: float) -> float:
        """When a topic said that, after a moment; s of this computer's clock."""

        def found() -> list[float]:
            return [at for at, *said in self.told if at >= since_s and said == [topic, payload]]

        with self._changed:
            assert self._changed.wait_for(lambda: bool(found()), WAIT_S), f"{topic} {payload}"
            return found()[0]

    def end(self) -> None:
        """End it."""
        self._process.kill()
        self._process.wait()

    def _listen(self) -> None:
        assert self._process.stdout is not None
        for line in self._process.stdout:
            topic, payload = json.loads(line)
            with self._changed:
                self.told.append((process_s(), topic, payload))
                self._changed.notify_all()


def _in(namespace: int) -> list[str]:
    return ["nsenter", "-t", str(namespace), "-n"]


def _ip(words: str, namespace: int | None = None) -> None:
    prefix = [] if namespace is None else _in(namespace)
    subprocess.run([*prefix, "ip", *words.split()], check=True)


def broker(stack: ExitStack, folder: Path) -> int:
    """A mosquitto in a namespace of its own, at the far end of a cable; its process id."""
    config = folder / "mosquitto.conf"
    config.write_text(
        f"listener {PORT} {FAR}\nlistener {PORT} 127.0.0.1\nallow_anonymous true\nuser root\n"
        "persistence false\n"
    )
    executable = shutil.which("mosquitto") or "/usr/sbin/mosquitto"
    process = subprocess.Popen(
        ["unshare", "-n", "sh", "-c", f"echo; read go; exec {executable} -c {config}"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
    )
    stack.callback(process.wait)
    stack.callback(process.kill)
    assert process.stdin is not None
    assert process.stdout is not None
    process.stdout.readline()  # the namespace is there
    _ip(f"link add near type veth peer name far netns {process.pid}")
    _ip(f"addr add {NEAR}/24 dev near")
    for words in (f"addr add {FAR}/24 dev far", "link set far up", "link set lo up"):
        _ip(words, process.pid)
    for words in ("link set near up", "link set lo up"):
        _ip(words)
    process.stdin.write(b"go\n")
    process.stdin.flush()
    return process.pid


def scene(arguments: argparse.Namespace, folder: Path) -> list[str]:
    """Cut and mend, print what was seen, and give what didn't hold."""
    keepalive_s = HURRIED_KEEPALIVE_S if arguments.hurried else KEEPALIVE_S
    more = ("--host", FAR, "--keepalive-s", str(keepalive_s))
    with ExitStack() as stack:
        namespace = broker(stack, folder)
        onlooker = Onlooker(namespace)
        stack.callback(onlooker.end)
        target = stack.enter_context(Target(PORT, folder, *more))
        onlooker.until("$state", "ready", 0.0)
        quiet = target.listen_for(arguments.quiet_s)
        cut_s = process_s()
        _ip("link set near down")
        cut = target.listen_for(arguments.cut_s)
        lost_s = onlooker.until("$state", "lost", cut_s) - cut_s
        mended_s = process_s()
        _ip("link set near up")
        back_s = onlooker.until("$state", "ready", mended_s) - mended_s
        values = [one for one in onlooker.told if one[1] == "safety/heartbeat"]
        last = target.listen_for(1)[-1]
    late = [percentile(late_ms(part), 0.99) for part in (quiet, cut)]
    noticed = [at for at, second in enumerate(cut) if not second["connected"]]
    print(
        f"cable cut for {arguments.cut_s} s at a keep-alive of {keepalive_s} s: broker said lost "
        f"after {lost_s:.1f} s, daemon noticed after {noticed[0] if noticed else 'no'} s, ready "
        f"{back_s:.1f} s after the mending; p99 of a tick's lateness {late[0]:.1f} ms before, "
        f"{late[1]:.1f} ms while it was cut, {last['missed']} ticks missed"
    )
    wrong = {
        "the broker did not say lost in time": lost_s > 1.5 * keepalive_s + GRACE_S,
        "the daemon did not notice": not noticed,
        "the link came back late": back_s > BACK_S,
        "no value came after the mending": values[-1][0] < mended_s,
        "the run was ended": last["mode"] != "running",
        "ticks came later": not arguments.patient and late[1] > late[0] + SLACK_MS,
        "ticks were missed": not arguments.patient and last["missed"] > 0,
    }
    return [what for what, is_wrong in wrong.items() if is_wrong]


def enter() -> int:
    """Run this again as the root of a user and a network of its own; its exit code."""
    namespace = ["unshare", "--user", "--map-root-user", "--net"]
    try:
        tried = subprocess.run(
            [*namespace, "ip", "link", "add", "near", "type", "veth", "peer", "name", "far"],
            capture_output=True,
            text=True,
            check=False,
        )
        why = tried.stderr.strip() if tried.returncode else ""
    except FileNotFoundError as error:
        why = f"{error.filename} is missing"
    if why:
        print(f"no network namespaces here: {why}")
        return FORBIDDEN
    inside = subprocess.run(
        [*namespace, sys.executable, *sys.argv], env={**os.environ, INSIDE: "1"}, check=False
    )
    return inside.returncode


def main() -> int:
    """Run it; the exit code."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cut-s", type=int, default=60)
    parser.add_argument("--quiet-s", type=int, default=20)
    parser.add_argument("--hurried", action="store_true")
    parser.add_argument("--patient", action="store_true")
    arguments = parser.parse_args()
    if INSIDE not in os.environ:
        return enter()
    with tempfile.TemporaryDirectory() as folder:
        wrong = scene(arguments, Path(folder))
    for what in wrong:
        print(f"WRONG: {what}")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
