"""Tables of interlocks that look at one record alone: no second look at one found safe."""

from types import SimpleNamespace

import pytest

from controller.core.consistency import Consistency
from controller.core.detector_rows import DETECTOR_ROWS
from controller.core.evidence import Evidence
from controller.core.heater_rows import HEATER_ROWS
from controller.core.heater_sight import HeaterSight
from controller.core.interlock_rows import Interlock
from controller.core.interlocks import Judgement, Sound, judge
from controller.core.self_rows import WARNINGS
from controller.core.vitals import Vitals
from tests.helpers.records import replace
from tests.helpers.scene import evidence, machine, profile

ON = machine()
FELL = Consistency(fell_k=1.0)
WELL = Vitals(
    age_s=1.0,
    memory_grown_mb=1.0,
    memory_left_mb=900.0,
    threads=4,
    ended=(),
    disk_left_mb=900.0,
    record_fault="",
    clock_jump_s=0.0,
    late_s=0.0,
)


def look(given: Evidence, sound: Sound = ()) -> Judgement:
    return judge(
        (),
        given,
        machine=ON,
        profile=profile(),
        latched=frozenset(),
        now_s=1000.0,
        dt_s=1.0,
        sound=sound,
    )


@pytest.mark.parametrize(
    ("name", "record", "rows"),
    [
        ("heater", HeaterSight(), HEATER_ROWS),
        ("seen", Consistency(), DETECTOR_ROWS),
        ("vitals", WELL, WARNINGS),
        ("vitals", None, WARNINGS),
    ],
)
def test_their_rules_look_at_that_record_and_at_nothing_else(
    name: str, record: object, rows: tuple[Interlock, ...]
) -> None:
    alone = SimpleNamespace(**{name: record})
    assert all(row.safe(alone) for row in rows)  # type: ignore[arg-type] # no more than its record


def test_a_record_found_unsafe_withholds_heat_for_as_long_as_it_is_there() -> None:
    fell = replace(evidence(), seen=FELL)
    sound: Sound = ()
    for _ in range(3):
        seen = look(fell, sound)
        assert seen.withheld == ("bowl-fell-alone",)
        sound = seen.sound


def test_an_unsafe_record_is_seen_after_a_safe_one_and_a_safe_one_after_it() -> None:
    calm = evidence()
    sound = look(calm).sound
    assert look(calm, sound).withheld == ()
    fell = look(replace(calm, seen=FELL), sound)
    assert fell.withheld == ("bowl-fell-alone",)
    assert look(calm, fell.sound).withheld == ()


def test_an_unsafe_record_beside_safe_ones_is_found() -> None:
    calm = evidence()
    both = replace(calm, seen=FELL, vitals=replace(WELL, ended=("journal",)))
    found = look(both, look(calm).sound)
    assert found.withheld == ("bowl-fell-alone",)
    assert look(both, found.sound).unsafe_s == found.unsafe_s
