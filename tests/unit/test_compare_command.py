"""`bainward compare`: runs with runs, sweeps with sweeps, and one sentence for all else."""

from pathlib import Path

import pytest

from controller.commands.main import main
from controller.errors import Exit
from tests.helpers.batch import write_batch
from tests.helpers.sweeps import a_later_sweep, a_sweep, write_table


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A record and two tables."""
    folder = tmp_path_factory.mktemp("compare")
    write_batch(folder / "run.jsonl")
    write_table(folder / "before.csv", a_sweep())
    write_table(folder / "after.csv", a_later_sweep())
    return folder


def said(capsys: pytest.CaptureFixture[str], *words: object) -> tuple[int, str, str]:
    """Exit code, standard output and standard error of one comparison."""
    code = main(["compare", *map(str, words)])
    streams = capsys.readouterr()
    return code, streams.out, streams.err


def test_two_runs_are_compared(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = said(capsys, folder / "run.jsonl", folder / "run.jsonl", "--units", "F")
    assert (code, err) == (Exit.DONE, "")
    assert "A    run run-1" in out
    assert "°F" in out
    assert "°C" not in out


def test_two_sweeps_are_compared(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = said(capsys, folder / "before.csv", folder / "after.csv", "--units", "F")
    assert (code, err) == (Exit.DONE, "")
    assert f"A  {folder}/before.csv, 21 machines\n" in out
    assert "°F" in out


@pytest.mark.parametrize(
    ("names", "picture"),
    [(("run.jsonl", "run.jsonl"), "runs.png"), (("before.csv", "after.csv"), "sweeps.svg")],
)
def test_a_picture_is_drawn_where_it_was_asked_for(
    folder: Path, names: tuple[str, str], picture: str, capsys: pytest.CaptureFixture[str]
) -> None:
    path = folder / picture
    code, out, _ = said(capsys, folder / names[0], folder / names[1], "--plot", path)
    assert code == Exit.DONE
    assert out.endswith(f"Picture: {path}\n")
    assert path.stat().st_size > 0


def test_a_torn_record_is_compared_as_far_as_it_goes_and_said_to_be_torn(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    torn = tmp_path / "torn.jsonl"
    data = (folder / "run.jsonl").read_bytes()
    torn.write_bytes(data[: len(data) // 2])
    code, out, err = said(capsys, folder / "run.jsonl", torn)
    assert code == Exit.BAD_FILE
    assert "its record is cut at a damaged line" in out
    assert "broke off" in out
    assert err.startswith(f"bainward: The record {torn} breaks off at a damaged line")
    assert err.count("\n") == 1


def torn_table(folder: Path) -> Path:
    """A table that ends in the middle of a row."""
    path = folder / "torn.csv"
    path.write_bytes((folder / "before.csv").read_bytes()[:-7])
    return path


def other_columns(folder: Path) -> Path:
    """A table with a column more."""
    path = folder / "other.csv"
    write_table(path, [{**row, "phase_seed_s": 60.0} for row in a_sweep()])
    return path


def notes(folder: Path) -> Path:
    """A file of something else."""
    path = folder / "notes.txt"
    path.write_text("shopping list\n", encoding="utf-8")
    return path


def bent(folder: Path) -> Path:
    """A record whose first line is damaged."""
    path = folder / "bent.jsonl"
    path.write_bytes((folder / "run.jsonl").read_bytes()[5:])
    return path


@pytest.mark.parametrize(
    ("first", "second", "code", "words"),
    [
        ("run.jsonl", "before.csv", Exit.USAGE, "compare two runs or two sweeps"),
        ("before.csv", "run.jsonl", Exit.USAGE, "run.jsonl is the record of a run and"),
        ("run.jsonl", "nowhere.jsonl", Exit.NO_PERMISSION, "nowhere.jsonl can't be read"),
        ("before.csv", "nowhere.csv", Exit.NO_PERMISSION, "nowhere.csv can't be read"),
        ("nowhere", "before.csv", Exit.NO_PERMISSION, "nowhere can't be read"),
        ("before.csv", ".", Exit.NO_PERMISSION, "can't be read (Is a directory)"),
        ("before.csv", torn_table, Exit.BAD_FILE, "torn.csv breaks off within its last line"),
        ("before.csv", other_columns, Exit.USAGE, "other.csv has phase_seed_s"),
        ("run.jsonl", notes, Exit.BAD_FILE, "notes.txt is no table of a sweep"),
        ("before.csv", bent, Exit.BAD_FILE, "bent.jsonl is no journal of bainward"),
        ("run.jsonl", "/dev/null", Exit.NO_PERMISSION, "/dev/null is no plain file; name a"),
        (notes, "before.csv", Exit.BAD_FILE, "notes.txt is no table of a sweep"),
    ],
)
def test_what_cannot_be_compared_is_one_sentence(
    folder: Path,
    first: object,
    second: object,
    code: Exit,
    words: str,
    capsys: pytest.CaptureFixture[str],
) -> None:
    paths = [one(folder) if callable(one) else folder / str(one) for one in (first, second)]
    found, out, err = said(capsys, *paths)
    assert found == code
    assert out == ""
    assert words in err
    assert err.count("\n") == 1


def test_a_picture_that_cannot_be_is_refused_before_anything_is_printed(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run = folder / "run.jsonl"
    code, out, err = said(capsys, run, run, "--plot", folder / "picture.doc")
    assert (code, out) == (Exit.USAGE, "")
    assert "must end in .png or .svg" in err
