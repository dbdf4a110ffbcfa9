"""The table of the self-watch: each row sound at its edge and unsound beyond it, and what follows.

Limits are own engineering values.
"""

import math
from typing import Any

import pytest

from controller.core.interlock_rows import Cause, Effect
from controller.core.interlocks import INTERLOCKS, judge
from controller.core.self_rows import SELF_ROWS, WARNINGS, refusals
from controller.core.vitals import Vitals
from controller.core.words import headline
from tests.helpers.records import replace
from tests.helpers.scene import STILL, evidence, heating, machine, profile

SOUND = Vitals(
    age_s=3.0,
    memory_grown_mb=2.0,
    memory_left_mb=900.0,
    threads=5,
    ended=(),
    disk_left_mb=9000.0,
    record_fault="",
    clock_jump_s=0.01,
    late_s=0.001,
)

# what keeps a run from starting, and the edge at which it still starts
STARTS: tuple[tuple[Cause, str, float, float], ...] = (
    (Cause.MEMORY_SHORT, "memory_left_mb", 63.9, 64.0),
    (Cause.COMPUTER_BUSY, "late_s", 0.51, 0.5),
    (Cause.DISK_FULL, "disk_left_mb", 49.9, 50.0),
)
# what a run warns of, and the edge at which it says nothing
RUNS: tuple[tuple[Cause, str, Any, Any], ...] = (
    (Cause.MEMORY_SHORT, "memory_left_mb", 15.9, 16.0),
    (Cause.MEMORY_GROWING, "memory_grown_mb", 64.1, 64.0),
    (Cause.PART_ENDED, "ended", ("link",), ()),
    (Cause.PARTS_PILING_UP, "threads", 33, 32),
    (Cause.DISK_FULL, "disk_left_mb", 4.9, 5.0),
    (Cause.RECORD_BROKEN_OFF, "record_fault", "No space left on device", ""),
    (Cause.CLOCK_JUMPED, "clock_jump_s", 2.1, 2.0),
    (Cause.CLOCK_JUMPED, "clock_jump_s", -2.1, -2.0),
    (Cause.SELF_WATCH_SILENT, "age_s", 60.1, 60.0),
)
NUMBERS = [(cause, name) for cause, name, beyond, _ in RUNS if isinstance(beyond, float)]


def with_(name: str, value: Any) -> Vitals:  # noqa: ANN401 - a number, text or names
    return replace(SOUND, **{name: value})


def warned(vitals: Vitals | None) -> list[str]:
    """The causes of which somebody is told after six seconds of this."""
    unsafe_s: tuple[float, ...] = ()
    for second in range(7):
        seen = judge(
            unsafe_s,
            evidence(vitals=vitals),
            machine=machine(),
            profile=profile(),
            latched=frozenset(),
            now_s=100.0 + second,
            dt_s=1.0,
        )
        unsafe_s = seen.unsafe_s
        assert seen.withheld == ()  # nothing of it ever costs heat
        assert seen.new_trips == ()
    return list(seen.active)


def test_these_tables_name_every_row() -> None:
    named = {cause for cause, *_ in STARTS} | {cause for cause, *_ in RUNS}
    assert named == {row.cause for row in SELF_ROWS}
    assert {row.cause for row in WARNINGS} == {cause for cause, *_ in RUNS}
    assert {row.cause for row in SELF_ROWS if row.to_start} == {cause for cause, *_ in STARTS}
    assert set(WARNINGS) <= set(INTERLOCKS)


def test_a_sound_computer_starts_a_run_and_warns_of_nothing() -> None:
    assert refusals(SOUND) == ()
    assert warned(SOUND) == []


@pytest.mark.parametrize(("cause", "name", "beyond", "edge"), STARTS)
def test_what_a_run_can_not_do_without_keeps_it_from_starting(
    cause: Cause, name: str, beyond: float, edge: float
) -> None:
    assert [row.cause for row in refusals(with_(name, beyond))] == [cause]
    assert [row.cause for row in refusals(with_(name, math.nan))] == [cause]
    assert refusals(with_(name, edge)) == ()


@pytest.mark.parametrize(("cause", "name", "beyond", "edge"), RUNS)
def test_a_run_warns_and_goes_on(cause: Cause, name: str, beyond: object, edge: object) -> None:
    assert warned(with_(name, beyond)) == [cause]
    assert warned(with_(name, edge)) == []


@pytest.mark.parametrize(("cause", "name"), NUMBERS)
def test_a_number_that_can_not_be_told_is_warned_of(cause: Cause, name: str) -> None:
    assert warned(with_(name, math.nan)) == [cause]


def test_where_nobody_looks_nothing_is_said() -> None:
    assert warned(None) == []
    assert all(row.effect is Effect.ADVICE for row in WARNINGS)
    assert all(row.what(evidence()) == "" for row in WARNINGS)


def test_the_screen_says_what_the_self_watch_saw_and_heat_stays_on() -> None:
    rig = heating()
    for _ in range(7):
        rig.step(vitals=with_("disk_left_mb", 3.0))
    assert rig.heater_on
    assert "The disk of the record has 3 MB left." in headline(rig.state, STILL)
    assert "Heat is held back" not in headline(rig.state, STILL)
