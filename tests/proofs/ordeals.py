"""An ordeal that must be passed: nearly every fault seen, as what it is, and no harm unseen.

    python tests/proofs/ordeals.py [MACHINES [SEED]]

Runs `bainward ordeal dark` on 8 drawn machines, with pairs of faults on half as many, and as many
handled roughly; prints what that prints, and ends with 1 when too little was seen, rightly enough,
or anything was harmed or tripped that should not be.
"""

import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from controller.commands.main import main
from controller.report.table_file import read_table
from controller.trials.ordeal_summary import tried_of

MACHINES = 8
SEED = 2
PAIRS_EACH = 8
# What of the faults that the fitted sensors can see must be seen, and how much of it rightly.
SEEN_LEAST = 0.98
RIGHT_LEAST = 0.95


def prove(machines: int, seed: int, folder: Path) -> int:
    """Run both; the number of complaints."""
    words = ["ordeal", "dark", "--machines", str(machines), "--seed", str(seed), "--table"]
    table = folder / "faults.csv"
    failed = main([*words, str(table)]) != 0
    rough_failed = main([*words, str(folder / "rough.csv"), "--rough"]) != 0
    few = ["--machines", str(max(1, machines // 2)), "--each", str(PAIRS_EACH), "--pairs"]
    pairs_failed = main([*words, str(folder / "pairs.csv"), *few]) != 0
    due = [one for one in tried_of(read_table(table).rows) if one.is_due]
    seen = [one for one in due if one.found.cause]
    right = sum(one.is_right for one in seen)
    complaints = (
        (failed, "the ordeal failed"),
        (rough_failed, "rough handling failed"),
        (pairs_failed, "the pairs failed"),
        (len(seen) < SEEN_LEAST * len(due), f"only {len(seen)} of {len(due)} were seen"),
        (right < RIGHT_LEAST * len(seen), f"only {right} of {len(seen)} as what they are"),
    )
    for is_bad, said in complaints:
        if is_bad:
            print(f"Not passed: {said}.")
    return sum(is_bad for is_bad, _ in complaints)


if __name__ == "__main__":
    given = [int(word) for word in sys.argv[1:]]
    count, first = (*given, *(MACHINES, SEED)[len(given) :])
    with tempfile.TemporaryDirectory(prefix="bainward-") as place:
        sys.exit(1 if prove(count, first, Path(place)) else 0)
