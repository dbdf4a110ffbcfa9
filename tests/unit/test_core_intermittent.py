"""A loose contact: what is unsafe now and then adds up, what was unsafe once is forgotten."""

from controller.core.evidence import Evidence
from controller.core.interlocks import INTERLOCKS, Cause, Judgement, judge
from controller.core.signals import Reading
from tests.helpers.scene import evidence, machine, profile

ON = machine(has_level=True)


def look(given: Evidence, before: tuple[float, ...] = ()) -> Judgement:
    return judge(
        before,
        given,
        machine=ON,
        profile=profile(),
        latched=frozenset(),
        now_s=123.0,
        dt_s=1.0,
    )


def test_unsafe_seconds_add_up_over_short_safe_moments_and_are_forgiven_slowly() -> None:
    dry = evidence(level=Reading(0.0))
    seen = look(dry)
    seen = look(dry, seen.unsafe_s)  # 1 s
    seen = look(evidence(), seen.unsafe_s)  # a moment of water: 0.8 s
    seen = look(dry, seen.unsafe_s)  # 1.8 s
    assert seen.new_trips == ()
    seen = look(dry, seen.unsafe_s)
    assert [trip.cause for trip in seen.new_trips] == [Cause.LEVEL_LOST]


def test_a_lone_bad_second_is_forgotten() -> None:
    seen = look(evidence(level=Reading(0.0)))
    seen = look(evidence(level=Reading(0.0)), seen.unsafe_s)
    for _ in range(6):
        seen = look(evidence(), seen.unsafe_s)
    assert seen.unsafe_s == (0.0,) * len(INTERLOCKS)
