"""Where exactly a journal breaks, and how much of it is good.

Responsible for telling it; not for reading what is good (reader).
"""

from dataclasses import dataclass
from pathlib import Path

from controller.journal.lines import unframed
from controller.journal.parsing import record_of_line
from controller.journal.reader import bytes_of, header_of_line
from controller.journal.records import RECORDS_LOST, Closing, Note


@dataclass(frozen=True, slots=True, kw_only=True)
class Break:
    """The first line that can't be trusted."""

    line: int  # from 1, as editors count
    offset: int  # bytes before it: all of them good
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Inspection:
    """What there is of a journal."""

    run_id: str
    lines: int  # good ones, the header among them
    size: int  # bytes of the whole file
    ends_at_s: float  # run time of the last good record
    is_closed: bool  # it ends with its closing record
    lost_samples: int  # by its own account
    lost_events: int
    broken: Break | None

    @property
    def good_bytes(self) -> int:
        """How much of the file can be trusted."""
        return self.size if self.broken is None else self.broken.offset


def inspect_file(path: Path) -> Inspection:
    """Read `path` line by line up to the first that is not as it was written.

    Raises:
        AccessError: the file can't be read.
        UsageError: the file is no journal, or its schema is newer than this program.
    """
    data = bytes_of(path)
    first, *rest = data.split(b"\n")
    header = header_of_line(first, path, is_whole=bool(rest))
    offset, ends_at_s, lost = len(first) + 1, 0.0, [0, 0]
    closing, broken, lines = False, None, 1
    tail = rest.pop()
    for seq, line in enumerate(rest, start=1):
        record = record_of_line(line, seq)
        if record is None or closing:
            broken = Break(line=seq + 1, offset=offset, why=_why(line, seq, is_closed=closing))
            break
        offset += len(line) + 1
        lines, ends_at_s, closing = seq + 1, record.t_s, isinstance(record, Closing)
        if isinstance(record, Note) and record.name == RECORDS_LOST:
            lost = [lost[0] + _count(record, "samples"), lost[1] + _count(record, "events")]
    if broken is None and tail:
        why = f"it ends after {len(tail)} bytes of a line, without that line's end: a torn write"
        broken = Break(line=lines + 1, offset=offset, why=why)
    return Inspection(
        run_id=header.run_id,
        lines=lines,
        size=len(data),
        ends_at_s=ends_at_s,
        is_closed=closing,
        lost_samples=lost[0],
        lost_events=lost[1],
        broken=broken,
    )


def _count(note: Note, key: str) -> int:
    count = note.facts.get(key, 0.0)
    return int(count) if isinstance(count, float) else 0


def _why(line: bytes, seq: int, *, is_closed: bool) -> str:
    if is_closed:
        return "it follows the closing record, which is the last of a run"
    fields = unframed(line)
    if fields is None:
        return "its bytes don't match its checksum"
    if fields.get("seq") != seq:
        return f"it is number {fields.get('seq')} where {seq} should be"
    return "it is whole, but no record of this schema"
