"""What detectors reached in an ordeal, beside what they are to reach."""

import math
from typing import Any

import pytest

from controller.trials.ordeal_targets import TARGETS, Since, Target, targets_text
from controller.trials.ordeal_watch import Found
from controller.wiring import BY_WORD

FROZEN = Target(what="frozen, hold", faults=("bath-probe-frozen",), legs=("hold",), most_s=481.0)


def found(fault: str = "bath-probe-frozen", **changes: Any) -> Found:  # noqa: ANN401 - any field
    """A fault in hold that was seen after 300 s."""
    facts: dict[str, Any] = {"size": math.nan, "phase": "hold", "after_s": 9.0, "leg": "hold"}
    return Found(fault=fault, **(facts | {"inhibited_s": 300.0, "trip_s": 310.0} | changes))


def test_every_target_is_of_faults_of_the_bench_and_sets_something() -> None:
    assert {word for target in TARGETS for word in target.faults} <= set(BY_WORD)
    assert all(
        any(not math.isnan(one) for one in (target.p50_s, target.p95_s, target.most_s))
        for target in TARGETS
    )


@pytest.mark.parametrize(
    ("changes", "time_s"),
    [
        ({}, 300.0),
        ({"inhibited_s": math.nan}, 310.0),
        ({"inhibited_s": math.nan, "trip_s": math.nan}, math.inf),
        ({"leg": "melt"}, None),
        ({"fault": "bath-probe-drift"}, None),
    ],
)
def test_heat_counts_as_off_from_what_comes_first(
    changes: dict[str, Any], time_s: float | None
) -> None:
    assert FROZEN.time_s(found(**changes), frozenset()) == time_s


def test_what_is_fitted_decides_what_is_a_case() -> None:
    needs = Target(what="", faults=("relay-welded",), fitted=("mains-live", "current"))
    bare = Target(what="", faults=("relay-welded",), bare_of=("mains-live", "current"))
    for fitted, is_case in ((frozenset({"current", "level"}), True), (frozenset({"level"}), False)):
        assert (needs.time_s(found("relay-welded"), fitted) is not None) is is_case
        assert (bare.time_s(found("relay-welded"), fitted) is None) is is_case


@pytest.mark.parametrize(
    ("since", "time_s"), [(Since.FAULT, 300.0), (Since.TICK, 239.0), (Since.UNLIKE, 3.0)]
)
def test_a_time_counts_from_where_it_could_first_be_seen(since: Since, time_s: float) -> None:
    target = Target(what="", faults=("clock-stall",), since=since)
    one = found("clock-stall", tick_s=61.0, unlike_s=297.0)
    assert target.time_s(one, frozenset()) == time_s
    never = found("clock-stall", tick_s=61.0, unlike_s=math.nan)
    assert (target.time_s(never, frozenset()) is None) is (since is Since.UNLIKE)


def test_each_target_is_told_with_what_is_over_it() -> None:
    slow = found(inhibited_s=math.nan, trip_s=482.0)
    text = targets_text([(found(), frozenset()), (slow, frozenset())])
    (line,) = [line for line in text.splitlines() if "frozen, hold" in line]
    assert " ".join(line.split()) == "bath probe frozen, hold 2 300 482 482 max 481 OVER"
    fine = targets_text([(found(), frozenset())])
    assert "OVER" not in fine
    late = targets_text([(found("clock-stall", tick_s=298.0), frozenset())])
    assert late.endswith(" 1     2     2     2   max 2, from the first tick after it\n")
    assert targets_text([(found("lid-off"), frozenset())]) == ""
