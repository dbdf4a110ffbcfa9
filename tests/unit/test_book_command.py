"""`bainward book`: list, open, note, compare and export what was run."""

import csv
import io
import json
import shutil
from datetime import UTC, datetime
from pathlib import Path

import pytest

from controller.book.listing import bloom_is_due
from controller.book.notes import Bloom, Gloss, Notes, SetTest, notes_path, read_notes
from controller.book.shelf import entries, find
from controller.commands.main import main
from controller.errors import Exit, UsageError
from tests.helpers.batch import a_header, an_identity, write_batch

FIRST, SECOND = "20310203T100000Z-dark-ab12", "20310204T100000Z-dark-cd34"


@pytest.fixture(scope="module")
def records(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder of two runs, and a file that is none."""
    folder = tmp_path_factory.mktemp("records")
    for name, day in ((FIRST, 3), (SECOND, 4)):
        who = an_identity(name, f"2031-02-0{day}T10:00:00+00:00")
        write_batch(folder / f"{name}.jsonl", a_header(identity=who))
    (folder / "other.jsonl").write_text("not a record\n", encoding="utf-8")
    return folder


@pytest.fixture
def folder(records: Path, tmp_path: Path) -> Path:
    """The same, to be written in."""
    return Path(shutil.copytree(records, tmp_path / "runs"))


def said(capsys: pytest.CaptureFixture[str], folder: Path, *words: str) -> tuple[int, str, str]:
    code = main(["book", "--folder", str(folder), *words])
    streams = capsys.readouterr()
    return code, streams.out, streams.err


def test_the_list_has_a_line_a_run_newest_first(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, _ = said(capsys, folder, "list")
    assert code == Exit.DONE
    head, *lines = out.splitlines()
    assert head.split()[:3] == ["Run", "Begun", "Batch"]
    assert [line.split()[0] for line in lines] == [SECOND, FIRST]


def test_where_the_records_are_may_be_said_before_the_action_or_after_it(
    folder: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    tries = tmp_path / "bainward" / "tries"
    shutil.copytree(folder, tries)
    for words in (["--tries", "list"], ["list", "--tries"]):
        assert main(["book", *words]) == Exit.DONE
        assert SECOND in capsys.readouterr().out
    assert main(["book", "label", "last", "--tries"]) == Exit.DONE
    assert main(["book", "list", "--folder", str(tries)]) == Exit.DONE
    assert FIRST in capsys.readouterr().out


def test_an_empty_book_says_where_the_runs_of_the_bench_are(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    assert main(["book", "list"]) == Exit.DONE
    assert "bainward book list --tries" in capsys.readouterr().out
    assert main(["book", "label", "last"]) == Exit.USAGE
    assert "--tries" in capsys.readouterr().err


def test_the_list_of_another_machine_is_empty_and_says_so(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert "No run is in" in said(capsys, folder, "list", "--machine", "other")[1]
    assert "No run is in" in said(capsys, folder / "none", "list")[1]


def test_notes_add_up_and_are_shown(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    said(capsys, folder, "note", "ab12", "--gloss", "glossy", "--remark", "fine")
    code, out, _ = said(
        capsys, folder, "note", "ab12", "--bloom", "none", "--left", "300 g", "--remelts", "1"
    )
    assert code == Exit.DONE
    notes = read_notes(folder / f"{FIRST}.jsonl")
    assert (notes.gloss, notes.bloom, notes.left_kg) == (Gloss.GLOSSY, Bloom.NONE, 0.3)
    assert "300 g left over, melted once" in out
    opened = said(capsys, folder, "open", "ab12", "--units", "F")[1]
    assert "fine" in opened
    assert "\nClean: Wipe bowl" in opened
    assert "64.4 °F to 69.8 °F" in opened  # 18 to 21 °C


@pytest.mark.parametrize(
    ("words", "hint"),
    [
        (["--left", "300 kg"], "did you mean 300 g"),
        (["--left=-300 g"], "did you mean 300 g"),
        (["--left", "300"], '"300 g"'),
        (["--remelts", "1.5"], "not a whole number"),
        (["--remelts", "500"], "should be from 0 to 20"),
        (["--contains", "milch"], "did you mean milk"),
        (["--remark", "\x07"], "printable"),
        ([], "Nothing to note"),
    ],
)
def test_a_note_that_can_t_be_meant_is_refused_with_the_likely_slip(
    words: list[str], hint: str, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, err = said(capsys, folder, "note", "last", *words)
    assert (code, out) == (Exit.USAGE, "")
    assert hint in err
    assert err.count("\n") == 1
    assert "?." not in err
    assert not notes_path(folder / f"{SECOND}.jsonl").exists()


def test_nothing_is_noted_of_a_file_that_is_no_record(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, err = said(capsys, folder, "note", "other", "--gloss", "glossy")
    assert (code, out) == (Exit.BAD_FILE, "")
    assert "other.jsonl is no journal of bainward" in err
    assert not notes_path(folder / "other.jsonl").exists()


def test_a_label_of_a_damaged_or_cut_record_says_so_beside_it(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    whole = said(capsys, folder, "label", "ab12")
    path = folder / f"{FIRST}.jsonl"
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join(lines[:50]))
    cut = said(capsys, folder, "label", "ab12")
    path.write_bytes(b"".join([*lines[:50], b"junk\n", *lines[50:]]))
    page = tmp_path / "label.html"
    torn = said(capsys, folder, "label", "ab12", "--out", str(page))
    assert [code for code, _, _ in (whole, cut, torn)] == [Exit.DONE] * 3
    assert whole[1] == cut[1] == torn[1].partition("Label: ")[0]
    assert whole[2] == ""
    assert "has no end" in cut[2]
    assert "is damaged part of the way" in torn[2]
    assert '<p class="warn">The record of' in page.read_text(encoding="utf-8")


def test_a_run_is_found_by_any_part_of_its_name(folder: Path) -> None:
    assert find(folder, "cd34").stem == SECOND
    assert find(folder, "last").stem == SECOND
    assert find(folder, str(folder / f"{FIRST}.jsonl")).stem == FIRST


@pytest.mark.parametrize(
    ("word", "hint"),
    [
        ("dark", "could mean 2 runs"),
        ("zz", "`bainward book list` shows them all, and --tries those of the bench"),
    ],
)
def test_a_word_that_means_no_run_or_two_is_refused(word: str, hint: str, folder: Path) -> None:
    with pytest.raises(UsageError, match=hint):
        find(folder, word)


def test_a_quick_look_sees_what_the_whole_record_says(folder: Path) -> None:
    newest = entries(folder)[0]
    assert newest.outcome == "complete"
    assert newest.lasted_s > 0.0


def test_notes_that_can_t_be_understood_hide_no_run(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    notes_path(folder / f"{FIRST}.jsonl").write_text("{", encoding="utf-8")
    assert "can't be read" in said(capsys, folder, "list")[1]
    assert said(capsys, folder, "open", "ab12")[0] == Exit.BAD_FILE


def test_two_runs_are_compared_with_their_notes(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    said(capsys, folder, "note", "ab12", "--snap", "soft")
    out = said(capsys, folder, "compare", "ab12", "cd34")[1]
    assert "A    run " + FIRST in out
    assert "Noted of A\nSnap  soft\n" in out
    assert "Noted of B" not in out


def test_the_cook_s_own_word_on_the_set_test_is_the_last(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    said(capsys, folder, "note", "ab12", "--set-test", "not-set")
    assert read_notes(folder / f"{FIRST}.jsonl").set_test is SetTest.NOT_SET
    rows = json.loads(said(capsys, folder, "export", "--json")[1])
    assert [row["set_test"] for row in rows] == ["in-temper", "not-set"]


def test_csv_and_json_hold_the_same(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    said(capsys, folder, "note", "ab12", "--contains", "nuts,milk", "--remark", 'a, "b"')
    objects = json.loads(said(capsys, folder, "export", "--json")[1])
    rows = list(csv.DictReader(io.StringIO(said(capsys, folder, "export", "--csv")[1])))
    assert [row["run_id"] for row in rows] == [one["run_id"] for one in objects]
    assert rows[1]["contains"] == "milk; nuts"
    assert objects[1]["contains"] == ["milk", "nuts"]
    assert rows[1]["remarks"].endswith('a, "b"')
    assert float(rows[0]["batch_kg"]) == objects[0]["batch_kg"]


@pytest.mark.parametrize(
    ("day", "notes", "is_due"),
    [
        (9, Notes(gloss=Gloss.GLOSSY), False),
        (11, Notes(gloss=Gloss.GLOSSY), True),
        (11, Notes(), False),
        (11, Notes(gloss=Gloss.GLOSSY, bloom=Bloom.NONE), False),
    ],
)
def test_a_week_later_somebody_is_to_look_for_bloom(
    day: int, notes: Notes, *, is_due: bool
) -> None:
    now = datetime(2031, 2, day, tzinfo=UTC)
    assert bloom_is_due("2031-02-03T10:00:00+00:00", notes, now) is is_due
