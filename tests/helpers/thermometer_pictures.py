"""What only minutes show of a thermometer, through any driver: a run of water with such a fault.

Responsible for the faults, where each begins and how it must end, and for running them; not for
expecting it (tests/faults for a few, tests/proofs/thermometers.py for all in every driver).
"""

from collections.abc import Callable
from contextlib import ExitStack
from pathlib import Path
from typing import NamedTuple

from controller.core.interlocks import Cause
from controller.core.profile import Profile
from controller.files.board_shape import ModbusAttach
from controller.files.machine_file import MachineFile
from controller.ports import Moment
from controller.wiring import BenchFault
from tests.faults.test_faults_on_bench import EXPECTED, EXPECTED_IN_HOLD, WITHIN_S
from tests.helpers.board_kitchen import Kitchen, kitchen_on_lines
from tests.helpers.file_machine import PAIRS, FileMachine
from tests.helpers.records import replace
from tests.helpers.thermometer_list import Driver, Failing

HIGHER_K = 1.0  # the second phase's target, which is held


class Water(NamedTuple):
    """How warm it is made, and when its fault begins."""

    target_c: float
    begins_s: int


HELD = Water(26.0, 600)  # warm by then, and held
AS_CHOCOLATE = Water(32.0, 900)  # the same, as far over the room as a batch
COLD = Water(40.0, 0)  # yet to be heated


class Picture(NamedTuple):
    """What only a picture of minutes shows: on the bench, whose thermometers the drivers read."""

    fault: BenchFault
    causes: tuple[Cause, ...]  # whichever comes first
    within_s: float
    water: Water = HELD


def in_hold(fault: BenchFault, *others: Cause, water: Water = HELD) -> Picture:
    """One that befalls warm water, judged as on the bench's own ports; or by `others`."""
    causes = ((EXPECTED | EXPECTED_IN_HOLD)[fault], *others)
    return Picture(fault, causes, WITHIN_S[fault], water)


def as_it_starts(fault: BenchFault, cause: Cause, within_s: float) -> Picture:
    """One that is there before the first heat, by which it is seen. Times of our own."""
    return Picture(fault, (cause,), within_s, COLD)


PICTURES = {
    Failing.FROZEN_IN_HOLD: in_hold(BenchFault.BATH_PROBE_FROZEN),
    Failing.STEP: in_hold(BenchFault.BATH_PROBE_OFFSET),
    Failing.DRIFT: in_hold(BenchFault.BATH_PROBE_DRIFT),
    Failing.INTERMITTENT: in_hold(BenchFault.BATH_PROBE_INTERMITTENT),
    Failing.WET: in_hold(BenchFault.BATH_PROBE_WET),
    Failing.OUT: in_hold(BenchFault.BATH_PROBE_OUT),
    Failing.SLOW: as_it_starts(BenchFault.BATH_PROBE_SLOW, Cause.BATH_PROBES_DISAGREE, 360.0),
    Failing.SWAPPED: as_it_starts(BenchFault.PROBES_SWAPPED, Cause.PROBES_CROSSED, 120.0),
    Failing.BOWL_OUT: in_hold(
        BenchFault.BOWL_PROBE_OUT, Cause.BOWL_UNLIKE_BATH, water=AS_CHOCOLATE
    ),
    Failing.BOWL_FROZEN: in_hold(BenchFault.BOWL_PROBE_FROZEN),
}
PATIENCE_MS = 20_000  # a time-out, never waited for in full
DWELL_S = 7200.0  # longer than any run here


class Ended(NamedTuple):
    """How a run went, in seconds since the fault began."""

    cause: str
    trip_s: float
    heated_s: float

    def is_right(self, picture: Picture) -> bool:
        """By its name, in its time, and with no heat from then on."""
        return self.cause in picture.causes and self.heated_s <= self.trip_s <= picture.within_s


def holding(profile: Profile, target_c: float) -> Profile:
    """Water that is warmed, and held for long."""
    first, last = profile.phases
    warm = replace(first, bowl_target_c=target_c, dwell_s=30.0, settle_s=20.0)
    held = replace(last, bowl_target_c=target_c + HIGHER_K, dwell_s=DWELL_S)
    return replace(profile, phases=(warm, held))


def ended(moments: list[Moment], begins_s: float) -> Ended:
    """From all its ticks."""
    state = moments[-1].state
    heated = max((one.now_s for one in moments if one.heater_on), default=-1.0)
    trip = state.trips[0] if state.trips else None
    return Ended(
        "none" if trip is None else str(trip.cause),
        float("nan") if trip is None else trip.at_s - begins_s,
        heated - begins_s,
    )


def due_at(run: FileMachine | Kitchen, picture: Picture) -> Callable[[float], None]:
    """What happens at each second: the fault once it is time, and an end to waiting."""

    def due(now_s: float) -> None:
        if now_s >= picture.water.begins_s:
            run.bench.inject(picture.fault)
        if now_s >= picture.water.begins_s + picture.within_s:
            run.halt()

    return due


def on_files(folder: Path, driver: Driver, picture: Picture) -> Ended:
    """Over the kernel's files."""
    machine = FileMachine(folder, PAIRS[driver])
    machine.profile = holding(machine.profile, picture.water.target_c)
    happens = due_at(machine, picture)

    def due(now_s: float) -> None:
        happens(now_s)
        machine.files.show(now_s)
        machine.linux.take()

    return ended(machine.run(due), picture.water.begins_s)


class Patient(Kitchen):
    """A kitchen whose boards may take their time, as on a busy computer."""

    def attach(self, file: MachineFile, stack: ExitStack) -> None:
        """With another time-out for either board."""
        assert isinstance(file.attach, ModbusAttach)
        assert file.guard is not None
        assert file.guard.board is not None
        run_board = replace(file.attach.board, reply_ms=PATIENCE_MS)
        guard_board = replace(file.guard.board, reply_ms=PATIENCE_MS)
        attach = replace(file.attach, board=run_board)
        guard = replace(file.guard, board=guard_board)
        super().attach(replace(file, attach=attach, guard=guard), stack)


def on_frames(folder: Path, _driver: Driver, picture: Picture) -> Ended:
    """Over a serial line."""
    with ExitStack() as stack:
        kitchen = stack.enter_context(kitchen_on_lines(folder, made=Patient))
        kitchen.profile = holding(kitchen.profile, picture.water.target_c)
        kitchen.due = due_at(kitchen, picture)
        kitchen.run()
        return ended(kitchen.watch.moments, picture.water.begins_s)


def run_with(folder: Path, driver: Driver, picture: Picture) -> Ended:
    """A run of water with that fault, through that driver."""
    on = on_frames if driver is Driver.MODBUS else on_files
    return on(folder, driver, picture)
