"""The latch file: whole or not at all, and never read as "nothing happened" by mistake.

Responsible for the file and its lock; full and read-only disks are met in test_guard_process of the
acceptance tests.
"""

import os
import zlib
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.errors import AccessError, BusyError
from controller.guard.decision import CAUSES_MAX, Cause
from controller.guard.latch import Latch, Memory, from_bytes, to_bytes

MEMORIES = st.builds(
    Memory,
    latched=st.sampled_from(Cause),
    since_s=st.integers(0, 2**40),
    armed=st.booleans(),
    tripped=st.sampled_from(["", "level-lost"]),
    also=st.lists(st.sampled_from(["tick-late", "bath-over-cap"]), max_size=2).map(tuple),
)
TRIPPED = Memory(latched=Cause.BATH_OVER_CAP, since_s=1_800_000_000, armed=True)


@given(memory=MEMORIES)
def test_every_memory_comes_back_as_it_was(memory: Memory) -> None:
    assert from_bytes(to_bytes(memory)) == memory


@given(memory=MEMORIES, data=st.data())
def test_a_file_torn_anywhere_is_unreadable(memory: Memory, data: st.DataObject) -> None:
    whole = to_bytes(memory)
    assert from_bytes(whole[: data.draw(st.integers(0, len(whole) - 1))]) is None
    spoilt = bytearray(whole)
    spoilt[data.draw(st.integers(0, len(whole) - 1))] ^= 1 << data.draw(st.integers(0, 7))
    assert from_bytes(bytes(spoilt)) is None


@pytest.mark.parametrize(
    "line",
    [
        *(b"{}", b"[]", b"3", b"no json", b'{"cause": "odd", "since_s": 0, "armed": true}'),
        *(
            b'{"armed": true, "cause": "controller-tripped", "since_s": 1, ' + rest + b"}"
            for rest in (
                *(b'"tripped": "NO"', b'"tripped": 3', b'"also": 3', b'"also": [3]'),
                *(b'"also": [""]', b'"also": ["a,b"]', b'"also": ["' + b"a" * 29 + b'"]'),
                b'"also": [' + b", ".join([b'"a"'] * (CAUSES_MAX + 1)) + b"]",
            )
        ),
    ],
)
def test_a_sound_checksum_does_not_make_a_memory(line: bytes) -> None:
    assert from_bytes(line + b"\n%08x\n" % zlib.crc32(line)) is None


def test_a_file_of_before_trips_were_told_is_read() -> None:
    line = b'{"armed": true, "cause": "bath-over-cap", "since_s": 1800000000, "what": ""}'
    assert from_bytes(line + b"\n%08x\n" % zlib.crc32(line)) == TRIPPED


def test_all_causes_that_a_guard_remembers_find_room_in_its_file(tmp_path: Path) -> None:
    longest = tuple("abcd"[at % 4] + "x" * 27 for at in range(CAUSES_MAX))
    memory = replace(TRIPPED, also=longest)
    Latch(tmp_path / "latch").write(memory)
    assert Latch(tmp_path / "latch").read() == memory


@pytest.mark.parametrize(
    ("memory", "causes"),
    [
        (Memory(), ()),
        (Memory(tripped="level-lost"), ()),
        (TRIPPED, ("bath-over-cap",)),
        # A cause of the guard's own is never hidden by a word that is not of it.
        (replace(TRIPPED, tripped="tick-late", also=("a", "b")), ("bath-over-cap", "a", "b")),
        (Memory(latched=Cause.CONTROLLER_TRIPPED, tripped="tick-late"), ("tick-late",)),
        (Memory(latched=Cause.CONTROLLER_TRIPPED), ("controller-tripped",)),
    ],
)
def test_the_causes_of_a_memory_begin_with_the_first(
    memory: Memory, causes: tuple[str, ...]
) -> None:
    assert memory.causes == causes


def test_no_file_is_a_first_start(tmp_path: Path) -> None:
    assert Latch(tmp_path / "latch").read() == Memory()


@pytest.mark.parametrize(
    ("memory", "found"),
    [
        (Memory(), Memory()),
        (TRIPPED, TRIPPED),
        (Memory(armed=True), Memory(latched=Cause.GUARD_RESTARTED)),
    ],
)
def test_what_was_written_is_found_by_the_next_guard(
    memory: Memory, found: Memory, tmp_path: Path
) -> None:
    Latch(tmp_path / "latch").write(memory)
    assert Latch(tmp_path / "latch").read() == found


@pytest.mark.parametrize("data", [b"", b"\0" * 200, to_bytes(Memory())[:-2], b"x" * 10_000])
def test_a_torn_file_latches(data: bytes, tmp_path: Path) -> None:
    (tmp_path / "latch").write_bytes(data)
    assert Latch(tmp_path / "latch").read().latched is Cause.LATCH_UNREADABLE


def test_a_file_that_can_not_be_read_latches(tmp_path: Path) -> None:
    (tmp_path / "latch").mkdir()
    assert Latch(tmp_path / "latch").read().latched is Cause.LATCH_UNREADABLE


def test_a_failed_writing_leaves_the_old_file_whole_and_no_litter(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    latch = Latch(tmp_path / "latch")
    latch.write(TRIPPED)

    def full(_file: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space"):
        latch.write(Memory())
    assert latch.read() == TRIPPED
    assert [path.name for path in tmp_path.iterdir()] == ["latch"]


def test_file_and_folder_are_both_synced_and_in_this_order(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[str] = []
    real = os.fsync

    def noted(file: int) -> None:
        seen.append(Path(f"/proc/self/fd/{file}").readlink().name)
        real(file)

    monkeypatch.setattr(os, "fsync", noted)
    Latch(tmp_path / "latch").write(Memory())
    assert seen == ["latch.new", tmp_path.name]


def test_a_second_guard_finds_the_latch_taken_even_after_it_was_rewritten(tmp_path: Path) -> None:
    path = tmp_path / "new" / "latch"
    with Latch(path) as first:
        first.write(Memory(armed=True))
        with pytest.raises(BusyError, match="stop that one first"), Latch(path):
            pytest.fail("two guards at once")
    with Latch(path):
        assert path.exists()


def test_a_folder_that_can_not_be_had_is_said_in_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")
    with pytest.raises(AccessError, match="permits no heat"), Latch(tmp_path / "file" / "latch"):
        pytest.fail("no folder, no latch")
