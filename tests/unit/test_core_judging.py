"""What a tick's evidence comes to: how long a row was unsafe, what is withheld and what trips."""

import pytest

from controller.core.evidence import Evidence
from controller.core.interlocks import Cause
from controller.core.signals import Reading
from tests.helpers.judged import BARE, FULL, look
from tests.helpers.scene import evidence, probe


def test_time_unsafe_begins_again_once_it_was_safe() -> None:
    over = evidence(bath=probe(56.0))
    first = look(over)
    second = look(over, first.unsafe_s)
    back = look(evidence(), second.unsafe_s)
    again = look(over, back.unsafe_s)
    assert (first.new_trips, second.new_trips, again.new_trips) == ((), (), ())
    third = look(over, second.unsafe_s)
    assert [trip.cause for trip in third.new_trips] == [Cause.BATH_OVER_LIMIT]


def test_a_long_tick_counts_as_long_as_it_was() -> None:
    over = evidence(bath=probe(56.0))
    assert look(over, look(over).unsafe_s, dt_s=2.0).new_trips


def test_a_cause_already_latched_is_not_latched_again_but_still_withholds() -> None:
    seen = look(evidence(stuck_hits=3), latched=frozenset({str(Cause.RELAY_STUCK_ON)}))
    assert seen.new_trips == ()
    assert seen.withheld == (Cause.RELAY_STUCK_ON,)


def test_several_causes_in_one_tick_are_all_latched_in_the_order_of_the_table() -> None:
    seen = look(evidence(stuck_hits=3, held_back_s=60.0, late_ticks=3))
    assert [trip.cause for trip in seen.new_trips] == [
        Cause.RELAY_STUCK_ON,
        Cause.HEAT_WITHOUT_EFFECT,
        Cause.TICK_LATE,
    ]
    assert {trip.at_s for trip in seen.new_trips} == {123.0}


def test_two_rows_of_one_cause_withhold_once_and_latch_once() -> None:
    seen = look(evidence(late_s=9.0, late_ticks=3))
    assert seen.withheld == (Cause.TICK_LATE,)
    assert [trip.cause for trip in seen.new_trips] == [Cause.TICK_LATE]


@pytest.mark.parametrize(
    ("case", "cause"),
    [
        (evidence(level=None), Cause.LEVEL_LOST),
        (evidence(level=Reading(0.0)), Cause.LEVEL_LOST),
        (evidence(shaft=None), Cause.STIRRER_STOPPED),
        (evidence(shaft=Reading(0.0)), Cause.STIRRER_STOPPED),
    ],
)
def test_a_row_for_what_is_not_fitted_is_silent(case: Evidence, cause: Cause) -> None:
    assert look(case, on=BARE).withheld == ()
    assert look(case, on=FULL).withheld == (cause,)
