"""One step of commissioning, taken by its own command on a machine that a test has spoilt.

Responsible for the stage: all before the step was shown, a bench stands for the machine, and time
is simulated; not for any defect (step_defects) or expectation.
"""

import contextlib
import io
import os
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import cache, cached_property
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import NamedTuple

import pytest

from controller.book.pen import PART
from controller.clock import Clock
from controller.commands import calibrating, fitting, showing, trusting
from controller.commands.main import COMMANDS
from controller.commands.options import parser
from controller.commissioning.naming import Seen
from controller.commissioning.proof_file import proofs_path
from controller.commissioning.proofs import RULES, Step, needed_before
from controller.commissioning.proving import Guard
from controller.commissioning.site import Site
from controller.commissioning.step_test import PROFILE
from controller.errors import BainwardError, Exit
from controller.files.attach_shape import LinuxAttach
from controller.files.machine_file import MachineFile, load_machine_file
from controller.files.profile_file import load_profile
from controller.journal.reader import read_run
from controller.journal.records import Run
from controller.ports import Kind, Sensor
from controller.trials.trial import Trial, run_trial
from controller.wiring.looking import _named, kernels_own
from hardware.absent import NoThermometer
from hardware.bench.attach import Bench, attach
from hardware.bench.parameters import Parameters
from hardware.linux.looking import Thermometers
from tests.helpers.commissioned import BEGAN, Kitchen, Minutes, machine_text, site_in
from tests.helpers.sentences import passed
from tests.helpers.workshop import Maker

BOTH = ("second-switch", "mains-live")
BOILS_C = 97.051  # at 912 hPa: IAPWS-IF97, region 4
NAME = "kitchen"


_MEMORY = Path("/dev/shm")  # noqa: S108 - a folder of our own is made in it


@contextmanager
def folder_in_memory() -> Iterator[Path]:
    """A folder whose files cost no disk, where there is one: a bench's are replaced each second."""
    place = _MEMORY if os.access(_MEMORY, os.W_OK) else None
    with TemporaryDirectory(dir=place) as folder:
        yield Path(folder)


class Refusal(NamedTuple):
    """What came of a step."""

    said: str  # its sentence, or what the sheet says
    code: Exit
    came: frozenset[tuple[str, int]]  # modules and lines


class Point(NamedTuple):
    """One point of a calibration."""

    held_c: float | None  # where the thermometer is held; None: in its own place
    words: tuple[str, ...] = ()


@dataclass
class Stage:
    """Spoil a field or a file of it, then `take` the step."""

    folder: Path
    step: Step

    def __post_init__(self) -> None:
        """Sound, with all before the step shown."""
        self.path = self.folder / f"{NAME}.toml"
        self.words: tuple[str, ...] = ()
        self.points = [Point(0.0), Point(BOILS_C, ("--pressure", "912 hPa"))]
        self.meanwhile: Callable[[float], object] = lambda _now_s: None  # at each second of a point
        self.is_silent = False  # no thermometer gives a value
        self.is_met = True  # the guard runs
        self.records: dict[str, Run] = {}  # by what is named after --record
        self.left: Run | None = None  # by a step test that runs now
        self.test_ends = Exit.DONE
        self.run: Run | None = None  # of a water trial
        self.outcome = Exit.DONE
        self.build()

    def build(self, *changes: tuple[str, str], fitted: tuple[str, ...] = BOTH) -> None:
        """Another machine file, or other things fitted."""
        self.path.write_text(machine_text(*changes), encoding="utf-8")
        self.machine_file: MachineFile = load_machine_file(self.path)
        self._fitted = fitted
        self.__dict__.pop("kitchen", None)
        self.__dict__.pop("person", None)
        needed = needed_before(self.machine_file, self.step)
        site_in(self.folder, self.person, self.clock, shown=needed)

    @cached_property
    def kitchen(self) -> Kitchen:
        """The bench as files, and its guard."""
        return Kitchen(self.folder, *self._fitted)

    @cached_property
    def person(self) -> Maker:
        """Somebody who does all that is asked for."""
        return Maker(self.kitchen)

    @property
    def clock(self) -> Minutes:
        """Simulated seconds."""
        return self.kitchen.clock

    @cached_property
    def bench(self) -> Bench:
        """A bench beside it whose thermometers are calibrated: quicker than through files."""
        return attach(
            machine=Parameters(bath_probe_off=0.5),
            seed=3,
            kind=Kind.WATER,
            batch_kg=1.0,
            seed_share=0.0,
            fitted=frozenset(),
        )

    @property
    def which(self) -> str:
        """The thermometer of a calibration."""
        return "bowl" if self.step is Step.BOWL else "bath"

    def site(self) -> Site:
        """As the files say now."""
        return site_in(self.folder, self.person, self.clock)

    def take(self) -> Refusal | None:
        """Take the step as a person would, to its end or to the first refusal."""
        takes: dict[Step, Callable[[], Refusal | None]] = {
            Step.BATH: self._calibrate,
            Step.BOWL: self._calibrate,
            Step.TRIAL: self._try_with_water,
        }
        with pytest.MonkeyPatch.context() as patch:
            self._stand_in(patch)
            return takes.get(self.step, lambda: self.give(RULES[self.step].words, *self.words))()

    def give(self, words: str, *more: str) -> Refusal | None:
        """A command of this machine."""
        options = parser().parse_args([*words.split(), "--machine", str(self.path), *more])
        module, function = COMMANDS[options.command]
        modules = {"showing": showing, "calibrating": calibrating, "fitting": fitting}
        try:
            code = getattr(modules[module], function)(options)
        except BainwardError as error:
            return Refusal(str(error), error.exit_code, frozenset(passed(error)))
        return None if code is Exit.DONE else Refusal(self.person.said[-1], code, frozenset())

    def _calibrate(self) -> Refusal | None:
        found = None
        for point in self.points:
            self.bench.hold_probe(self.which, point.held_c)
            found = self.give(f"calibrate {self.which}", *point.words)
        return found

    def _try_with_water(self) -> Refusal | None:
        """The run itself is there already; what is made of it counts."""
        trial = load_profile("water-trial", self.machine_file.machine)
        shown = io.StringIO()
        try:
            trusting.proofs_to_renew(self.machine_file, trial)
            with contextlib.redirect_stdout(shown):
                code = trusting.concluded(
                    self.machine_file, trial, Path("record.jsonl"), self.outcome
                )
        except BainwardError as error:
            return Refusal(str(error), error.exit_code, frozenset(passed(error)))
        failed = [line for line in shown.getvalue().splitlines() if "pass  " not in line]
        return None if code is Exit.DONE else Refusal("\n".join(failed[1:]), code, frozenset())

    # What stands in for devices, real time and runs of an hour

    def _stand_in(self, patch: pytest.MonkeyPatch) -> None:
        for module in (showing, calibrating, fitting):
            patch.setattr(module, "opened_site", lambda _path: self.site())
        patch.setattr(showing, "seen_thermometers", self._seen)
        if self.is_met:
            patch.setattr(showing, "met", self._met)
        patch.setattr(calibrating, "thermometers_of", self._held)
        patch.setattr(fitting, "_run_test", self._run_test)
        patch.setattr(fitting, "newest_test", lambda *_: self.left)
        patch.setattr(fitting, "read_run", lambda path: self.records[path.name])
        patch.setattr(trusting, "read_run", lambda _path: self.run)
        patch.setattr(trusting, "wall_time", self.clock.wall)

    @contextmanager
    def _seen(self, machine_file: MachineFile, clock: Clock) -> Iterator[tuple[Seen, ...]]:
        """All that the kernel has, measured whenever the clock moves."""
        plan, guard = machine_file.attach, machine_file.guard
        assert isinstance(plan, LinuxAttach)
        assert guard is not None
        own, plans = _named(plan, guard.probe)
        found = Thermometers(plans, clock.now_s, plan.root)
        before = self.clock.due

        def due(now_s: float) -> None:
            before(now_s)
            found.take()

        found.take()
        self.clock.due = due
        seen = kernels_own(own, plans, found.sensors, plan.root)
        yield (
            tuple(replace(one, sensor=NoThermometer()) for one in seen) if self.is_silent else seen
        )

    @contextmanager
    def _met(self, _places: tuple[str, ...], _clock: Clock) -> Iterator[Guard]:
        with self.kitchen.opened() as guard:
            yield guard

    @contextmanager
    def _held(self, _machine_file: MachineFile) -> Iterator[Mapping[str, Sensor]]:
        """Those of the bench beside it, with no step of the kitchen's at each second."""
        self.clock.due = self.meanwhile
        devices = self.bench.devices
        yield {"bath": devices.bath, "bowl": devices.bowl}

    def _run_test(self, _machine: Path) -> Exit:
        return self.test_ends


@cache
def a_step_test() -> Run:
    """Of a machine like the stage's with 1.5 kg in the bowl."""
    return _recorded(Trial(profile=PROFILE))


@cache
def a_trial() -> Run:
    """A water trial that passes, of a machine with pulses of its shaft."""
    return _recorded(Trial(profile="water-trial", machine="brisk", fitted=("shaft",)))


def _recorded(trial: Trial) -> Run:
    with folder_in_memory() as folder:
        path = folder / "run.jsonl"
        run_trial(trial, journal=path, began_utc=BEGAN.isoformat())
        run = read_run(path)
    return replace(run, header=replace(run.header, machine_name=NAME))


class Defect(NamedTuple):
    """One thing that is wrong, and what is to be said of it."""

    step: Step  # that finds it
    plant: Callable[[Stage], object]
    says: str
    code: Exit = Exit.UNPROVEN
    shown: bool = False  # the step was shown before, and counts no more


def no_room(stage: Stage) -> None:
    """Nothing can be written beside the machine file: something is in the way, even of root."""
    path = proofs_path(stage.path)
    path.with_name(f"{path.name}{PART}").mkdir()
