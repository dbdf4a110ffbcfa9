"""Machines that do without a thermometer or the stirrer, through whole runs on the bench.

What is claimed of each mode is in `controller/core/lacks.py`; machines are of the tuning seeds.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from controller.core.machine import Machine
from controller.core.state import Mode
from controller.errors import Exit
from controller.files.profile_file import load_profile
from controller.ports import Moment
from controller.report.summary import summary_text
from controller.wiring import attach_bench, guarded, machine_meant
from hardware.bench.attach import Bench, BenchFault
from hardware.bench.plant import Plant
from tests.helpers.records import replace
from tests.helpers.runs import FaultAt, Finished, finish

MACHINES = ("reference", "drawn-3-1", "drawn-4-2", "drawn-4-3")
ENDED_WELL = {Exit.DONE, Exit.NOT_IN_TEMPER}
WITHOUT: Mapping[str, Callable[[Machine], Machine]] = {
    "bath": lambda whole: replace(whole, has_bath=False),
    "bowl": lambda whole: replace(whole, has_bowl=False),
    "stirrer": lambda whole: replace(whole, has_stirrer=False, has_shaft=False),
}


@dataclass(kw_only=True)
class Onlooker:
    """Looks at the bench itself in each tick of a running phase."""

    plant: Plant
    bowl_c: dict[int, list[float]] = field(default_factory=dict)  # by the phase's number
    held_c: list[float] = field(default_factory=list)  # once the last phase had reached its target
    held_off_k: list[float] = field(default_factory=list)  # then over what was aimed at
    bath_max_c: float = -math.inf
    rpm_max: float = 0.0
    was_ready: bool = False
    seen: set[str] = field(default_factory=set)

    def tell(self, moment: Moment) -> None:
        """Look."""
        state = moment.state
        if state.mode is not Mode.RUNNING:
            return
        phase = state.progress.phase
        self.bowl_c.setdefault(phase, []).append(self.plant.content_c)
        if phase == 3 and state.progress.reached:
            self.held_c.append(self.plant.content_c)
            self.held_off_k.append(self.plant.content_c - state.regulation.bowl_setpoint_c)
        self.bath_max_c = max(self.bath_max_c, self.plant.bath_c)
        self.rpm_max = max(self.rpm_max, abs(self.plant.rpm))
        self.was_ready = self.was_ready or state.outlook.is_ready
        self.seen |= {name for name in ("bath_c", "bowl_c") if math.isfinite(getattr(state, name))}


def run_without(
    part: str, name: str, folder: Path, fault: BenchFault | None = None
) -> tuple[Finished, Onlooker]:
    """The profile `dark` on a machine that does without a part; what came of it, and what was."""
    machine_file = machine_meant(name)
    machine = WITHOUT[part](machine_file.machine)
    machine_file = replace(machine_file, machine=machine)
    profile = load_profile("dark", machine)
    bench: Bench = attach_bench(machine_file.attach, machine, profile)  # type: ignore[arg-type] # a bench's
    onlooker = Onlooker(plant=bench.plant)
    tellers: tuple[Onlooker | FaultAt, ...] = (onlooker,)
    if fault is not None:
        breaks = FaultAt(bench=bench, fault=fault, when=lambda state: state.run_s > 600.0)
        tellers = (*tellers, breaks)
    attached = guarded(bench, machine)
    return finish(machine_file, profile, attached, folder, tellers=tellers), onlooker


@pytest.mark.parametrize("name", MACHINES)
def test_with_the_bowl_s_thermometer_alone_a_batch_gets_ready_and_hardly_over(
    name: str, tmp_path: Path
) -> None:
    finished, saw = run_without("bath", name, tmp_path)
    assert finished.result.outcome in ENDED_WELL
    assert max(saw.bowl_c[0]) <= 50.0 + 1.0
    # What thickens is held warmer by small steps, up to 32.5 °C: the guard's thermometer stands in.
    assert all(31.8 - 0.5 <= bowl_c <= 32.5 for bowl_c in saw.held_c)
    assert all(-0.5 <= off_k <= 0.5 for off_k in saw.held_off_k)
    assert saw.bath_max_c < 58.0  # the guard's own thermometer never had to open the relay
    assert saw.was_ready
    assert saw.seen == {"bowl_c"}
    assert "\nMode       bowl probe only\n" in summary_text(finished.summary)


@pytest.mark.parametrize("name", MACHINES)
def test_with_the_bath_s_thermometer_alone_a_bowl_is_held_and_nothing_is_claimed(
    name: str, tmp_path: Path
) -> None:
    finished, saw = run_without("bowl", name, tmp_path)
    assert finished.result.outcome in ENDED_WELL
    assert max(saw.bowl_c[0]) <= 50.0 + 1.0
    assert saw.bowl_c[0][-1] >= 50.0 - 1.0  # it had melted when it went on
    assert all(31.8 - 1.0 <= bowl_c <= 31.8 + 1.2 for bowl_c in saw.held_c)
    assert saw.bath_max_c <= 50.0 + 2.0  # never led over what the bowl needs
    assert not saw.was_ready
    assert saw.seen == {"bath_c"}
    assert all(math.isnan(sample.bowl_c) for sample in finished.record.samples)
    text = summary_text(finished.summary)
    assert "\nMode       bath probe only\n" in text
    assert "\nReady      not claimed: there was no thermometer in the bowl\n" in text
    assert "\nHold       not known\n" in text
    assert "Foretold" not in text


@pytest.mark.parametrize("name", ["reference", "drawn-1001-1"])  # the other one hardly gets there
def test_without_a_stirrer_it_takes_longer_and_holds(name: str, tmp_path: Path) -> None:
    finished, saw = run_without("stirrer", name, tmp_path)
    assert finished.result.outcome in ENDED_WELL
    assert saw.rpm_max == 0.0
    assert max(saw.bowl_c[0]) <= 50.0 + 0.5
    assert saw.held_c
    assert all(31.8 - 1.0 <= bowl_c <= 31.8 + 0.5 for bowl_c in saw.held_c)
    assert "\nMode       no stirrer\n" in summary_text(finished.summary)


@pytest.mark.parametrize(
    ("part", "fault", "cause"),
    [
        ("bath", BenchFault.BOWL_PROBE_OPEN, "bowl-probe-missing"),
        ("bowl", BenchFault.BATH_PROBE_OPEN, "bath-probe-missing"),
    ],
)
def test_the_one_thermometer_that_there_is_trips_the_run_when_it_is_lost(
    part: str, fault: BenchFault, cause: str, tmp_path: Path
) -> None:
    finished, _ = run_without(part, "reference", tmp_path, fault)
    assert finished.result.outcome is Exit.TRIPPED
    assert finished.causes == [cause]


@pytest.mark.parametrize(
    ("fault", "cause"),
    [
        (BenchFault.HEATER_DEAD, "heat-without-effect"),
        (BenchFault.RELAY_WELDED, "relay-stuck-on"),
    ],
)
def test_without_a_thermometer_in_the_bowl_the_heater_is_still_watched(
    fault: BenchFault, cause: str, tmp_path: Path
) -> None:
    finished, _ = run_without("bowl", "reference", tmp_path, fault)
    assert cause in finished.causes or "guard-latched" in finished.causes
    assert finished.result.outcome is Exit.TRIPPED
