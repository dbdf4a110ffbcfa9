"""Writers killed and power cut in the midst of a write: nothing acknowledged is ever lost."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.helpers.journal_cuts import LOST_MAX_S, Tally, ext4_image, mounted

ROOT = Path(__file__).parents[2]
WAIT_S = 120.0  # never reached unless something is wrong
KILLS = 40
POWER_CUTS = 12


def cut(kind: str, folder: Path, times: int) -> Tally:
    """Cut so often, in a process of its own, for it forks."""
    seed = str(os.getpid())  # other moments in each run of CI; the tally is judged, not the moments
    done = subprocess.run(
        [sys.executable, "-m", "tests.helpers.journal_cuts", kind, str(folder), str(times), seed],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
        timeout=WAIT_S,
    )
    assert done.returncode == 0, done.stderr
    return Tally(**json.loads(done.stdout))


def test_a_killed_writer_loses_nothing_that_it_acknowledged(tmp_path: Path) -> None:
    tally = cut("kills", tmp_path, KILLS)
    assert tally.cuts == KILLS
    assert tally.acknowledged > KILLS
    assert tally.acknowledged_lost == 0
    assert tally.unreadable == 0


@pytest.fixture
def disks(tmp_path: Path) -> Path:
    """A folder in which file systems can be mounted."""
    try:
        with mounted(ext4_image(tmp_path / "trial.img"), tmp_path / "trial"):
            return tmp_path
    except OSError as error:
        pytest.skip(f"NOT TESTED ON POWER CUTS: {error}; run as root where loop mounts are allowed")


def test_a_power_cut_loses_nothing_acknowledged_and_at_most_five_seconds(disks: Path) -> None:
    tally = cut("power", disks, POWER_CUTS)
    assert tally.cuts == POWER_CUTS
    assert tally.acknowledged > POWER_CUTS
    assert tally.acknowledged_lost == 0
    assert tally.unreadable == 0
    assert tally.worst_lost_s <= LOST_MAX_S
