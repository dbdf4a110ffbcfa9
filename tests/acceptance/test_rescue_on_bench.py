"""What a rescue proposes, carried out on the bench's plant, whose crystals follow another law.

The short form of tests/benchmarks/rescue.py: seed 1 was not tuned on.
"""

from pathlib import Path

import pytest

from tests.benchmarks.rescue import judged, summary
from tests.benchmarks.rescue_cases import DONE

SEED, MACHINE = 1, 1
MISHAPS = ("temper-lost", "too-thick", "too-cool", "seed-forgotten", "power-gone", "set-in-bowl")


@pytest.mark.parametrize("mishap", MISHAPS)
def test_what_is_proposed_ends_in_temper(mishap: str, tmp_path: Path) -> None:
    table = tmp_path / "table.jsonl"
    (tried,) = judged([(SEED, MACHINE, mishap)], table)
    assert tried.ends, tried
    # An interrupted command goes on from its table.
    (again,) = judged([(SEED, MACHINE, mishap)], table)
    assert repr(again) == repr(tried)
    assert f"{mishap:20}     1" in summary([again])


def test_a_dozen_kinds_of_mishap_are_judged() -> None:
    assert len(DONE) >= 12
    assert set(MISHAPS) <= set(DONE)
