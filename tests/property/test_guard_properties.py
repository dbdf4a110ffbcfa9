"""The guard on random histories: what must hold of every step, and a slow second opinion.

CI and BAINWARD_LONG=1 take five million steps; a run by hand takes fewer.
"""

import os
import subprocess
import sys
from collections.abc import Sequence
from itertools import islice
from pathlib import Path
from random import Random

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from controller.guard.decision import Cause, Lease, Limits, Sight, begin, step
from tests.helpers.guard_histories import SMALL, STARTS, history
from tests.helpers.guard_invariants import INVARIANTS, broken
from tests.helpers.guard_reference import Verdict, judge_all

ROOT = Path(__file__).resolve().parents[2]
LONG = bool(os.environ.get("CI") or os.environ.get("BAINWARD_LONG"))
STEPS = 5_000_000 if LONG else 200_000
HISTORIES = 300
LENGTH = 32  # the reference takes the square of it
OWN = Limits(cap_mc=60_000)
DAY_MS = 86_400_000

whole = st.integers(-(2**70), 2**70)
edges = st.sampled_from([-1, 0, 1, 1_999, 2_000, 2_001, 5_000, 5_001, 10_000, 10_001, 60_000])
leases = st.builds(
    Lease,
    peer=st.one_of(st.integers(0, 3), whole),
    number=st.one_of(st.integers(0, 9), whole),
    heat=st.booleans(),
    cap_mc=st.one_of(st.sampled_from([40_000, 60_000, 60_001]), whole),
    good=st.booleans(),
    farewell=st.booleans(),
    tripped=st.sampled_from(["", "", "level-lost", "relay-stuck-on", "guard-latched"]),
)
sights = st.builds(
    Sight,
    now_ms=st.one_of(st.integers(0, DAY_MS), whole),
    lease=st.one_of(st.none(), leases),
    hung_up=st.booleans(),
    bath_mc=st.one_of(st.none(), st.sampled_from([39_999, 40_000, 60_000, 60_001]), whole),
    bath_age_ms=st.one_of(edges, whole),
    mains_live=st.one_of(st.none(), st.booleans()),
    rearm=st.booleans(),
)


def verdicts(seen: Sequence[Sight], limits: Limits, latched: Cause) -> list[Verdict]:
    """What the guard says after each sight of a history."""
    guard, said = begin(0, latched), []
    for sight in seen:
        guard = step(guard, sight, limits)
        said.append(
            Verdict(
                heat=guard.heat,
                latched=guard.latched,
                armed=guard.armed,
                alone=guard.alone,
                causes=guard.causes,
            )
        )
    return said


def histories() -> list[list[Sight]]:
    """The same ones in every run."""
    rng = Random(20)  # noqa: S311 - reproducible, not secret
    drawn = []
    for _ in range(HISTORIES):
        start = rng.randrange(60)
        drawn.append(list(islice(history(rng), start, start + LENGTH)))
    return drawn


@pytest.mark.parametrize("latched", STARTS[-2:])
def test_the_guard_decides_as_a_slow_reading_of_the_table_does(latched: Cause) -> None:
    met: set[Cause] = set()
    heats = 0
    for seen in histories():
        want = judge_all(seen, SMALL, latched=latched)
        assert verdicts(seen, SMALL, latched) == want
        met.update(verdict.latched for verdict in want)
        heats += sum(verdict.heat for verdict in want)
    assert met >= set(Cause) - {Cause.GUARD_RESTARTED, Cause.LATCH_UNREADABLE}
    assert heats > HISTORIES


def spoken(*times_ms: int, **rest: int) -> list[Sight]:
    """One good lease at each of these times."""
    return [
        Sight(
            now_ms=now_ms,
            lease=Lease(peer=7, number=number, heat=True, cap_mc=40_000, good=True),
            bath_mc=rest.get("bath_mc", 40_000),
            bath_age_ms=rest.get("age_ms", 0),
        )
        for number, now_ms in enumerate(times_ms, 1)
    ]


def looked(*times_ms: int, bath_mc: int | None = 40_000) -> list[Sight]:
    """One look without a lease at each of these times."""
    return [Sight(now_ms=now_ms, bath_mc=bath_mc) for now_ms in times_ms]


@pytest.mark.parametrize("off_ms", [-1, 0, 1])
@pytest.mark.parametrize("limit_ms", [2_000, 3_000, 5_000, 10_000, 30_000])
@pytest.mark.parametrize("bath_mc", [40_000, 40_001, None])
@pytest.mark.parametrize("live", [None, False, True])
def test_at_every_limit_both_opinions_change_in_the_same_millisecond(
    off_ms: int, limit_ms: int, bath_mc: int | None, live: object
) -> None:
    mains = live if isinstance(live, bool) else None
    end_ms = 100 + limit_ms + off_ms
    ticks = range(1_100, end_ms, 1_000)
    for alone in (True, False):
        talk = spoken(100) if alone else spoken(100, *ticks, bath_mc=40_000)
        seen = [talk[0]]
        for sight in (*talk[1:], *looked(*(ticks if alone else ()))):
            changed = Sight(
                now_ms=sight.now_ms, lease=sight.lease, bath_mc=bath_mc, mains_live=mains
            )
            seen.append(changed)
        seen.append(Sight(now_ms=end_ms, bath_mc=bath_mc, mains_live=mains))
        want = judge_all(seen, OWN, latched=Cause.NONE)
        assert verdicts(seen, OWN, Cause.NONE) == want


@settings(max_examples=300, deadline=None, derandomize=True)
@given(st.lists(sights, max_size=12), st.sampled_from(list(Cause)))
@example(spoken(100, 200, 300), Cause.NONE)
def test_no_input_makes_the_guard_raise_or_break_an_invariant(
    seen: list[Sight], latched: Cause
) -> None:
    guard = begin(0, latched)
    assert not guard.heat
    for sight in seen:
        after = step(guard, sight, OWN)
        assert broken(guard, sight, after, OWN) == ""
        guard = after


def test_millions_of_random_steps_break_no_invariant() -> None:
    # A process of its own: coverage would make each step several times slower.
    command = [sys.executable, str(ROOT / "tests" / "proofs" / "fuzz_guard.py")]
    result = subprocess.run(
        [*command, "--steps", str(STEPS)], capture_output=True, text=True, check=False
    )
    assert result.returncode == 0, result.stdout + result.stderr
    assert int(result.stdout.split()[0]) >= STEPS


def test_every_invariant_is_looked_at_by_its_name() -> None:
    calm = begin(0, Cause.NONE)
    wild = Sight(now_ms=1)
    assert broken(calm, wild, step(calm, wild, OWN), OWN) == ""
    heated = step(begin(0, Cause.NONE), spoken(100)[0], OWN)
    assert broken(calm, wild, heated, OWN) in INVARIANTS
