"""A file to come, looked at before a run: one sentence of what is in its way, and no trace."""

import os
from pathlib import Path

import pytest

from controller.errors import AccessError
from controller.report.target import check_target


def refusal(path: Path) -> str:
    """The sentence."""
    with pytest.raises(AccessError) as refused:
        check_target(path, "picture")
    said = str(refused.value)
    assert str(path) in said
    assert "\n" not in said
    return said


def test_a_file_that_can_be_written_leaves_no_trace_of_the_look(tmp_path: Path) -> None:
    check_target(tmp_path / "new.svg", "picture")
    assert list(tmp_path.iterdir()) == []


def test_a_file_that_is_there_already_stays_as_it_is(tmp_path: Path) -> None:
    (tmp_path / "old.svg").write_text("drawn before", encoding="utf-8")
    check_target(tmp_path / "old.svg", "picture")
    assert (tmp_path / "old.svg").read_text(encoding="utf-8") == "drawn before"


def test_a_folder_that_is_not_there_is_named(tmp_path: Path) -> None:
    said = refusal(tmp_path / "nowhere" / "p.svg")
    assert f"there is no folder {tmp_path / 'nowhere'}; make it." in said


def test_a_folder_in_its_place_is_named(tmp_path: Path) -> None:
    assert "it is a folder; name a file." in refusal(tmp_path)


def test_a_pipe_is_refused_and_never_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.svg")
    assert "it is no plain file; name another." in refusal(tmp_path / "pipe.svg")


def test_a_place_in_which_nobody_may_write_is_refused() -> None:
    # The kernel's own files can't be added to by anybody, root included.
    assert "name one in a folder that you may write in." in refusal(Path("/proc/p.svg"))


def test_a_name_that_no_disk_takes_is_refused(tmp_path: Path) -> None:
    assert "(File name too long)" in refusal(tmp_path / f"{'p' * 300}.svg")
