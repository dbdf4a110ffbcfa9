"""Pull down one wall of the guard at a time, and name the tests that notice.

Usage: python tests/proofs/pull_walls.py

Each wall is a text of decision.py and what stands there without it; a text that is no longer there,
or a wall that no test of its name notices, ends this with an error.
Responsible for the walls; mutate_guard.py tries every other change.
"""

import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.proofs.mutate_guard import BARE, copy_into

WALLS: dict[str, tuple[tuple[str, str], ...]] = {
    "guard thermometer": (
        ("        and bath_mc is not None\n        and not over\n", ""),
        (
            "        (guard.armed and now_ms - sampled_ms > limits.sample_lost_ms, ",
            "        (False, ",
        ),
    ),
    "lease": (
        ("        and now_ms - guard.leased_ms <= limits.lease_ms\n", ""),
        ("        guard = _mind_silence(guard, now_ms, limits)", "        pass"),
    ),
    "cap": (("min(lease.cap_mc, limits.cap_mc)", "lease.cap_mc"), ("        and not over\n", "")),
    "latch": (
        ("        guard.latched is Cause.NONE\n        and guard.asked", "        guard.asked"),
    ),
    "read back": (("(now_ms - agreed_ms > limits.mains_ms, mains)", "(False, mains)"),),
}
DECISION = "controller/guard/decision.py"


def failing(folder: Path) -> list[str]:
    """The names of the unit tests that fail in a copy."""
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "tests/unit"]
    result = subprocess.run(
        command, cwd=folder, env=BARE, capture_output=True, text=True, check=False
    )
    assert re.search(r"^\d+ failed, \d+ passed", result.stdout, re.MULTILINE), result
    return sorted(set(re.findall(r"^FAILED \S+::(\w+)", result.stdout, re.MULTILINE)))


def without(wall: str) -> list[str]:
    """The names of the tests that fail once the wall is down."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        copy_into(folder)
        path = folder / DECISION
        text = path.read_text(encoding="utf-8")
        for was, becomes in WALLS[wall]:
            assert text.count(was) == 1, (wall, was)
            text = text.replace(was, becomes)
        path.write_text(text, encoding="utf-8")
        shutil.rmtree(folder / "controller" / "guard" / "__pycache__", ignore_errors=True)
        return failing(folder)


def main() -> None:
    """Pull them down one after the other."""
    unseen = []
    for wall in WALLS:
        names = without(wall)
        own = [name for name in names if f"wall_{wall.replace(' ', '_')}" in name]
        print(f"{wall}: {len(names)} tests fail, of its own name:")
        print("".join(f"  {name}\n" for name in own), end="")
        unseen += [] if own else [wall]
    sys.exit(f"nobody notices: {', '.join(unseen)}" if unseen else 0)


if __name__ == "__main__":
    main()
