"""The clocks: virtual time moves only by waiting, a wake ends a wait."""

import signal
import threading
from datetime import UTC

import pytest

from controller.clock import Bell, Clock, RealClock, VirtualClock, process_s, wall_time

LONG_S = 3600.0
SOON_S = 20.0  # how long a thread that should end at once may take on a busy machine


def test_virtual_time_stands_still_until_it_is_waited_for() -> None:
    clock = VirtualClock()
    assert (clock.now_s(), clock.now_s()) == (0.0, 0.0)
    clock.wait_until(LONG_S)
    assert clock.now_s() == LONG_S


def test_virtual_time_never_runs_back() -> None:
    clock = VirtualClock()
    clock.wait_until(10.0)
    clock.wait_until(3.0)
    assert clock.now_s() == 10.0


def waited(monkeypatch: pytest.MonkeyPatch, clock: VirtualClock, *whens_s: float) -> list[float]:
    """How long, in real seconds, a paced clock means to pause; real time stands still."""
    pauses: list[float] = []

    def pause(_self: Bell, seconds: float) -> None:
        pauses.append(seconds)

    monkeypatch.setattr("controller.clock.Bell.wait", pause)
    for when_s in whens_s:
        clock.wait_until(when_s)
    return pauses


def test_paced_virtual_time_pauses_by_its_speed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("controller.clock.time.monotonic", lambda: 500.0)
    clock = VirtualClock(speed=60.0)
    assert waited(monkeypatch, clock, 60.0, 120.0, 120.0) == pytest.approx([1.0, 2.0, 2.0])
    assert clock.now_s() == 120.0


def test_a_paced_clock_that_fell_behind_does_not_race_to_catch_up(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    real = [500.0]
    monkeypatch.setattr("controller.clock.time.monotonic", lambda: real[0])
    clock = VirtualClock(speed=60.0)
    assert waited(monkeypatch, clock, 60.0) == pytest.approx([1.0])
    real[0] = 530.0
    assert waited(monkeypatch, clock, 120.0, 180.0) == pytest.approx([0.0, 1.0])


def test_unpaced_virtual_time_never_pauses(monkeypatch: pytest.MonkeyPatch) -> None:
    clock = VirtualClock()
    assert waited(monkeypatch, clock, LONG_S) == []
    clock.wake()
    assert clock.now_s() == LONG_S


@pytest.mark.parametrize("make", [RealClock, lambda: VirtualClock(speed=1.0)])
def test_a_wake_ends_the_wait_of_another_thread(make: "type[RealClock]") -> None:
    clock: Clock = make()
    began = threading.Event()

    def wait() -> None:
        began.set()
        clock.wait_until(clock.now_s() + LONG_S)

    thread = threading.Thread(target=wait, daemon=True)
    thread.start()
    assert began.wait(SOON_S)
    clock.wake()
    thread.join(SOON_S)
    assert not thread.is_alive()


def test_a_wake_that_came_early_ends_the_next_wait_only(monkeypatch: pytest.MonkeyPatch) -> None:
    clock = RealClock()
    clock.wake()
    clock.wait_until(clock.now_s() + LONG_S)  # returns at once, or this test never ends
    seen: list[float] = []

    def pause(_self: Bell, seconds: float) -> None:
        seen.append(seconds)

    monkeypatch.setattr("controller.clock.Bell.wait", pause)
    clock.wait_until(clock.now_s() + LONG_S)
    assert seen == [pytest.approx(LONG_S, abs=60.0)]


def test_a_moment_that_is_past_is_not_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    clock = RealClock()
    monkeypatch.setattr("controller.clock.Bell.wait", None)
    clock.wait_until(clock.now_s() - 1.0)


def test_real_time_is_monotonic() -> None:
    clock = RealClock()
    assert clock.now_s() <= clock.now_s()
    assert process_s() <= process_s()


def test_wall_time_is_utc() -> None:
    assert wall_time().tzinfo is UTC


@pytest.mark.parametrize("moment", ["wait", "hush"])
def test_a_signal_at_any_moment_of_a_wait_never_deadlocks(moment: str) -> None:
    """Signals every 0.2 ms, each of which wakes the clock from its handler."""
    clock = RealClock()
    rung = 0

    def handler(_number: int, _frame: object) -> None:
        nonlocal rung
        rung += 1
        clock.wake()

    before = signal.signal(signal.SIGALRM, handler)
    signal.setitimer(signal.ITIMER_REAL, 0.0002, 0.0002)
    try:
        while rung < 300:
            ahead_s = 0.01 if moment == "wait" else -1.0
            clock.wait_until(clock.now_s() + ahead_s)
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0.0)
        signal.signal(signal.SIGALRM, before)
    assert rung >= 300
