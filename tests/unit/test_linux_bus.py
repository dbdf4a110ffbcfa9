"""Buses: readings taken in a thread, their true age, and a bus that hangs.

Responsible for threads and ages; not for what a file means.
"""

import os
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path

import pytest

from controller.ports import Fault, Quality, Reading, missing
from hardware import bus
from hardware.bus import Bus, Pressable, Thermometer
from hardware.linux import hwmon

LONG_S = 60.0  # a time-out, never waited for in full


class Hand:
    """A clock that is moved by hand."""

    def __init__(self) -> None:
        """At 100 s."""
        self.now_s = 100.0

    def __call__(self) -> float:
        """Now."""
        return self.now_s


class Rounds:
    """A measurement that tells of itself and can be held up."""

    def __init__(self) -> None:
        """Not held up."""
        self.begun = threading.Semaphore(0)
        self.go = threading.Semaphore(0)
        self.threads: list[str] = []

    def __call__(self) -> Reading:
        """45 °C, once it may go on."""
        self.threads.append(threading.current_thread().name)
        self.begun.release()
        assert self.go.acquire(timeout=LONG_S)
        return Reading(45.0)


@pytest.fixture(autouse=True)
def _no_pause(monkeypatch: pytest.MonkeyPatch) -> None:
    """No test waits for the pause between rounds."""
    monkeypatch.setattr(bus, "PAUSE_S", 0.001)


def bus_threads() -> list[threading.Thread]:
    """The threads of buses that are alive."""
    return [one for one in threading.enumerate() if one.name.startswith("bus ")]


@contextmanager
def running(measure: Callable[[], Reading], clock: Hand) -> Iterator[Thermometer]:
    """A thermometer on a bus of its own; afterwards its thread must end by itself."""
    thermometer = Thermometer(measure, clock)
    one = Bus("test", [thermometer])
    one.start()
    try:
        yield thermometer
    finally:
        one.close()
        for thread in bus_threads():
            thread.join(LONG_S)
            assert not thread.is_alive()


def test_before_the_first_round_there_is_no_answer() -> None:
    assert Thermometer(lambda: Reading(45.0), Hand()).read(100.0).fault is Fault.NO_ANSWER


def test_a_reading_is_as_old_as_its_beginning() -> None:
    clock = Hand()

    def slow() -> Reading:
        clock.now_s += 0.75
        return Reading(45.0)

    thermometer = Thermometer(slow, clock)
    thermometer.take()
    assert thermometer.read(101.0) == Reading(45.0, age_s=1.0)
    assert thermometer.read(103.5) == Reading(45.0, age_s=3.5)


def test_a_fault_has_an_age_too() -> None:
    thermometer = Thermometer(lambda: missing(Fault.CHECKSUM), Hand())
    thermometer.take()
    reading = thermometer.read(107.0)
    assert (reading.fault, reading.age_s) == (Fault.CHECKSUM, 7.0)


def test_a_clock_that_steps_back_makes_no_negative_age() -> None:
    thermometer = Thermometer(lambda: Reading(45.0), Hand())
    thermometer.take()
    assert thermometer.read(40.0).age_s == 0.0


def test_measuring_happens_on_the_buss_own_thread_and_goes_on() -> None:
    rounds = Rounds()
    with running(rounds, Hand()):
        for _ in range(3):
            rounds.go.release()
            assert rounds.begun.acquire(timeout=LONG_S)
        rounds.go.release(2)
    assert set(rounds.threads) == {"bus test"}


def test_the_first_round_can_be_waited_for_and_no_longer_than_wished() -> None:
    rounds = Rounds()
    thermometer = Thermometer(rounds, Hand())
    one = Bus("test", [thermometer])
    one.start()
    assert rounds.begun.acquire(timeout=LONG_S)
    assert not one.wait(0.0)
    rounds.go.release(100)
    assert one.wait(LONG_S)
    one.close()
    assert thermometer.read(100.0) == Reading(45.0)


def test_a_bus_that_hangs_makes_readings_stale_and_holds_nobody_up() -> None:
    rounds, clock = Rounds(), Hand()
    with running(rounds, clock) as thermometer:
        rounds.go.release()
        assert rounds.begun.acquire(timeout=LONG_S)
        assert rounds.begun.acquire(timeout=LONG_S)  # the second round began and hangs
        assert thermometer.read(101.0).quality is Quality.GOOD
        assert thermometer.read(105.5) == Reading(45.0, age_s=5.5)
        assert thermometer.read(105.5).quality is Quality.UNCERTAIN
        rounds.go.release(100)


def test_closing_does_not_wait_for_a_bus_that_hangs() -> None:
    rounds = Rounds()
    with running(rounds, Hand()):
        assert rounds.begun.acquire(timeout=LONG_S)
        for thread in bus_threads():
            assert thread.daemon  # so that the process can end meanwhile
        one = bus_threads()[0]
        assert one.is_alive()
        rounds.go.release()
    assert not one.is_alive()


def test_after_closing_no_round_begins() -> None:
    taken: list[float] = []
    one = Bus("test", [Thermometer(lambda: Reading(float(len(taken))), Hand())])
    one.close()
    one.start()
    for thread in bus_threads():
        thread.join(LONG_S)
    assert not one.wait(0.0)


def test_a_fifo_that_nobody_writes_hangs_the_thread_and_nothing_else(tmp_path: Path) -> None:
    path = tmp_path / "temp1_input"
    os.mkfifo(path)
    with running(partial(hwmon.measure, path), Hand()) as thermometer:
        assert thermometer.read(130.0).fault is Fault.NO_ANSWER
        path_out = os.open(path, os.O_WRONLY)  # waits until the thread has opened its end
        assert thermometer.read(130.0).fault is Fault.NO_ANSWER
        path.rename(tmp_path / "away")  # the next round finds no file
        os.write(path_out, b"45000\n")
        os.close(path_out)


def test_all_thermometers_of_a_bus_are_measured_in_turn() -> None:
    first, second = (Thermometer(partial(Reading, value), Hand()) for value in (45.0, 31.5))
    Bus("test", [first, second]).take()
    assert [one.read(100.0).value for one in (first, second)] == [45.0, 31.5]


def test_a_press_between_two_looks_is_kept_until_it_has_been_looked_at() -> None:
    readings = [Reading(1.0), Reading(0.0), Reading(1.0), missing()]
    hand = Hand()
    button = Pressable(lambda: readings.pop(0), hand)
    button.take()
    assert button.read(100.0) == Reading(1.0)
    button.take()
    button.take()
    assert button.read(101.0).value == 0.0
    assert button.read(102.0).value == 1.0
    button.take()
    assert button.read(103.0).fault is Fault.NO_ANSWER
