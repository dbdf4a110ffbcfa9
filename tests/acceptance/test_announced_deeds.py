"""What an announcement is worth: the same deed on the bench, told and untold.

Goals are the control study's; what is reached beside what nobody can be faster than stands in the
control benchmark. Accuracy is of what the bowl's thermometer would show without lag and noise.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from controller.files.profile_file import load_profile
from controller.ports import Moment, Question, Request, Verb, announced
from controller.wiring import guarded
from hardware.bench.plant import Plant
from tests.benchmarks.control_measures import BAND_K, entered_s
from tests.benchmarks.rivals.eye import Eye
from tests.helpers.records import replace
from tests.helpers.runs import bench_for, bench_machine, finish

AFTER_READY_S = 900.0
WATCHED_S = 1500
WORK_C = 31.8


@dataclass(slots=True, kw_only=True)
class Helper:
    """Somebody at the machine: does a deed a while after the chocolate is ready, and may say so."""

    plant: Plant
    act: Callable[[Plant], None]
    words: str
    is_due: bool = False
    seen_c: list[float] = field(default_factory=list)

    def take(self, now_s: float, ask: Question | None) -> tuple[Request, ...]:  # noqa: ARG002 - the Panel's contract
        """The deed and its announcement; later a stop."""
        if self.is_due and not self.seen_c:
            self.plant.advance(now_s)
            self.act(self.plant)
            self.seen_c.append(WORK_C)
            said = announced(self.words)
            return () if said is None else (Request(verb=Verb.ANNOUNCE, announcement=said),)
        return (Request(verb=Verb.STOP),) if len(self.seen_c) > WATCHED_S else ()

    def tell(self, moment: Moment) -> None:
        """Watch."""
        if moment.state.outlook.is_ready:
            self.is_due = moment.state.run_s - moment.state.outlook.likely_s >= AFTER_READY_S
        if 0 < len(self.seen_c) <= WATCHED_S:
            self.seen_c.append(Eye(self.plant).seen_c())


def after(act: Callable[[Plant], None], words: str, folder: Path) -> list[float]:
    """The bowl of `brisk` after a deed, °C each second."""
    folder /= "told" if words else "untold"
    folder.mkdir()
    machine_file = bench_machine("brisk")
    dark = load_profile("dark", machine_file.machine)
    # Chocolate that thickens is not held warmer here: judged is what brings it back to one place.
    phases = tuple(replace(phase, warm_to_c=None) for phase in dark.phases)
    profile = replace(dark, phases=phases)
    bench = bench_for(machine_file, profile)
    helper = Helper(plant=bench.plant, act=act, words=words)
    attached = guarded(bench, machine_file.machine)
    finish(machine_file, profile, attached, folder, panels=(helper,), tellers=(helper,))
    assert len(helper.seen_c) > WATCHED_S
    return helper.seen_c[1:]


def cold_chocolate(plant: Plant) -> None:
    """200 g of tempered pieces at the room's temperature."""
    plant.add_seed(0.2)


def cold_water(plant: Plant) -> None:
    """Half of the bath."""
    plant.swap_water(share=0.5, water_c=20.0)


def test_cold_chocolate_that_is_announced_is_over_sooner_and_heats_nothing_over(
    tmp_path: Path,
) -> None:
    told = after(cold_chocolate, "added 200 g at 20 C", tmp_path)
    untold = after(cold_chocolate, "", tmp_path)
    assert max(told) < WORK_C + BAND_K
    assert max(untold) > WORK_C + 3.0 * BAND_K
    # Nobody can be faster than 279 s here, says tests/benchmarks/control.py.
    assert entered_s(told, WORK_C, BAND_K) <= 360.0
    assert entered_s(untold, WORK_C, BAND_K) > 500.0


def test_cold_water_is_over_as_soon_as_the_study_has_it_announced_or_not(tmp_path: Path) -> None:
    told = after(cold_water, "swapped 50 % at 20 C", tmp_path)
    untold = after(cold_water, "", tmp_path)
    assert entered_s(told, WORK_C, BAND_K) <= entered_s(untold, WORK_C, BAND_K) <= 397.0
