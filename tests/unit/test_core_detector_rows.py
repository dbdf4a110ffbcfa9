"""Rows that hold sensors against each other: shown safe, shown unsafe, never safe by silence."""

import math
from typing import Any

import pytest

from controller.core.consistency import Consistency
from controller.core.detector_rows import DETECTOR_ROWS
from controller.core.evidence import Evidence
from controller.core.interlock_rows import Cause, Effect, Interlock, Need
from controller.core.interlocks import INTERLOCKS, Judgement, judge
from controller.core.machine import Machine
from tests.helpers.scene import evidence, machine, profile

NAN = math.nan
NEVER = math.inf
FULL = machine(has_level=True, has_shaft=True, has_load=True, has_guard=True)


def seen(**found: Any) -> Evidence:  # noqa: ANN401 - any field
    """Evidence in which a look found this."""
    return evidence(seen=Consistency(**found))


# cause, trips after s, evidence that must fail the row, evidence at the very edge of safe
ROWS: tuple[tuple[Cause, float, tuple[Evidence, ...], tuple[Evidence, ...]], ...] = (
    (
        Cause.BATH_PROBES_DISAGREE,
        60.0,
        (
            seen(apart_k=2.01),
            seen(apart_k=-2.01),
            seen(apart_k=NAN),
            seen(crept_k=1.21),
            seen(crept_k=NAN),
        ),
        (seen(apart_k=2.0, crept_k=1.2), seen(apart_k=-2.0, crept_k=-3.0)),
    ),
    (
        Cause.GUARD_PROBE_FROZEN,
        0.0,
        (seen(guard_frozen_s=600.1), seen(guard_frozen_s=NAN)),
        (seen(guard_frozen_s=600.0),),
    ),
    (
        Cause.PROBES_CROSSED,
        5.0,
        (seen(crossed_k=1.01), seen(crossed_k=NAN)),
        (seen(crossed_k=1.0),),
    ),
    (
        Cause.BOWL_UNLIKE_BATH,
        60.0,
        (
            seen(unlike_k=1.01),
            seen(unlike_k=-6.01),
            seen(unlike_k=NAN),
            seen(unlike_k=2.0, unlike_most_k=1.9),
            seen(unlike_k=-6.6, unlike_least_k=-6.5),
        ),
        (seen(unlike_k=1.0), seen(unlike_k=-6.0), seen(unlike_k=2.0, unlike_most_k=2.0)),
    ),
    (Cause.BOWL_FELL_ALONE, 300.0, (seen(fell_k=0.1), seen(fell_k=NAN)), (seen(fell_k=0.0),)),
    (
        Cause.BOWL_DISTURBED,
        NEVER,
        (seen(moved_k=-0.61), seen(moved_k=0.76), seen(moved_k=NAN)),
        (seen(moved_k=-0.6), seen(moved_k=0.75)),
    ),
    (
        Cause.STIRRER_UNLOADED,
        5.0,
        (seen(load_share=0.49), seen(load_share=NAN)),
        (seen(load_share=0.5),),
    ),
    (Cause.LOAD_JUMPED, NEVER, (seen(load_share=3.01),), (seen(load_share=3.0),)),
    (
        Cause.HEAT_DEMAND_CHANGED,
        NEVER,
        (seen(demand_share=1.46), seen(demand_share=0.69), seen(demand_share=NAN)),
        (seen(demand_share=1.45), seen(demand_share=0.7)),
    ),
    (
        Cause.AMOUNT_UNLIKELY,
        NEVER,
        (seen(amount_share=1.44), seen(amount_share=0.69), seen(amount_share=NAN)),
        (seen(amount_share=1.43), seen(amount_share=0.7)),
    ),
)
UNSAFE = [(cause, after_s, case) for cause, after_s, cases, _ in ROWS for case in cases]
EDGES = [(cause, case) for cause, _, _, cases in ROWS for case in cases]


def of(cause: Cause) -> Interlock:
    """The row of a cause."""
    (row,) = [row for row in DETECTOR_ROWS if row.cause is cause]
    return row


def look(given: Evidence, before: tuple[float, ...] = (), on: Machine = FULL) -> Judgement:
    """One tick's judgement."""
    return judge(
        before,
        given,
        machine=on,
        profile=profile(),
        latched=frozenset(),
        now_s=123.0,
        dt_s=1.0,
    )


def after(given: Evidence, seconds: int) -> Judgement:
    """The judgement once it has been so for so long."""
    judged = look(given)
    for _ in range(seconds):
        judged = look(given, judged.unsafe_s)
    return judged


def test_this_table_names_every_row() -> None:
    ours = [(cause, after_s) for cause, after_s, _, _ in ROWS]
    assert ours == [(row.cause, row.trip_after_s(profile())) for row in DETECTOR_ROWS]


@pytest.mark.parametrize(("cause", "after_s", "case"), UNSAFE)
def test_what_is_not_shown_safe_fails_its_row(cause: Cause, after_s: float, case: Evidence) -> None:
    assert not of(cause).safe(case)
    assert of(cause).trip_after_s(profile()) == after_s


@pytest.mark.parametrize(("cause", "case"), EDGES)
def test_at_the_edge_it_is_still_safe(cause: Cause, case: Evidence) -> None:
    assert of(cause).safe(case)


@pytest.mark.parametrize(("cause", "after_s", "case"), UNSAFE)
def test_advice_withholds_no_heat_and_all_else_does_in_the_same_tick(
    cause: Cause, after_s: float, case: Evidence
) -> None:
    is_advice = after_s == NEVER
    assert of(cause).advice is is_advice
    assert (cause in look(case).withheld) is not is_advice


@pytest.mark.parametrize(("cause", "after_s", "case"), UNSAFE)
def test_it_is_told_after_five_seconds_and_trips_after_its_own_wait(
    cause: Cause, after_s: float, case: Evidence
) -> None:
    if after_s > 0.0:
        assert cause not in after(case, 4).active
        assert cause in after(case, 5).active or after_s == 5.0
    if after_s < NEVER:
        assert cause in [trip.cause for trip in after(case, round(after_s)).new_trips]
    else:
        assert after(case, 2000).new_trips == ()


@pytest.mark.parametrize(("cause", "after_s", "case"), UNSAFE)
def test_it_is_one_sentence_with_a_number_and_what_to_do_now(
    cause: Cause, after_s: float, case: Evidence
) -> None:
    row, what = of(cause), of(cause).what(case)
    assert what.endswith(".")
    assert what.count(". ") == 0
    assert any(one.isdigit() for one in what) or "nan" in what
    assert row.action.endswith(".")
    assert (row.effect is Effect.ADVICE) is (after_s == NEVER)


@pytest.mark.parametrize(
    ("need", "case"),
    [
        (Need.GUARD, seen(apart_k=9.0)),
        (Need.GUARD, seen(guard_frozen_s=9000.0)),
        (Need.LOAD, seen(load_share=0.0)),
        (Need.LOAD, seen(load_share=9.0)),
    ],
)
def test_a_row_whose_sensor_is_not_fitted_is_silent(need: Need, case: Evidence) -> None:
    failing = [row for row in DETECTOR_ROWS if not row.safe(case)]
    assert {row.needs for row in failing} == {need}
    assert look(case, on=machine()).withheld == ()
    assert after(case, 9).withheld or after(case, 9).active


def test_each_row_that_needs_a_sensor_says_what_goes_unseen_without_it() -> None:
    for row in DETECTOR_ROWS:
        assert bool(row.sees) is (row.needs is not None)


def test_each_row_says_what_it_compares_and_its_limit() -> None:
    for row in INTERLOCKS:
        assert row.compares
        assert row.limit
        assert row.source
