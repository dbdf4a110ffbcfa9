"""Guard, run and bench as processes of their own, on two pairs of serial lines: a whole profile.

Responsible for the installed commands over Modbus RTU, from a start to a complete end, in a time
that is handed in; not for faults, nor for real seconds (test_modbus_processes).
"""

import json
import signal
from contextlib import ExitStack
from pathlib import Path

from controller.errors import Exit
from controller.files.machine_file import load_machine_file
from controller.guard.board import Board
from controller.guard.settings import PointAt
from hardware.bench.board import GUARD_UNIT, RUN_UNIT, Coil
from tests.helpers.guard_stage import until
from tests.helpers.pace import pacemaker
from tests.helpers.paced_process import BEGAN_UTC, started
from tests.helpers.proven import prove_all
from tests.helpers.records import replace
from tests.helpers.served_board import guards_board, pty_pair

HELPERS = Path(__file__).resolve().parents[1] / "helpers"
PROFILE = HELPERS / "short_batch.toml"
PERIOD_S = 2.0  # of the machine file
MOVED_K = 0.5  # by the heater in the one phase, by the pump in another
LONG_S = 900.0  # a time-out, never waited for in full: a busy computer only takes longer
FAST = "baud = 115200"
RUNS_WAIT = 'reply_within = "0.5 s"'  # as the guard's: a busy computer's answer is no lost one
PUMP = '\n[cooling]\nkind = "pump"\ncarries = "70 W/K"\n'
# The brisk bench with a pump, as the run's own file describes it.
BENCH = HELPERS.parents[1] / "hardware" / "bench" / "machines" / "brisk.toml"


def machines(folder: Path, run_at: str, guard_at: str) -> tuple[Path, Path]:
    """The machine file of run and guard, each at its line, and the bench's."""
    first, second = (HELPERS / "board_machine.toml").read_text(encoding="utf-8").split("[guard]")
    said = "127.0.0.1:1502"
    ours, bench = folder / "kitchen.toml", folder / "bench.toml"
    cooling = f"{PUMP}[attach.cooling]\ncoil = 3\nshown = {{ discrete_input = 3 }}\n"
    first = first.replace("unit = ", f"{RUNS_WAIT}\nunit = ")
    text = first.replace(said, run_at) + "[guard]" + second.replace(said, guard_at) + cooling
    ours.write_text(text.replace("unit = ", f"{FAST}\nunit = "), encoding="utf-8")
    prove_all(load_machine_file(ours), BEGAN_UTC)
    text = BENCH.read_text(encoding="utf-8").replace('batch = "1.5 kg"', 'batch = "0.4 kg"')
    bench.write_text(text + PUMP, encoding="utf-8")
    return ours, bench


def coils(at: str) -> list[int]:
    """The true states of all outputs, asked on the guard's line once the guard is gone."""
    shown = []
    for unit, coil in (
        (GUARD_UNIT, Coil.HEATER),
        (RUN_UNIT, Coil.STIRRER),
        (RUN_UNIT, Coil.COOLING),
    ):
        looker = Board(replace(guards_board(at), unit=unit))
        shown.append(looker.read(PointAt(table="discrete_input", address=coil)))
        looker.close()
    return shown


def test_run_and_guard_go_through_a_whole_profile_over_two_serial_lines(tmp_path: Path) -> None:
    with ExitStack() as stack:
        lines = [stack.enter_context(pty_pair()) for _ in range(2)]
        (run_here, run_at), (guard_here, guard_at) = lines
        machine, bench_file = machines(tmp_path, run_at, guard_at)
        pace = tmp_path / "pace"
        stack.enter_context(pacemaker(pace))
        words = ("bench", "--machine", str(bench_file), str(PROFILE))
        ends = ("--modbus", run_here, "--modbus", guard_here)
        bench = stack.enter_context(started(tmp_path, pace, *words, *ends))
        assert bench.stdout is not None
        assert bench.stdout.readline().startswith("Serving the bench machine brisk at")
        guard = stack.enter_context(started(tmp_path, pace, "guard", "--machine", str(machine)))
        until("the guard listens", (tmp_path / "guard").exists, LONG_S)
        records = tmp_path / "records"
        options = ("--machine", str(machine), "--no-broker", "--journal-dir", str(records))
        run = stack.enter_context(started(tmp_path, pace, "run", str(PROFILE), *options))
        out, err = run.communicate(timeout=LONG_S)
        assert run.returncode == Exit.DONE, out + err
        guard.send_signal(signal.SIGTERM)
        _, said = guard.communicate(timeout=LONG_S)
        assert guard.returncode == Exit.DONE, said
        assert "latched" not in said
        assert coils(guard_at) == [0, 0, 0]
    assert_went_through(next(records.glob("*.jsonl")))


def assert_went_through(record: Path) -> None:
    """Up, down and hold, each tick in its time, by the run's own record."""
    seen = [json.loads(line) for line in record.read_text(encoding="utf-8").splitlines()]
    events = [one for one in seen if one["kind"] == "event"]
    names = [one["event"] for one in events]
    entered = [one["phase"] for one in events if one["event"] == "phase_entered"]
    assert entered == ["melt", "cool", "hold"]
    assert not {"trip_latched", "alarm_raised", "heat_withheld"} & set(names)
    assert events[-1]["facts"]["after"] == "complete"
    samples = [one for one in seen if one["kind"] == "sample"]
    assert [one["t_s"] % PERIOD_S for one in samples] == [0.0] * len(samples)
    baths = {name: [one["bath_c"] for one in samples if one["phase"] == name] for name in entered}
    assert max(baths["melt"]) - baths["melt"][0] > MOVED_K
    assert baths["cool"][0] - min(baths["cool"]) > MOVED_K
