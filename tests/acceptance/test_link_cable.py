"""The cable cut in short; tests/proofs/link_cable.py is the whole one, and is timed."""

import subprocess
import sys
from pathlib import Path

import pytest

CABLE = Path(__file__).parents[1] / "proofs" / "link_cable.py"
FORBIDDEN = 77  # the script's own


@pytest.mark.mosquitto
def test_a_cut_cable_is_told_by_the_broker_and_the_machine_is_ready_when_it_is_mended(
    executable: str,
) -> None:
    assert executable
    done = subprocess.run(
        [sys.executable, str(CABLE), "--hurried", "--patient", "--cut-s", "7", "--quiet-s", "1"],
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode == FORBIDDEN:
        pytest.skip(f"NOT TESTED WITH A CUT CABLE: {done.stdout.strip()}")
    assert done.returncode == 0, done.stdout + done.stderr
    assert "ready" in done.stdout
    assert "WRONG" not in done.stdout
