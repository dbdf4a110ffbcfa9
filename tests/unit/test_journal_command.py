"""`bainward journal`: where a record breaks, what is in it, and how to take it away."""

import csv
import io
import json
import math
from collections.abc import Callable
from pathlib import Path

import pytest

from controller.commands.main import main
from controller.core.state import EventName
from controller.errors import Exit, RecordError
from controller.journal.inspection import inspect_file
from controller.journal.lines import framed
from controller.journal.reader import read_run
from controller.journal.records import RECORDS_LOST
from controller.report.export import COLUMNS
from tests.helpers.batch import WaitingJournal, a_header, a_moment, an_event, still_clock


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A short record: header, event, sample, sample, closing."""
    path = tmp_path / "run.jsonl"
    journal = WaitingJournal(path, header=a_header(), clock_s=still_clock)
    journal.tell(a_moment(0.0, events=(an_event(EventName.HEAT_PERMITTED, bowl_c=math.nan),)))
    journal.tell(a_moment(4.0, bowl_c=math.nan, heater_on=True))
    journal.finish(None, "stopped")
    return path


def lines_of(path: Path) -> list[bytes]:
    """The lines with their ends."""
    return path.read_bytes().splitlines(keepends=True)


def test_a_whole_record_is_said_to_be_whole(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["journal", "verify", str(path)]) == Exit.DONE
    assert capsys.readouterr().out == (
        f"{path}: run run-1\nEvery one of its 5 lines is as it was written, until 0:00:04.\n"
    )


def flipped(lines: list[bytes]) -> list[bytes]:
    """A bit of the fourth line is another."""
    bad = bytearray(lines[3])
    bad[10] ^= 1
    return [*lines[:3], bytes(bad), *lines[4:]]


def reframed(line: bytes, **changes: object) -> bytes:
    """The line with other values and a checksum to match."""
    fields = {**json.loads(line), **changes}
    del fields["crc"]
    return framed(json.dumps(fields)[:-1])


DAMAGE: list[tuple[Callable[[list[bytes]], list[bytes]], int, str]] = [
    (flipped, 4, "its bytes don't match its checksum"),
    (lambda x: [*x[:2], *x[3:]], 3, "it is number 3 where 2 should be"),
    (lambda x: [*x, reframed(x[1], seq=5)], 6, "it follows the closing record"),
    (lambda x: [*x[:3], reframed(x[3], mode="dancing"), x[4]], 4, "it is whole, but no record"),
    (lambda x: [*x[:4], x[4][:20]], 5, "it ends after 20 bytes of a line"),
    (lambda x: [*x[:2], b"\0" * 512], 3, "it ends after 512 bytes of a line"),
]


@pytest.mark.parametrize(("damage", "line", "why"), DAMAGE)
def test_a_damaged_record_is_located_to_the_byte(
    path: Path,
    damage: Callable[[list[bytes]], list[bytes]],
    line: int,
    why: str,
    capsys: pytest.CaptureFixture[str],
) -> None:
    good = lines_of(path)
    path.write_bytes(b"".join(damage(good)))
    found = inspect_file(path)
    assert found.broken is not None
    assert found.broken.line == line
    assert found.good_bytes == found.broken.offset == len(b"".join(good[: line - 1]))
    assert found.lines == line - 1
    assert main(["journal", "verify", str(path)]) == Exit.BAD_FILE
    out = capsys.readouterr().out
    assert f"It breaks at line {line}, byte {found.good_bytes}: {why}" in out
    assert f"Good are {line - 1} lines, {found.good_bytes} of {found.size} bytes" in out
    assert ("It has no end" in out) == (not found.is_closed)


def test_a_file_that_is_no_record_is_one_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "notes.jsonl"
    path.write_text("shopping list\n")
    assert main(["journal", "verify", str(path)]) == Exit.BAD_FILE
    assert capsys.readouterr().err.count("\n") == 1
    with pytest.raises(RecordError, match="no journal"):
        inspect_file(path)


def test_losses_that_a_record_owns_up_to_are_added_up(
    path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    lines = lines_of(path)
    losses = [
        reframed(lines[1], seq=seq, event=RECORDS_LOST, facts={"samples": seq, "events": 1})
        for seq in (4, 5)
    ]
    strange = reframed(lines[1], seq=6, event=RECORDS_LOST, facts={"samples": "many"})
    path.write_bytes(b"".join([*lines[:4], *losses, strange]))
    main(["journal", "verify", str(path)])
    assert "9 samples and 2 events were left out" in capsys.readouterr().out


def test_show_prints_the_summary_and_the_state_of_the_record(
    path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["journal", "show", str(path), "--units", "F"]) == Exit.DONE
    out = capsys.readouterr().out
    assert "Run        run-1" in out
    assert "°F" in out
    assert "Every one of its 5 lines" in out


def test_a_record_goes_out_as_csv_with_empty_cells_for_no_value(
    path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["journal", "export", "--csv", str(path)]) == Exit.DONE
    rows = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    assert tuple(rows[0]) == COLUMNS
    assert [row["t_s"] for row in rows] == ["0.0", "4.0"]
    assert [row["heater_on"] for row in rows] == ["0", "1"]
    assert [row["bowl_c"] for row in rows] == ["31.5", ""]
    assert rows[0]["mode"] == "running"


def test_a_record_goes_out_as_json_with_null_for_no_value(
    path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["journal", "export", "--json", str(path)]) == Exit.DONE
    found = json.loads(capsys.readouterr().out)
    run = read_run(path)
    assert found["header"]["run_id"] == run.header.run_id
    assert found["header"]["phases"][0]["name"] == "melt"
    assert found["samples"][1]["bowl_c"] is None
    assert found["samples"][1]["heater_on"] is True
    assert found["events"][0]["facts"] == {"bowl_c": None}
    assert found["closing"]["outcome"] == "stopped"
    assert found["torn"] is False


def test_an_export_wants_to_know_which(path: Path) -> None:
    with pytest.raises(SystemExit):
        main(["journal", "export", str(path)])


def test_the_last_run_is_known_by_that_word_and_by_a_part_of_its_name(
    path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    whole = "Every one of its 5 lines"
    for word in ("last", "ru"):
        for action in ("verify", "show"):
            assert main(["journal", action, word, "--folder", str(path.parent)]) == Exit.DONE
            assert whole in capsys.readouterr().out
    assert main(["journal", "export", "--csv", "last", "--folder", str(path.parent)]) == Exit.DONE
    assert capsys.readouterr().out.startswith("seq,t_s,")


def test_a_run_that_is_not_there_is_one_sentence_by_word_and_by_path(
    path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["journal", "show", "nowhere", "--folder", str(path.parent)]) == Exit.USAGE
    assert "`bainward book list` shows them all" in capsys.readouterr().err
    assert main(["journal", "show", str(path.parent / "nowhere.jsonl")]) != Exit.DONE
    assert "can't be read" in capsys.readouterr().err


def test_the_runs_of_the_bench_are_on_a_shelf_of_their_own(
    path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(path.parent / "state"))
    tries = path.parent / "state" / "bainward" / "tries"
    tries.mkdir(parents=True)
    path.rename(tries / path.name)
    assert main(["journal", "show", "last"]) == Exit.USAGE
    assert "add --tries" in capsys.readouterr().err
    assert main(["journal", "show", "last", "--tries"]) == Exit.DONE
