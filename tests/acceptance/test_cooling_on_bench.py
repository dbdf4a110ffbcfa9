"""Whole runs that come down: by computed swaps of water, and by a pump.

Machines are of the tuning seeds 1 to 99 or have a name. The limits are the goals of the control
benchmark, which judges on other machines.
"""

import math
from pathlib import Path

import pytest

from controller.errors import Exit
from controller.files.machine_file import bench_machine_path
from controller.ports import Moment
from controller.trials.trial import Trial, run_trial

MOST_UNDER_K = 0.35
QUICK_S = 600.0


class Watcher:
    """Sees how the bowl comes down in the phase `cool`, by its thermometer."""

    def __init__(self, target_c: float = 28.0) -> None:
        """Nothing seen yet."""
        self.target_c = target_c
        self.lowest_c = math.inf
        self.reached_s = math.nan
        self.cooled_s = 0
        self.is_both = False

    def tell(self, moment: Moment) -> None:
        """Look."""
        progress = moment.state.progress
        self.is_both = self.is_both or (moment.heater_on and moment.state.cooling.on)
        if progress.phase != 1:
            return
        self.cooled_s += moment.state.cooling.on
        self.lowest_c = min(self.lowest_c, moment.state.bowl_c)
        if progress.reached and math.isnan(self.reached_s):
            self.reached_s = progress.phase_s


@pytest.mark.parametrize("machine", ["brisk", "drawn-5-3", "drawn-5-20"])
def test_a_computed_swap_comes_down_quickly_and_falls_through_nothing(machine: str) -> None:
    watcher = Watcher()
    outcome = run_trial(Trial(profile="dark", machine=machine), tellers=(watcher,))
    assert outcome.exit is Exit.DONE
    assert outcome.questions[0] == "swap-water"
    assert watcher.lowest_c >= watcher.target_c - MOST_UNDER_K
    assert watcher.reached_s <= QUICK_S


def test_a_cook_who_comes_late_is_told_an_amount_that_is_right_by_then() -> None:
    watcher = Watcher()
    late = Trial(profile="dark", machine="drawn-5-20", answer_after_s=1500.0)
    outcome = run_trial(late, tellers=(watcher,))
    assert outcome.exit is Exit.DONE
    assert watcher.lowest_c >= watcher.target_c - MOST_UNDER_K
    assert watcher.reached_s <= QUICK_S + 1500.0


def test_a_pump_does_the_cooks_work_and_never_runs_beside_the_heater(tmp_path: Path) -> None:
    table = '[cooling]\nkind = "pump"\ncarries = "80 W/K"\n\n'  # in truth it is 70 W/K
    text = bench_machine_path("brisk").read_text(encoding="utf-8")
    path = tmp_path / "pumped.toml"
    path.write_text(text.replace("[bowl]", f"{table}[bowl]", 1), encoding="utf-8")
    watcher = Watcher()
    outcome = run_trial(Trial(profile="dark", machine=path), tellers=(watcher,))
    assert outcome.exit is Exit.DONE
    assert "swap-water" not in outcome.questions
    assert watcher.cooled_s > 60
    assert not watcher.is_both
    assert watcher.lowest_c >= watcher.target_c - MOST_UNDER_K
    assert watcher.reached_s <= QUICK_S
