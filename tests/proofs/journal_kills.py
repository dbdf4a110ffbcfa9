"""Kill -9 a writer of a journal in the midst of its work, a thousand times and more.

Run as `python tests/proofs/journal_kills.py [TIMES]` (default 1000, a few minutes); exits 1 if an
acknowledged record was lost or a record can't be read. CI does the same 30 times.
"""

import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.helpers.journal_cuts import kill_often

TIMES = 1000


def main() -> int:
    """Do it and print what came of it."""
    times = int(sys.argv[1]) if len(sys.argv) > 1 else TIMES
    with tempfile.TemporaryDirectory() as folder:
        tally = kill_often(Path(folder), times, seed=1)
    sys.stdout.write(
        f"{tally.cuts} kills, {tally.acknowledged} records acknowledged, "
        f"{tally.acknowledged_lost} of them lost, {tally.unreadable} journals unreadable, "
        f"{tally.torn} with a torn tail that readers cut\n"
    )
    return int(bool(tally.acknowledged_lost or tally.unreadable))


if __name__ == "__main__":
    sys.exit(main())
