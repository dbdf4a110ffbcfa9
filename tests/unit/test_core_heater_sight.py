"""What is seen of the heater itself: each sensor held against what the heater was told.

Times are of our own thresholds (core/thresholds), not published.
"""

import math
from typing import Any

import pytest

from controller.core import thresholds as th
from controller.core.evidence import Evidence
from controller.core.heater_rows import HEATER_ROWS
from controller.core.heater_sight import UNSEEN, HeaterSight, watched
from controller.core.interlock_rows import Cause, Need
from controller.core.machine import Machine
from controller.core.signals import Fault, Permit, Reading, missing
from controller.core.state import RelayMemory
from tests.helpers.records import replace
from tests.helpers.scene import Rig, evidence, heating, machine, readings

SEEING = machine(has_mains=True, has_current=True)
OWN_A = SEEING.heater_a  # what 500 W draw at 230 V
LIVE = Permit(latched="none", age_s=0.0, bath_c=40.0, live=True)
DEAD = replace(LIVE, live=False)


def looks(
    count: int,
    *,
    on: bool,
    live: bool | None = None,
    current: Reading | None = None,
    before: HeaterSight = UNSEEN,
    of: Machine = SEEING,
    told_s: float = 60.0,
    dt_s: float = 1.0,
) -> HeaterSight:
    """So many looks of the same kind."""
    shown = readings(permit=replace(LIVE, live=live), current=current)
    told = RelayMemory(on=on, held_s=told_s - dt_s)
    for _ in range(count):
        before = watched(before, of, shown, dt_s, told=told)
    return before


def test_what_is_as_told_leaves_nothing_behind() -> None:
    assert looks(60, on=True, live=True, current=Reading(OWN_A)) == UNSEEN
    assert looks(60, on=False, live=False, current=Reading(0.0)) == UNSEEN


def test_voltage_and_current_are_counted_against_what_was_told() -> None:
    assert looks(3, on=False, live=True, current=Reading(0.0)).live_s == 3.0
    assert looks(3, on=True, live=False, current=Reading(OWN_A)).dead_s == 3.0
    assert looks(3, on=False, live=False, current=Reading(OWN_A)).flowing_s == 3.0
    assert looks(3, on=True, live=True, current=Reading(0.0)).still_s == 3.0
    assert looks(3, on=True, live=True, current=Reading(0.5 * OWN_A)).unlike_s == 3.0


@pytest.mark.parametrize("on", [True, False])
def test_a_voltage_seen_before_the_heater_was_told_otherwise_is_not_held_against_it(
    *, on: bool
) -> None:
    told = RelayMemory(on=on, held_s=1.0)  # for 2 s with this tick's
    for age_s, against_s in ((2.0, 0.0), (1.9, 1.0)):
        shown = readings(permit=replace(LIVE, live=not on, age_s=age_s))
        sight = watched(UNSEEN, machine(has_mains=True), shown, 1.0, told=told)
        assert sight == HeaterSight(dead_s=against_s * on, live_s=against_s * (not on))


def test_a_dead_heater_is_counted_over_short_pulses_that_are_far_apart() -> None:
    pulse = looks(1, on=True, live=False, current=Reading(0.0))
    between = looks(300, on=False, live=False, current=Reading(0.0), before=pulse)
    again = looks(1, on=True, live=False, current=Reading(0.0), before=between)
    assert (again.dead_s, again.still_s) == (2.0, 2.0)


def test_one_look_that_shows_it_as_told_ends_the_count() -> None:
    dead = looks(1, on=True, live=False, current=Reading(0.0))
    assert looks(1, on=True, live=True, current=Reading(OWN_A), before=dead).dead_s == 0.0
    live = looks(1, on=False, live=True, current=Reading(OWN_A))
    after = looks(1, on=False, live=False, current=Reading(0.0), before=live)
    assert (after.live_s, after.flowing_s) == (0.0, 0.0)


def test_the_last_word_of_a_guard_that_has_fallen_silent_is_none_of_the_heater() -> None:
    for age_s in (th.GUARD_SILENT_S + 0.1, math.inf):
        silent = readings(permit=replace(LIVE, age_s=age_s), current=Reading(0.0))
        seen = watched(UNSEEN, SEEING, silent, 1.0, told=RelayMemory(on=False, held_s=59.0))
        assert (seen.live_s, seen.blind_s) == (0.0, 1.0)
    speaks = readings(permit=replace(LIVE, age_s=th.GUARD_SILENT_S), current=Reading(0.0))
    seen = watched(UNSEEN, SEEING, speaks, 1.0, told=RelayMemory(on=False, held_s=59.0))
    assert (seen.live_s, seen.blind_s) == (1.0, 0.0)


def test_heat_that_the_guard_withholds_shows_no_dead_heater() -> None:
    withheld = readings(permit=replace(DEAD, heat=False), current=Reading(0.0))
    before = looks(1, on=True, live=False, current=Reading(0.0))
    seen = watched(before, SEEING, withheld, 1.0, told=RelayMemory(on=True, held_s=59.0))
    assert (seen.dead_s, seen.still_s) == (before.dead_s, before.still_s) == (1.0, 1.0)


def test_heat_that_nobody_asked_for_is_seen_whatever_the_guard_says() -> None:
    withheld = readings(permit=replace(LIVE, heat=False), current=Reading(OWN_A))
    seen = watched(UNSEEN, SEEING, withheld, 1.0, told=RelayMemory(on=False, held_s=59.0))
    assert (seen.live_s, seen.flowing_s) == (1.0, 1.0)


def test_a_current_from_before_the_switch_says_nothing() -> None:
    old = Reading(0.0, age_s=1.5)
    assert looks(9, on=True, live=True, current=old, told_s=1.0).still_s == 0.0
    assert looks(9, on=True, live=True, current=old, told_s=2.0).still_s == 9.0


def test_a_late_look_proves_no_more_than_one() -> None:
    assert looks(1, on=False, live=True, current=Reading(0.0), dt_s=9.0).live_s == 1.0


@pytest.mark.parametrize(
    ("live", "current"),
    [
        (None, Reading(0.0)),
        (False, missing(Fault.NO_ANSWER)),
        (False, Reading(math.nan)),
        (False, Reading(0.0, age_s=9.0)),
        (False, None),
    ],
)
def test_a_sensor_that_gives_nothing_is_blind_and_accuses_nobody(
    live: bool | None, current: Reading | None
) -> None:
    found = looks(11, on=False, live=live, current=current)
    assert found == HeaterSight(blind_s=11.0)
    assert looks(1, on=False, live=False, current=Reading(0.0), before=found).blind_s == 0.0


def test_what_is_not_fitted_is_not_looked_at() -> None:
    bare = machine()
    assert looks(9, on=False, live=True, current=Reading(OWN_A), of=bare) == UNSEEN
    mains = machine(has_mains=True)
    assert looks(9, on=True, live=True, current=Reading(0.0), of=mains) == UNSEEN
    current = machine(has_current=True)
    assert looks(9, on=False, live=True, current=Reading(0.0), of=current) == UNSEEN


def seen(**found: Any) -> Evidence:  # noqa: ANN401 - any field
    """Evidence in which the heater was seen so."""
    return evidence(heater=HeaterSight(**found))


# cause, what it needs, evidence that must fail the row, evidence at the very edge of safe
ROWS = (
    (Cause.HEATER_LIVE_WHEN_OFF, Need.MAINS, "live_s", 2.0, 1.99),
    (Cause.HEATER_DEAD_WHEN_ON, Need.MAINS, "dead_s", 2.0, 1.99),
    (Cause.HEATER_LIVE_WHEN_OFF, Need.CURRENT, "flowing_s", 2.0, 1.99),
    (Cause.HEATER_DEAD_WHEN_ON, Need.CURRENT, "still_s", 2.0, 1.99),
    (Cause.HEATER_POWER_WRONG, Need.CURRENT, "unlike_s", 2.0, 1.99),
    (Cause.HEATER_UNSEEN, None, "blind_s", 10.01, 10.0),
)


def test_this_table_names_every_row_of_the_heater() -> None:
    assert [(row.cause, row.needs) for row in HEATER_ROWS] == [row[:2] for row in ROWS]


@pytest.mark.parametrize(("index", "row"), list(enumerate(ROWS)), ids=str)
def test_each_row_fails_at_its_limit_and_for_no_number(index: int, row: tuple[Any, ...]) -> None:
    _, _, field, unsafe_s, safe_s = row
    safe = HEATER_ROWS[index].safe
    assert safe(seen(**{field: safe_s}))
    assert not safe(seen(**{field: unsafe_s}))
    assert not safe(seen(**{field: math.nan}))


@pytest.mark.parametrize(
    ("share", "is_like"), [(0.64, False), (0.66, True), (1.44, True), (1.46, False)]
)
def test_another_element_is_told_by_its_current(share: float, *, is_like: bool) -> None:
    found = looks(2, on=True, live=True, current=Reading(share * OWN_A))
    assert (found.unlike_s == 0.0) is is_like


def test_a_trickle_is_the_sensor_s_own_error() -> None:
    assert looks(9, on=False, live=False, current=Reading(0.09 * OWN_A)).flowing_s == 0.0
    assert looks(1, on=False, live=False, current=Reading(0.11 * OWN_A)).flowing_s == 1.0


# In the tick


def hot(**changes: Any) -> Rig:  # noqa: ANN401 - any field of the rig
    """A rig in full heat that sees its heater, which does as it is told."""
    return heating(machine=SEEING, **changes)


def as_told(rig: Rig) -> dict[str, Any]:
    """Readings of a heater that does as it is told."""
    on = rig.state.relay.on
    return {"permit": replace(LIVE, live=on), "current": Reading(OWN_A * on)}


def test_a_heater_that_does_as_told_trips_nothing() -> None:
    rig = hot()
    for _ in range(60):
        rig.step(**as_told(rig))
    assert rig.heater_on
    assert rig.causes == []


@pytest.mark.parametrize(
    ("changes", "cause"),
    [
        ({"permit": DEAD}, Cause.HEATER_DEAD_WHEN_ON),
        ({"current": Reading(0.0)}, Cause.HEATER_DEAD_WHEN_ON),
        ({"current": Reading(0.5 * OWN_A)}, Cause.HEATER_POWER_WRONG),
    ],
)
def test_heat_ends_at_the_second_look_that_shows_it_otherwise(
    changes: dict[str, Any], cause: Cause
) -> None:
    rig = hot()
    rig.step(**as_told(rig))
    rig.step(**as_told(rig) | changes)
    assert rig.heater_on
    rig.step(**as_told(rig) | changes)
    assert rig.heater_off
    assert rig.causes == [cause]


@pytest.mark.parametrize("changes", [{"permit": LIVE}, {"current": Reading(OWN_A)}])
def test_a_heater_that_is_live_by_itself_trips_whatever_the_bath_does(
    changes: dict[str, Any],
) -> None:
    rig = Rig(machine=SEEING, is_live=False)
    for _ in range(2):
        rig.step(**as_told(rig) | changes)
    assert rig.causes == [Cause.HEATER_LIVE_WHEN_OFF]
