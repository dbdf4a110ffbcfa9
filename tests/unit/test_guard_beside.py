"""The guard's decision in the controller's own process, as the bench has it."""

import math
from pathlib import Path

import pytest

from controller.guard.beside import GuardBeside
from controller.guard.decision import Cause
from controller.guard.words import WORDS, of_file
from controller.ports import Reading, missing


class Switch:
    """A switch that remembers."""

    def __init__(self) -> None:
        """Open, and never touched."""
        self.told: list[bool] = []

    def drive(
        self,
        *,
        on: bool,
        now_s: float,  # noqa: ARG002 - a bare switch
        cap_c: float = 0.0,  # noqa: ARG002 - a bare switch
        good: bool = True,  # noqa: ARG002 - a bare switch
        alone: int = 0,  # noqa: ARG002 - a bare switch
    ) -> None:
        """Remember."""
        self.told.append(on)


class Probe:
    """A thermometer that says what it is told to."""

    def __init__(self, bath_c: float = 40.0) -> None:
        """Begin at a temperature."""
        self.reading = Reading(bath_c)

    def read(self, now_s: float) -> Reading:  # noqa: ARG002 - the port's contract
        """The reading."""
        return self.reading


class Bench:
    """A guarded switch."""

    def __init__(self) -> None:
        """At 40 °C under a machine limit of 62 °C."""
        self.switch = Switch()
        self.probe = Probe()
        self.guard = GuardBeside(self.switch, self.probe, cap_c=62.0)
        self.now_s = 100.0

    def second(self, *, on: bool = True, cap_c: float = 58.0, good: bool = True) -> bool:
        """One tick; whether the switch was closed."""
        self.now_s += 1.0
        self.guard.drive(on=on, now_s=self.now_s, cap_c=cap_c, good=good)
        return self.switch.told[-1]

    @property
    def latched(self) -> str:
        """What the guard has latched."""
        return self.guard.read(self.now_s).latched


def test_heat_that_is_asked_for_below_the_cap_is_given() -> None:
    bench = Bench()
    assert bench.second()
    assert not bench.second(on=False)
    assert bench.latched == "none"


def test_without_a_cap_nothing_is_given() -> None:
    bench = Bench()
    bench.guard.drive(on=True, now_s=101.0)
    assert bench.switch.told == [False]


@pytest.mark.parametrize("cap_c", [39.9, 80.0])
def test_the_lower_of_the_phase_s_and_the_machine_s_limit_counts(cap_c: float) -> None:
    bench = Bench()
    bench.probe.reading = Reading(62.1 if cap_c > 62.0 else 40.0)
    assert not bench.second(cap_c=cap_c)


def test_a_tick_out_of_order_gets_no_heat() -> None:
    assert not Bench().second(good=False)


@pytest.mark.parametrize(
    "reading", [missing(), Reading(math.nan), Reading(40.0, age_s=5.1), Reading(59.0)]
)
def test_heat_ends_in_the_tick_in_which_the_guard_s_own_thermometer_says_no(
    reading: Reading,
) -> None:
    bench = Bench()
    assert bench.second()
    bench.probe.reading = reading
    assert not bench.second()


def test_a_latched_cause_is_said_with_what_to_do_and_ends_heat_for_good() -> None:
    bench = Bench()
    bench.second()
    bench.probe.reading = Reading(59.0)
    for _ in range(4):
        bench.second()
    bench.probe.reading = Reading(40.0)
    assert not bench.second()
    permit = bench.guard.read(bench.now_s)
    assert permit.latched == Cause.BATH_OVER_CAP
    assert (permit.what, permit.action) == WORDS[Cause.BATH_OVER_CAP]
    assert permit.bath_c == 40.0
    assert permit.age_s == 0.0


def test_after_a_farewell_a_long_silence_is_nobody_s_business() -> None:
    bench = Bench()
    bench.second()
    bench.guard.farewell(bench.now_s + 1.0)
    assert not bench.switch.told[-1]
    bench.now_s += 100.0
    bench.second(on=False)
    assert bench.latched == "none"


def test_a_farewell_by_a_trip_latches() -> None:
    bench = Bench()
    bench.second()
    bench.guard.farewell(bench.now_s + 1.0, "level-lost")
    assert bench.latched == "controller-tripped"
    assert not bench.second()


def test_trips_that_are_told_in_a_run_latch_at_once_and_each_counts_once() -> None:
    bench = Bench()
    bench.guard.latch(["tick-late"], bench.now_s)  # before its first second: of no run
    assert bench.latched == "none"
    bench.second()
    for _ in range(3):
        bench.second(on=False)
        bench.guard.latch(["tick-late", "relay-stuck-on"], bench.now_s)
        assert bench.latched == "controller-tripped"
    assert bench.guard.read(bench.now_s).what == "a run tripped (tick-late)"
    assert not bench.second()
    bench.guard.farewell(bench.now_s + 1.0, "tick-late")
    assert bench.guard.read(bench.now_s).what == "a run tripped (tick-late)"


def test_every_cause_has_a_sentence_and_what_to_do() -> None:
    for cause in Cause:
        what, action = WORDS[cause]
        assert what
        assert action or cause is Cause.NONE


def test_what_to_do_names_the_machine_file_that_is_meant() -> None:
    action = of_file(WORDS[Cause.LEASE_LAPSED][1], Path("kitchen.toml"))
    assert action.endswith("`bainward rearm --machine kitchen.toml`.")


class Eye:
    """A mains-live input that says what it is told to."""

    def __init__(self) -> None:
        """No voltage."""
        self.reading = Reading(0.0)

    def read(self, now_s: float) -> Reading:  # noqa: ARG002 - the port's contract
        """The reading."""
        return self.reading


def test_the_guard_s_word_says_whether_the_heater_is_live_where_that_is_seen() -> None:
    bench, eye = Bench(), Eye()
    assert bench.guard.read(100.0).live is None
    guard = GuardBeside(bench.switch, bench.probe, cap_c=62.0, mains_live=eye)
    assert guard.read(100.0).live is False
    eye.reading = Reading(1.0)
    assert guard.read(101.0).live is True
    eye.reading = missing()
    assert guard.read(102.0).live is None


def test_the_guard_s_word_says_whether_it_lets_heat_through() -> None:
    bench = Bench()
    assert not bench.guard.read(100.0).heat
    assert bench.second()
    assert bench.guard.read(bench.now_s).heat
    bench.probe.reading = missing()
    assert not bench.second()
    permit = bench.guard.read(bench.now_s)
    assert (permit.latched, permit.heat) == ("none", False)


def test_a_heater_that_stays_live_latches_the_guard_of_the_bench_too() -> None:
    bench, eye = Bench(), Eye()
    eye.reading = Reading(1.0)
    guard = GuardBeside(bench.switch, bench.probe, cap_c=62.0, mains_live=eye)
    for second in range(6):
        guard.drive(on=False, now_s=100.0 + second, cap_c=58.0)
    assert guard.read(106.0).latched == Cause.HEATER_LIVE_WHEN_OFF
