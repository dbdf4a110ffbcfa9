"""What only minutes show of a thermometer, through every driver: is it named, and heat off by then?

    python tests/proofs/thermometers.py [DRIVER...]

Prints a row for each fault and driver, which are those of tests/helpers/thermometer_list.py: the
cause that ended the run, after how long, and how long the heater was still on. Each run is one of
water that is warm already and held. The short form is tests/faults/test_thermometer_lies.py.
"""

import logging
import sys
import tempfile
from collections.abc import Callable
from contextlib import ExitStack
from pathlib import Path
from typing import NamedTuple

import structlog

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from controller.core.profile import Profile
from controller.files.board_shape import ModbusAttach
from controller.files.machine_file import MachineFile
from controller.guard import door
from controller.ports import Moment
from controller.wiring import BenchFault
from tests.faults.test_faults_on_bench import EXPECTED, EXPECTED_IN_HOLD, WITHIN_S
from tests.helpers.board_kitchen import Kitchen, kitchen_on_lines
from tests.helpers.file_machine import PAIRS, FileMachine
from tests.helpers.records import replace
from tests.helpers.thermometer_list import Driver, Failing

# What each is on the bench, whose thermometers the files and registers show.
FAULTS = {
    Failing.FROZEN_IN_HOLD: BenchFault.BATH_PROBE_FROZEN,
    Failing.STEP: BenchFault.BATH_PROBE_OFFSET,
    Failing.DRIFT: BenchFault.BATH_PROBE_DRIFT,
    Failing.INTERMITTENT: BenchFault.BATH_PROBE_INTERMITTENT,
    Failing.WET: BenchFault.BATH_PROBE_WET,
    Failing.OUT: BenchFault.BATH_PROBE_OUT,
}
BEGINS_S = 600  # by then the water is warm, and held
TARGETS_C = (26.0, 27.0)
PATIENCE_MS = 20_000  # a time-out, never waited for in full
DWELL_S = 7200.0  # longer than any run here


class Ended(NamedTuple):
    """How a run went, in seconds since the fault began."""

    cause: str
    trip_s: float
    heated_s: float


def holding(profile: Profile) -> Profile:
    """Water that is soon warm, and held for long."""
    first, last = profile.phases
    warm = replace(first, bowl_target_c=TARGETS_C[0], dwell_s=30.0, settle_s=20.0)
    return replace(
        profile, phases=(warm, replace(last, bowl_target_c=TARGETS_C[1], dwell_s=DWELL_S))
    )


def ended(moments: list[Moment]) -> Ended:
    """From all its ticks."""
    state = moments[-1].state
    heated = max((one.now_s for one in moments if one.heater_on), default=-1.0)
    trip = state.trips[0] if state.trips else None
    return Ended(
        "none" if trip is None else str(trip.cause),
        float("nan") if trip is None else trip.at_s - BEGINS_S,
        heated - BEGINS_S,
    )


def due_at(
    run: FileMachine | Kitchen, fault: BenchFault, within_s: float
) -> Callable[[float], None]:
    """What happens at each second: the fault once it is time, and an end to waiting."""

    def due(now_s: float) -> None:
        if now_s >= BEGINS_S:
            run.bench.inject(fault)
        if now_s >= BEGINS_S + within_s:
            run.halt()

    return due


def on_files(folder: Path, driver: Driver, fault: BenchFault, within_s: float) -> Ended:
    """Over the kernel's files."""
    machine = FileMachine(folder, PAIRS[driver])
    machine.profile = holding(machine.profile)
    happens = due_at(machine, fault, within_s)

    def due(now_s: float) -> None:
        happens(now_s)
        machine.files.show(now_s)
        machine.linux.take()

    return ended(machine.run(due))


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


def on_frames(folder: Path, fault: BenchFault, within_s: float) -> Ended:
    """Over a serial line."""
    with ExitStack() as stack:
        kitchen = stack.enter_context(kitchen_on_lines(folder, made=Patient))
        kitchen.profile = holding(kitchen.profile)
        kitchen.due = due_at(kitchen, fault, within_s)
        kitchen.run()
        return ended(kitchen.watch.moments)


def main() -> int:
    """Try them all; 1 when one isn't named within its time, or heat is on after that."""
    structlog.configure(wrapper_class=structlog.make_filtering_bound_logger(logging.CRITICAL))
    door.PAUSE_S = 0.0  # time is handed in
    drivers = [Driver(word) for word in sys.argv[1:]] or list(Driver)
    print(f"{'fault':32}{'driver':14}{'cause':26}{'after s':>8}{'heated s':>10}{'within s':>10}")
    is_sound = True
    for mode, fault in FAULTS.items():
        within_s = WITHIN_S[fault]
        for driver in drivers:
            with tempfile.TemporaryDirectory() as folder:
                how = (
                    on_frames(Path(folder), fault, within_s)
                    if driver is Driver.MODBUS
                    else on_files(Path(folder), driver, fault, within_s)
                )
            is_right = how.cause == (EXPECTED | EXPECTED_IN_HOLD)[fault]
            is_right = is_right and how.heated_s <= how.trip_s <= within_s
            is_sound = is_sound and is_right
            row = f"{mode:32}{driver:14}{how.cause:26}{how.trip_s:8.0f}{how.heated_s:10.0f}"
            print(f"{row}{within_s:10.0f}{'' if is_right else '  NOT AS IT MUST BE'}", flush=True)
    return 0 if is_sound else 1


if __name__ == "__main__":
    sys.exit(main())
