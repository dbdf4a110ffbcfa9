"""The loop: order, pace, halting and a safe end whatever fails."""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import pytest
import structlog
from structlog.testing import capture_logs

from controller.core.machine import Machine
from controller.core.profile import Profile, Question, StopStirrer
from controller.core.recovery import Beginning
from controller.core.signals import Commands, Reading, Readings, Request, Verb
from controller.core.state import Event, EventName, Mode, State
from controller.core.tick import tick
from controller.daemon import Crew, Daemon, next_due
from controller.errors import CrashError, Exit
from controller.ports import Cooler, Devices, Indicator, Moment, Permission, Sensor
from tests.helpers.records import replace
from tests.helpers.scene import asks, machine, phase, profile, question

LONG = profile(phase(dwell_s=9e9))
SHORT = profile(phase(settle_s=0.0, dwell_s=2.0))


@dataclass(kw_only=True)
class Fakes:
    """Devices, panel, teller and clock in one, which write down what was done in which order."""

    bath_c: float = 38.0
    bowl_c: float = 38.0
    ticks_max: int = 400  # a loop that does not end is a failure of its own
    now_s: float = 1000.0
    delays_s: dict[int, float] = field(default_factory=dict)  # by how much a tick wakes late
    asked: dict[int, tuple[Request, ...]] = field(default_factory=dict)
    fails: dict[str, int] = field(default_factory=dict)  # what fails from which tick on
    on_tick: Callable[[int], None] = lambda _: None
    ticks: int = 0
    wakes: int = 0
    done: list[str] = field(default_factory=list)
    moments: list[Moment] = field(default_factory=list)
    asks_seen: list[Question | None] = field(default_factory=list)
    heater: bool | None = None
    good: list[bool] = field(default_factory=list)  # of each drive in a tick
    rpm: float | None = None

    def did(self, what: str) -> None:
        """Write it down, then fail if that is due."""
        self.done.append(what)
        name = what.split(" ", maxsplit=1)[0]
        if self.ticks >= self.fails.get(name, self.ticks + 1):
            raise OSError(f"{name} is broken")

    def wait_until(self, when_s: float) -> None:
        """Be the clock: jump to the moment, late if the script says so."""
        self.ticks += 1
        assert self.ticks <= self.ticks_max, "the loop does not end"
        self.now_s = max(self.now_s, when_s) + self.delays_s.get(self.ticks, 0.0)
        self.on_tick(self.ticks)

    def wake(self) -> None:
        """Be the clock: count."""
        self.wakes += 1

    def take(self, now_s: float, ask: Question | None) -> tuple[Request, ...]:
        """Be the panel: what the script asks at this tick."""
        assert now_s == self.now_s
        self.asks_seen.append(ask)
        self.did("take")
        return self.asked.get(self.ticks, ())

    def tell(self, moment: Moment) -> None:
        """Be the teller: keep it."""
        self.moments.append(moment)
        self.did("tell")

    @property
    def last(self) -> Moment:
        """The last moment told."""
        return self.moments[-1]


@dataclass(kw_only=True)
class OwnClock:
    """The fakes' clock behind the names of the contract."""

    fakes: Fakes

    def now_s(self) -> float:
        """Seconds of the script."""
        return self.fakes.now_s

    def other_s(self) -> float:
        """The same: no second clock in the script."""
        return self.fakes.now_s

    def wait_until(self, when_s: float) -> None:
        """The next tick begins."""
        self.fakes.wait_until(when_s)

    def wake(self) -> None:
        """Counted."""
        self.fakes.wake()


@dataclass(kw_only=True)
class Probe:
    """One sensor that flickers as a live one does."""

    fakes: Fakes
    name: str
    value: Callable[[], float]

    def read(self, now_s: float) -> Reading:
        """The value, written down."""
        assert now_s == self.fakes.now_s
        self.fakes.did(self.name)
        return Reading(self.value() + 0.0625 * (self.fakes.ticks % 2))


@dataclass(kw_only=True)
class Switch:
    """The heater."""

    fakes: Fakes

    def drive(
        self,
        *,
        on: bool,
        now_s: float,
        cap_c: float = 0.0,  # noqa: ARG002 - a bare switch
        good: bool = True,
        alone: int = 0,  # noqa: ARG002 - a bare switch
    ) -> None:
        """Written down."""
        assert now_s == self.fakes.now_s
        self.fakes.did(f"heater {'on' if on else 'off'}")
        self.fakes.heater = on
        self.fakes.good.append(good)


@dataclass(kw_only=True)
class Motor:
    """The stirrer."""

    fakes: Fakes

    def drive(self, *, rpm: float, now_s: float) -> None:
        """Written down."""
        assert now_s == self.fakes.now_s
        self.fakes.did(f"stirrer {rpm:.0f}")
        self.fakes.rpm = rpm


def daemon(  # noqa: PLR0917 - each a part of one machine
    fakes: Fakes,
    of: Profile = LONG,
    feed: Callable[[], object] = lambda: None,
    cooler: Cooler | None = None,
    buzzer: Indicator | None = None,
    lamp: Indicator | None = None,
    permit: Permission | None = None,
    **sensors: Sensor,
) -> Daemon:
    return Daemon(
        profile=of,
        machine=machine(has_shaft="shaft" in sensors, has_level="level" in sensors),
        devices=Devices(
            bath=Probe(fakes=fakes, name="bath", value=lambda: fakes.bath_c),
            bowl=Probe(fakes=fakes, name="bowl", value=lambda: fakes.bowl_c),
            heater=Switch(fakes=fakes),
            stirrer=Motor(fakes=fakes),
            level=sensors.get("level"),
            shaft=sensors.get("shaft"),
            load=sensors.get("load"),
            cooler=cooler,
            buzzer=buzzer,
            lamp=lamp,
            permit=permit,
        ),
        crew=Crew(panels=[fakes], tellers=[fakes], feed=feed),
        clock=OwnClock(fakes=fakes),
        log=structlog.get_logger(),
        beginning=Beginning(is_kind_known=True),
    )


STARTED: dict[int, tuple[Request, ...]] = {1: (asks(Verb.START),)}


def stop_at(tick: int) -> dict[int, tuple[Request, ...]]:
    return STARTED | {tick: (asks(Verb.STOP),)}


def test_a_tick_reads_then_drives_heat_first_and_tells_last() -> None:
    fakes = Fakes(asked=stop_at(3))
    daemon(fakes).run()
    assert fakes.done[:6] == ["take", "bath", "bowl", "heater on", "stirrer 30", "tell"]


def test_a_finished_profile_ends_the_loop_with_everything_off() -> None:
    fakes = Fakes(asked=STARTED, bath_c=40.0, bowl_c=40.0)
    state = daemon(fakes, SHORT).run()
    assert state.mode is Mode.COMPLETE
    assert state is fakes.last.state
    assert (fakes.heater, fakes.rpm) == (False, 0.0)
    assert fakes.done[-2:] == ["heater off", "stirrer 0"]


def test_a_moment_shows_what_was_read_driven_and_what_happened() -> None:
    fakes = Fakes(asked=stop_at(4))
    daemon(
        fakes,
        shaft=Probe(fakes=fakes, name="shaft", value=lambda: 29.0),
        load=Probe(fakes=fakes, name="load", value=lambda: 1.5),
        level=Probe(fakes=fakes, name="level", value=lambda: 1.0),
    ).run()
    first = fakes.moments[0]
    assert first.now_s == 1000.0
    assert (first.heater_on, first.stirrer_rpm) == (True, 30.0)
    assert (first.shaft_rpm, first.load_w) == (29.0625, 1.5625)
    assert [event.name for event in first.events] == [
        # No second switch, guard, level switch, mains-live, heater current; what may be missed.
        *[EventName.SIGHT_DECLARED] * 6,
        EventName.PHASE_ENTERED,
        EventName.MODE_CHANGED,
    ]
    assert first.state.withheld == ()


def test_what_is_not_fitted_is_shown_as_none() -> None:
    fakes = Fakes(asked=stop_at(2))
    daemon(fakes).run()
    assert (fakes.last.shaft_rpm, fakes.last.load_w) == (None, None)


def test_a_panel_is_shown_the_question_that_is_open() -> None:
    fakes = Fakes(asked=stop_at(5))
    daemon(fakes, profile(phase(questions=(question(),)))).run()
    assert fakes.asks_seen[:4] == [None, None, question(), question()]


def test_ticks_keep_to_the_schedule() -> None:
    fakes = Fakes(asked=stop_at(6))
    daemon(fakes).run()
    assert [one.now_s for one in fakes.moments[:6]] == [1000.0 + n for n in range(6)]


def test_a_late_tick_is_seen_as_late_skips_what_it_missed_and_catches_the_schedule() -> None:
    fakes = Fakes(asked=stop_at(9), delays_s={4: 3.4})
    daemon(fakes).run()
    assert [one.now_s for one in fakes.moments[2:6]] == [1002.0, 1006.4, 1007.0, 1008.0]
    assert [one.state.withheld for one in fakes.moments[2:5]] == [(), ("tick-late",), ()]
    assert not fakes.moments[3].heater_on
    assert fakes.moments[3].state.run_s == pytest.approx(1.0 + 6.4)


def test_a_little_lateness_withholds_nothing() -> None:
    fakes = Fakes(asked=stop_at(9), delays_s={4: 0.9})
    daemon(fakes).run()
    assert fakes.moments[3].state.withheld == ()
    assert [one.now_s for one in fakes.moments[3:5]] == [1003.9, 1004.0]


def test_the_tick_is_told_how_late_it_is_and_how_long_it_was(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    told: list[tuple[float, float]] = []

    def spy(
        state: State,
        of: Profile,
        own: Machine,
        readings: Readings,
        dt_s: float,
        *,
        mark: Callable[[str], object],
    ) -> tuple[State, Commands, tuple[Event, ...]]:
        told.append((round(readings.late_s, 6), round(dt_s, 6)))
        return tick(state, of, own, readings, dt_s, mark=mark)

    monkeypatch.setattr("controller.daemon.tick", spy)
    daemon(Fakes(asked=stop_at(5), delays_s={2: 0.25, 4: -0.5})).run()
    assert told[:4] == [(0.0, 1.0), (0.25, 1.25), (0.0, 0.75), (0.0, 0.5)]


def test_a_tick_that_was_woken_early_is_made_and_its_moment_is_kept() -> None:
    fakes = Fakes(asked=stop_at(6), delays_s={3: -0.5})
    daemon(fakes).run()
    assert [one.now_s for one in fakes.moments[:5]] == [1000.0, 1001.0, 1001.5, 1002.0, 1003.0]


def test_halting_stops_the_run_and_wakes_the_clock() -> None:
    fakes = Fakes(asked=STARTED)
    ours = daemon(fakes)
    fakes.on_tick = lambda tick: ours.halt() if tick == 5 else None
    state = ours.run()
    assert state.mode is Mode.STOPPED
    assert fakes.wakes == 1
    assert fakes.ticks == 6  # one to stop, one to settle
    assert (fakes.heater, fakes.rpm) == (False, 0.0)
    assert not any(e.name is EventName.REQUEST_REFUSED for m in fakes.moments for e in m.events)


def test_halting_leaves_at_once_even_if_the_profile_would_stir_on() -> None:
    keep = replace(LONG, stop_stirrer=StopStirrer.KEEP)
    fakes = Fakes(asked=STARTED)
    ours = daemon(fakes, keep)
    fakes.on_tick = lambda tick: ours.halt() if tick == 5 else None
    ours.run()
    assert fakes.ticks == 6
    assert fakes.last.stirrer_rpm == 30.0
    assert fakes.rpm == 0.0


def test_halting_before_the_first_tick_never_heats() -> None:
    fakes = Fakes(asked=STARTED)
    ours = daemon(fakes)
    ours.halt()
    assert ours.run().mode is Mode.STOPPED
    assert "heater on" not in fakes.done


def test_a_stopped_run_stirs_on_until_the_bowl_is_too_cold_and_then_leaves() -> None:
    keep = replace(LONG, stop_stirrer=StopStirrer.KEEP)
    fakes = Fakes(asked=stop_at(5))

    def cool(tick: int) -> None:
        fakes.bowl_c = 38.0 if tick < 50 else 32.0

    fakes.on_tick = cool
    state = daemon(fakes, keep).run()
    assert (state.mode, fakes.ticks) == (Mode.STOPPED, 52)  # two readings doubt the sudden cold
    assert fakes.rpm == 0.0


@pytest.mark.parametrize("name", ["bath", "bowl", "take", "stirrer", "tell"])
def test_whatever_fails_heat_goes_off_and_the_error_is_kept(name: str) -> None:
    fakes = Fakes(asked=STARTED, fails={name: 5})
    with capture_logs() as logs, pytest.raises(CrashError, match=f"{name} is broken"):
        daemon(fakes).run()
    assert [log["event"] for log in logs] == ["loop_failed"]
    assert fakes.heater is False
    assert fakes.done[-2:] == ["heater off", "stirrer 0"]


def test_a_crash_says_when_what_and_that_heat_is_off() -> None:
    fakes = Fakes(asked=STARTED, fails={"bath": 5})
    with capture_logs(), pytest.raises(CrashError) as caught:
        daemon(fakes).run()
    assert str(caught.value) == (
        "bainward failed at 4 s of the run (OSError('bath is broken')); "
        "the heater is off. Please report this with the log."
    )
    assert isinstance(caught.value.__cause__, OSError)
    assert caught.value.exit_code is Exit.CRASHED


def test_the_heater_is_off_when_the_log_is_written() -> None:
    fakes = Fakes(asked=STARTED, fails={"bath": 5})
    ours = daemon(fakes)
    seen: list[bool | None] = []

    class Log:
        def exception(self, event: str) -> None:
            seen.append(fakes.heater)
            assert event == "loop_failed"

    ours._log = Log()  # type: ignore[assignment] # noqa: SLF001 - only this one call is made of it
    with pytest.raises(CrashError):
        ours.run()
    assert seen == [False]


def test_a_heater_that_does_not_answer_stops_the_stirrer_and_says_unplug() -> None:
    fakes = Fakes(asked=STARTED, fails={"heater": 5})
    with capture_logs(), pytest.raises(CrashError, match="unplug the machine now"):
        daemon(fakes).run()
    assert fakes.rpm == 0.0


def test_an_interrupt_that_is_no_error_still_makes_the_machine_safe() -> None:
    fakes = Fakes(asked=STARTED)

    def interrupt(tick: int) -> None:
        if tick == 5:
            raise KeyboardInterrupt

    fakes.on_tick = interrupt
    with pytest.raises(KeyboardInterrupt):
        daemon(fakes).run()
    assert (fakes.heater, fakes.rpm) == (False, 0.0)


def test_an_early_wake_keeps_the_next_moment_of_the_schedule() -> None:
    assert next_due(10.0, 9.3, 1.0) == 10.0


@pytest.mark.parametrize(
    ("now_s", "due_s"), [(10.0, 11.0), (10.4, 11.0), (11.0, 12.0), (17.9, 18.0), (18.0, 19.0)]
)
def test_missed_moments_are_skipped(now_s: float, due_s: float) -> None:
    assert next_due(10.0, now_s, 1.0) == due_s


def test_the_watchdog_is_fed_after_each_complete_tick_and_heat_is_called_good() -> None:
    fed: list[int] = []
    fakes = Fakes(asked=STARTED | stop_at(6))
    looped = daemon(fakes, feed=lambda: fed.append(fakes.ticks))
    looped.run()
    assert fed == list(range(1, fakes.ticks + 1))
    assert set(fakes.good) == {True}


def test_a_tick_that_leaves_out_a_step_feeds_nothing_and_gets_no_heat(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    real = tick

    def forgetful(*given: Any, mark: Callable[[str], object]) -> Any:  # noqa: ANN401 - stands in for the tick
        return real(*given, mark=lambda step: None if step == "judge" else mark(step))

    monkeypatch.setattr("controller.daemon.tick", forgetful)
    fed: list[int] = []
    fakes = Fakes(asked=STARTED | stop_at(6))
    daemon(fakes, feed=lambda: fed.append(fakes.ticks)).run()
    assert fed == []
    assert True not in fakes.good[:-1]
