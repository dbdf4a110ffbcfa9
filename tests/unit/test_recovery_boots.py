"""How often the computer has started lately; and a person at a terminal, heard by the line."""

import os
from pathlib import Path

import pytest

from controller.commands.boots import note_boot
from controller.commands.resuming import Typist
from controller.errors import AccessError
from controller.journal.records import Stamp

NEXT_BOOT = Stamp(utc="2031-02-03T11:04:00+00:00", boot_s=30.0, synchronised=True)


def boots(folder: Path, *names: str, every_s: float = 60.0, up_s: float = 30.0) -> int:
    """Start so often, each boot under its name; give the last count."""
    count = 0
    for index, name in enumerate(names):
        minutes, seconds = divmod(int(index * every_s), 60)
        utc = f"2031-02-03T10:{minutes:02}:{seconds:02}+00:00"
        count = note_boot(folder, name, Stamp(utc=utc, boot_s=up_s, synchronised=False))
    return count


def test_boots_of_the_last_ten_minutes_are_counted(tmp_path: Path) -> None:
    assert boots(tmp_path / "a", "one", "two", "three") == 3
    assert boots(tmp_path / "b", "one", "two", "three", every_s=601.0) == 1
    assert boots(tmp_path / "g", "one", "two", every_s=599.0) == 2
    assert boots(tmp_path / "h", "one", "two", up_s=599.0) == 2
    assert boots(tmp_path / "c", "one", "one", "one") == 1  # the same boot, started thrice
    assert boots(tmp_path / "d", "one", "two", "three", up_s=601.0) == 1
    assert boots(tmp_path / "e", "", "") == 1  # a kernel that does not name its boots
    assert boots(tmp_path / "f", *(f"boot-{n}" for n in range(30)), every_s=1.0) == 11


def test_a_wall_clock_that_went_back_counts_as_lately(tmp_path: Path) -> None:
    boots(tmp_path, "one", "two", every_s=600.0)
    epoch = Stamp(utc="1970-01-01T00:00:20+00:00", boot_s=20.0, synchronised=False)
    assert note_boot(tmp_path, "three", epoch) == 3


def test_a_damaged_note_of_boots_counts_as_lately(tmp_path: Path) -> None:
    (tmp_path / "boots").write_bytes(b"one yester\xffday\nrubbish\ntwo 2031-02-03\n")
    assert note_boot(tmp_path, "three", NEXT_BOOT) == 3


def test_a_note_of_boots_that_cannot_be_written_is_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "boots.new").mkdir()
    with pytest.raises(AccessError, match=r"The note of boots .* can't be written"):
        note_boot(tmp_path, "one", NEXT_BOOT)


def test_a_typist_is_heard_by_the_line_until_the_end_or_a_signal() -> None:
    reader, writer = os.pipe()
    with os.fdopen(reader) as typed, os.fdopen(writer, "w", buffering=1) as keys:
        halted = False
        typist = Typist(typed, lambda: halted)
        keys.write(" resume \n")
        assert typist.hear() == "resume"
        keys.close()
        assert typist.hear() is None
        halted = True
        assert typist.hear() is None


def test_a_typist_who_types_nothing_is_waited_for_until_a_signal() -> None:
    reader, writer = os.pipe()
    looks = iter([False, False, True])
    with os.fdopen(reader) as typed, os.fdopen(writer, "w"):
        assert Typist(typed, lambda: next(looks)).hear() is None
