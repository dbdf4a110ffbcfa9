"""The command `watch`: what to watch, lines for changes, and its one-line refusals."""

from pathlib import Path

import pytest

from controller.commands.main import main
from controller.errors import Exit
from controller.files.machine_file import bench_machine_path
from controller.screen.terminal import has_colours
from tests.helpers.batch import write_batch


@pytest.fixture(autouse=True)
def runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folder of records."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    folder = tmp_path / "bainward" / "runs"
    folder.mkdir(parents=True)
    return folder


def said(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    code = main(["watch", *words])
    out, err = capsys.readouterr()
    return code, out, err


@pytest.mark.parametrize("word", ["last", "run-a", "run-a.jsonl", ""])
def test_a_finished_record_is_told_in_a_line(
    runs: Path, capsys: pytest.CaptureFixture[str], word: str
) -> None:
    path = runs / "run-a.jsonl"
    write_batch(path)
    code, out, err = said(capsys, str(path) if word in {"", "run-a.jsonl"} else word)
    assert (code, err) == (Exit.DONE, "")
    assert out[8:] == "  Not running: No run goes on. The last one said: Finished: in temper.\n"


@pytest.mark.parametrize(
    ("words", "code", "sentence"),
    [
        ((), Exit.USAGE, "It is not known what to watch; name a machine with --machine FILE"),
        (("last",), Exit.USAGE, "There is no run in"),
        (("last", "--try"), Exit.USAGE, "A record (last) is watched without a broker; leave out"),
        (("none.jsonl",), Exit.NO_PERMISSION, "none.jsonl can't be read"),
        (("--machine", "none.toml"), Exit.BAD_FILE, "/none.toml; check the path"),
        (
            ("--machine", str(bench_machine_path("reference"))),
            Exit.USAGE,
            "has no [mqtt], so it is not known whom to ask",
        ),
    ],
)
def test_what_can_not_be_watched_is_told_in_one_sentence(
    capsys: pytest.CaptureFixture[str], words: tuple[str, ...], code: Exit, sentence: str
) -> None:
    found, out, err = said(capsys, *words)
    assert found == code
    assert sentence in err
    assert len(err.splitlines()) == 1
    assert out == ""


def test_a_damaged_record_is_told(runs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = runs / "run-a.jsonl"
    write_batch(path)
    path.write_bytes(path.read_bytes().replace(b'"t_s":40.000', b'"t_s":40.001'))
    code, _, err = said(capsys, "last")
    assert code == Exit.BAD_FILE
    assert "is damaged after byte" in err
    assert "bainward journal verify says how" in err


@pytest.mark.parametrize(
    ("surroundings", "colours"),
    [
        ({"TERM": "xterm"}, True),
        ({"TERM": "xterm", "NO_COLOR": ""}, True),  # no-color.org: when present and not empty
        ({"TERM": "xterm", "NO_COLOR": "1"}, False),
        ({"TERM": "dumb"}, False),
        ({}, False),
    ],
)
def test_colours_are_for_who_wants_them(surroundings: dict[str, str], colours: bool) -> None:
    assert has_colours(surroundings) is colours
