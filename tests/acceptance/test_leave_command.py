"""`bainward leave` beside a real run: a process of its own, and its tick's answer."""

from pathlib import Path

from controller.errors import Exit
from controller.files.machine_file import bench_machine_path
from controller.journal.reader import read_run
from tests.helpers.process import end, start

REFERENCE = str(bench_machine_path("reference"))


def test_a_run_says_whether_it_may_be_left_and_writes_down_that_it_was_asked(
    tmp_path: Path,
) -> None:
    words = ("run", "dark", "--machine", REFERENCE, "--chocolate", "dark", "--no-broker", "--log")
    process = start(tmp_path, *words, "json", "--journal-dir", str(tmp_path))
    assert process.stderr is not None
    assert "run_started" in process.stderr.readline()
    said = end(start(tmp_path, "leave", "5", "min"))
    slip = end(start(tmp_path, "leave", "20"))
    process.terminate()
    end(process)
    nobody = end(start(tmp_path, "leave", "20 min"))

    assert said[0] == Exit.DONE
    assert said[1].startswith(("Yes", "No"))
    assert slip[0] == Exit.USAGE
    assert "write one like leave 20 min" in slip[2]
    assert nobody[0] == Exit.HARDWARE
    (record,) = tmp_path.glob("*.jsonl")
    (asked,) = [one for one in read_run(record).events if one.name == "leave_judged"]
    assert asked.facts["answer"] == said[1].strip()
