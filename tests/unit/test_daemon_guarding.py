"""A run that trips tells its guard, in its own tick and in each one after it."""

from collections.abc import Sequence
from dataclasses import dataclass

from controller.ports import Permit
from tests.unit.test_daemon import STARTED, Fakes, daemon, stop_at

HOT_C = 99.0


@dataclass
class Guard:
    """A guard's word that writes down which trips it is told."""

    fakes: Fakes

    def read(self, now_s: float) -> Permit:
        """Nothing latched."""
        return Permit(latched="none", age_s=now_s - self.fakes.now_s, bath_c=38.0)

    def latch(self, causes: Sequence[str], now_s: float) -> None:
        """Written down."""
        assert now_s == self.fakes.now_s
        self.fakes.did(f"guard {' '.join(causes)}")


def test_the_guard_is_told_of_a_trip_in_its_own_tick_once_heat_is_off() -> None:
    fakes = Fakes(asked=STARTED)

    def heat(tick: int) -> None:
        if tick == 6:
            fakes.bath_c = HOT_C

    fakes.on_tick = heat
    state = daemon(fakes, permit=Guard(fakes)).run()
    told = [what for what in fakes.done if what.startswith("guard ")]
    after = [moment for moment in fakes.moments if moment.state.trips]
    assert told[0] == f"guard {state.trips[0].cause}"
    assert len(told) == len(after) > 1
    assert not any(moment.heater_on for moment in after)
    at = fakes.done.index(told[0])
    assert fakes.done[at - 1] == "heater off"
    assert fakes.done[at + 1].startswith("stirrer")


def test_a_run_that_has_not_tripped_tells_its_guard_of_none() -> None:
    fakes = Fakes(asked=stop_at(20))
    daemon(fakes, permit=Guard(fakes)).run()
    assert not [what for what in fakes.done if what.startswith("guard ")]
