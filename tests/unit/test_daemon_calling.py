"""A fitted buzzer or lamp in the loop: driven after all else, off at the end, and after a trip."""

from dataclasses import dataclass

import pytest
from structlog.testing import capture_logs

from controller.core.signals import Verb
from controller.core.state import Mode
from controller.errors import CrashError
from tests.helpers.scene import asks
from tests.unit.test_daemon import STARTED, Fakes, daemon, stop_at

HOT_C = 58.0  # over the phase's cut of 55 °C


@dataclass(kw_only=True)
class Signal:
    """A buzzer or a lamp."""

    fakes: Fakes
    name: str

    def drive(self, *, on: bool, now_s: float) -> None:
        """Written down."""
        assert now_s == self.fakes.now_s
        self.fakes.did(f"{self.name} {'on' if on else 'off'}")


def hot(fakes: Fakes) -> Fakes:
    """Let the bath be too hot from the tenth tick on."""

    def heat(tick: int) -> None:
        if tick == 10:
            fakes.bath_c = HOT_C

    fakes.on_tick = heat
    return fakes


def test_a_run_that_trips_calls_until_somebody_acknowledges_it() -> None:
    fakes = hot(Fakes(asked=STARTED | {60: (asks(Verb.ACKNOWLEDGE),)}))
    state = daemon(fakes, buzzer=Signal(fakes=fakes, name="buzzer")).run()
    assert state.mode is Mode.ABORTED
    assert fakes.ticks == 60
    assert fakes.done.count("buzzer on") > 15
    assert fakes.done[-1] == "buzzer off"
    assert "heater on" not in fakes.done[fakes.done.index("buzzer on") :]


def test_a_lamp_alone_calls_too_and_a_machine_with_neither_ends_at_once() -> None:
    with_lamp = hot(Fakes(asked=STARTED | {60: (asks(Verb.ACKNOWLEDGE),)}))
    daemon(with_lamp, lamp=Signal(fakes=with_lamp, name="lamp")).run()
    bare = hot(Fakes(asked=STARTED))
    daemon(bare).run()
    assert (with_lamp.ticks, bare.ticks < 20) == (60, True)


def test_nobody_is_called_for_ever() -> None:
    fakes = hot(Fakes(asked=STARTED, ticks_max=2000))
    daemon(fakes, buzzer=Signal(fakes=fakes, name="buzzer")).run()
    assert 1800 <= fakes.ticks <= 1830


def test_a_halt_ends_the_calling() -> None:
    fakes = hot(Fakes(asked=STARTED))
    run = daemon(fakes, buzzer=Signal(fakes=fakes, name="buzzer"))
    heat = fakes.on_tick
    fakes.on_tick = lambda tick: run.halt() if tick == 40 else heat(tick)
    run.run()
    assert fakes.ticks <= 42
    assert fakes.done[-1] == "buzzer off"


def test_a_run_that_is_stopped_calls_nobody_and_heat_is_driven_first() -> None:
    fakes = Fakes(asked=stop_at(3))
    daemon(
        fakes, buzzer=Signal(fakes=fakes, name="buzzer"), lamp=Signal(fakes=fakes, name="lamp")
    ).run()
    tick = fakes.done[fakes.done.index("heater on") :][:5]
    assert tick == ["heater on", "stirrer 30", "buzzer off", "lamp off", "tell"]
    assert "buzzer on" not in fakes.done


@pytest.mark.parametrize("name", ["bath", "stirrer", "heater"])
def test_whatever_fails_a_buzzer_goes_off_after_heat(name: str) -> None:
    fakes = Fakes(asked=STARTED, fails={name: 5})
    with capture_logs(), pytest.raises(CrashError):
        daemon(fakes, buzzer=Signal(fakes=fakes, name="buzzer")).run()
    assert fakes.done[-3:] == ["heater off", "stirrer 0", "buzzer off"]
