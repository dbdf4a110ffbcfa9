"""Notes on a batch: kept whole through every interruption, and never overwritten unread."""

import os
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from pathlib import Path

import msgspec
import pytest

from controller.book.notes import (
    Bloom,
    Gloss,
    Notes,
    Remark,
    change_notes,
    notes_path,
    read_notes,
)
from controller.errors import AccessError, TableError


def glossy(notes: Notes) -> Notes:
    return msgspec.structs.replace(notes, gloss=Gloss.GLOSSY)


def test_notes_stand_beside_the_record_and_begin_empty(tmp_path: Path) -> None:
    record = tmp_path / "run-1.jsonl"
    assert notes_path(record) == tmp_path / "run-1.notes.json"
    assert read_notes(record) == Notes()


def test_what_was_noted_is_read_back(tmp_path: Path) -> None:
    record = tmp_path / "run-1.jsonl"
    noted = Notes(
        contains=("milk", "nuts"),
        bloom=Bloom.SPECKS,
        left_kg=0.3,
        remarks=(Remark(at_utc="2031-02-03T10:00:00+00:00", text='a "quoted" ü'),),
    )
    change_notes(record, lambda _: noted)
    assert read_notes(record) == noted


def test_a_change_keeps_what_it_does_not_name(tmp_path: Path) -> None:
    record = tmp_path / "run-1.jsonl"
    change_notes(record, lambda notes: msgspec.structs.replace(notes, made="one egg"))
    change_notes(record, glossy)
    assert read_notes(record) == Notes(made="one egg", gloss=Gloss.GLOSSY)


@pytest.mark.parametrize("broken", ["fsync", "replace"])
def test_a_write_that_fails_half_way_leaves_the_old_notes(
    broken: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    record = tmp_path / "run-1.jsonl"
    change_notes(record, lambda notes: msgspec.structs.replace(notes, made="one egg"))
    before = notes_path(record).read_bytes()

    def fail(*_: object) -> None:
        raise OSError(28, "No space left on device")

    if broken == "fsync":
        monkeypatch.setattr(os, "fsync", fail)
    else:
        monkeypatch.setattr(Path, "replace", fail)
    with pytest.raises(AccessError, match="No space left on device"):
        change_notes(record, glossy)
    assert notes_path(record).read_bytes() == before
    assert [path.name for path in tmp_path.iterdir()] == [notes_path(record).name]


def test_a_part_that_a_power_cut_left_is_no_note_and_no_hindrance(tmp_path: Path) -> None:
    record = tmp_path / "run-1.jsonl"
    change_notes(record, glossy)
    part = notes_path(record).with_name("run-1.notes.json.part")
    part.write_bytes(b'{"gloss":"du')
    assert read_notes(record).gloss is Gloss.GLOSSY
    change_notes(record, lambda notes: msgspec.structs.replace(notes, made="one egg"))
    assert read_notes(record) == Notes(made="one egg", gloss=Gloss.GLOSSY)
    assert not part.exists()


@pytest.mark.parametrize(
    "text", ["", "{", '{"gloss": "shiny"}', '{"glosz": "dull"}', '{"schema": 2}', "[]"]
)
def test_what_can_t_be_understood_is_never_overwritten(text: str, tmp_path: Path) -> None:
    record = tmp_path / "run-1.jsonl"
    notes_path(record).write_text(text, encoding="utf-8")
    with pytest.raises(TableError):
        change_notes(record, glossy)
    assert notes_path(record).read_text(encoding="utf-8") == text


def test_a_folder_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(AccessError, match=r"none can't be written"):
        change_notes(tmp_path / "none" / "run-1.jsonl", glossy)


def with_remark(remark: Remark, notes: Notes) -> Notes:
    return msgspec.structs.replace(notes, remarks=(*notes.remarks, remark))


def test_two_who_write_at_once_lose_nothing_of_each_other(tmp_path: Path) -> None:
    record, each = tmp_path / "run-1.jsonl", 15

    def write(name: str) -> None:
        for number in range(each):
            remark = Remark(at_utc="2031-02-03", text=f"{name} {number}")
            change_notes(record, partial(with_remark, remark))

    with ThreadPoolExecutor(2) as both:
        list(both.map(write, ("one", "other")))
    assert len({remark.text for remark in read_notes(record).remarks}) == 2 * each
