"""A fitted cooling output in the loop: driven after all else, and off whatever happens."""

from dataclasses import dataclass

import pytest
from structlog.testing import capture_logs

from controller.errors import CrashError
from tests.unit.test_daemon import STARTED, Fakes, daemon, stop_at


@dataclass(kw_only=True)
class Pump:
    """The cooling output."""

    fakes: Fakes

    def drive(self, *, on: bool, now_s: float) -> None:
        """Written down."""
        assert now_s == self.fakes.now_s
        self.fakes.did(f"cooler {'on' if on else 'off'}")


@pytest.mark.parametrize("name", ["bath", "stirrer", "heater", "cooler"])
def test_whatever_fails_a_fitted_cooling_output_goes_off_last(name: str) -> None:
    fakes = Fakes(asked=STARTED, fails={name: 5})
    with capture_logs(), pytest.raises(CrashError):
        daemon(fakes, cooler=Pump(fakes=fakes)).run()
    assert fakes.done[-3:] == ["heater off", "stirrer 0", "cooler off"]


def test_a_fitted_cooling_output_is_driven_after_heat_and_stirrer() -> None:
    fakes = Fakes(asked=stop_at(3))
    daemon(fakes, cooler=Pump(fakes=fakes)).run()
    assert "cooler off" in fakes.done
    for at, what in enumerate(fakes.done):
        if what.startswith("cooler"):
            assert fakes.done[at - 1].startswith("stirrer")
