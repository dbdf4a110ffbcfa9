"""All that is latched stays known: beside the first cause, and over a restart of the guard."""

import pytest

from controller.guard.decision import Cause, begin, causes_of


@pytest.mark.parametrize(
    ("latched", "causes", "known"),
    [
        (Cause.NONE, (), ()),
        (Cause.LEASE_LAPSED, (), ("lease-lapsed",)),
        (Cause.CONTROLLER_TRIPPED, ("bath-over-limit",), ("bath-over-limit",)),
        (
            Cause.LEASE_LAPSED,
            ("lease-lapsed", "bath-over-cap"),
            ("lease-lapsed", "bath-over-cap"),
        ),
    ],
)
def test_a_guard_begins_with_all_that_was_remembered_or_with_what_is_latched(
    latched: Cause, causes: tuple[str, ...], known: tuple[str, ...]
) -> None:
    assert begin(7, latched, causes).causes == known


@pytest.mark.parametrize(
    ("latched", "tripped", "also", "all_of_it"),
    [
        (Cause.NONE, "bath-over-limit", ("bath-over-cap",), ()),
        (Cause.LEASE_LAPSED, "", (), ("lease-lapsed",)),
        (Cause.LEASE_LAPSED, "bath-over-limit", (), ("lease-lapsed",)),
        (Cause.CONTROLLER_TRIPPED, "", (), ("controller-tripped",)),
        (Cause.CONTROLLER_TRIPPED, "bath-over-limit", (), ("bath-over-limit",)),
        (
            Cause.CONTROLLER_TRIPPED,
            "bath-over-limit",
            ("level-lost", "bath-over-cap"),
            ("bath-over-limit", "level-lost", "bath-over-cap"),
        ),
    ],
)
def test_a_trip_of_the_controller_is_known_by_its_own_word_and_by_that_alone(
    latched: Cause, tripped: str, also: tuple[str, ...], all_of_it: tuple[str, ...]
) -> None:
    assert causes_of(latched, tripped, also) == all_of_it
