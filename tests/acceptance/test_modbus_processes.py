"""Guard, run and bench as processes of their own, which meet only over Modbus.

Responsible for the commands as a person types them, in real time, and a guard that is killed; not
for a whole profile (test_modbus_run, in simulated time).
"""

import signal
from pathlib import Path

from controller.errors import Exit
from controller.files.machine_file import load_machine_file
from controller.guard.board import Board
from controller.guard.settings import PointAt
from tests.helpers.guard_stage import until
from tests.helpers.process import end, start
from tests.helpers.proven import prove_all
from tests.helpers.served_board import free_port, guards_board

FILE = Path(__file__).resolve().parents[1] / "helpers" / "board_machine.toml"
STATE = PointAt(table="discrete_input", address=0)


def test_the_heater_of_a_killed_guard_is_off_and_its_run_ends(tmp_path: Path) -> None:
    at = f"127.0.0.1:{free_port()}"
    machine = tmp_path / "kitchen.toml"
    text = FILE.read_text(encoding="utf-8")
    machine.write_text(text.replace("127.0.0.1:1502", at), encoding="utf-8")
    prove_all(load_machine_file(machine))
    bench = start(tmp_path, "bench", "--modbus", at)
    assert bench.stdout is not None
    assert bench.stdout.readline().startswith("Serving the bench machine reference at")
    guard = start(tmp_path, "guard", "--machine", str(machine))
    until("the guard listens", (tmp_path / "guard").exists)
    words = ("water-trial", "--machine", str(machine), "--no-broker")
    run = start(tmp_path, "run", *words, "--journal-dir", str(tmp_path / "records"))
    looker = Board(guards_board(at))
    until("the heater is on", lambda: looker.read(STATE) == 1)
    looker.close()  # from here on nobody but the guard speaks to its board
    guard.send_signal(signal.SIGKILL)
    code, _, err = end(run)
    assert code == Exit.TRIPPED, err
    looker = Board(guards_board(at))
    assert looker.read(STATE) == 0
    looker.close()
    bench.send_signal(signal.SIGTERM)
    assert end(bench)[0] == Exit.DONE
    end(guard)


def test_a_bench_that_can_not_be_served_or_is_none_is_refused_in_one_sentence(
    tmp_path: Path,
) -> None:
    machine = tmp_path / "kitchen.toml"
    machine.write_text(FILE.read_text(encoding="utf-8"), encoding="utf-8")
    cases = (
        (("--modbus", "/dev/null"), Exit.HARDWARE, "can't be served at /dev/null"),
        (("--modbus", "here"), Exit.USAGE, "is no place; write one end of a pair"),
        ((), Exit.USAGE, "--modbus"),
        (
            ("--modbus", "127.0.0.1:1", "--machine", str(machine)),
            Exit.BAD_FILE,
            "name a machine of the bench",
        ),
    )
    for words, code, said in cases:
        ended, _, err = end(start(tmp_path, "bench", *words))
        assert (ended, said in err) == (code, True), err
