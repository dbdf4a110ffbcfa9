"""Reading a run back, whatever became of the machine that wrote it.

Responsible for trusting whole lines only; not for what they mean (controller.report).
"""

from pathlib import Path

from controller.errors import AccessError, BainwardError, RecordError
from controller.journal.lines import unframed
from controller.journal.parsing import header_of_fields, record_of_line
from controller.journal.records import SCHEMA, Closing, Header, Note, Run, Sample

SUFFIX = ".jsonl"


def read_run(path: Path) -> Run:
    """The run in `path`, up to the first line that is not whole.

    Raises:
        AccessError: the file can't be read.
        RecordError: the file is no journal, or its schema is newer than this program.
    """
    first, *rest = bytes_of(path).split(b"\n")
    header = header_of_line(first, path, is_whole=bool(rest))
    *whole, tail = rest
    return _run(header, whole, torn=bool(tail))


def read_header(path: Path) -> Header:
    """The header alone, without reading a long file.

    Raises:
        AccessError: the file can't be read.
        RecordError: the file is no journal, or its schema is newer than this program.
    """
    try:
        with path.open("rb") as file:
            first = file.readline()
    except OSError as error:
        raise AccessError(
            f"The journal {path} can't be read ({error.strerror}); name one that exists and is"
            " readable."
        ) from error
    return header_of_line(first.removesuffix(b"\n"), path, is_whole=first.endswith(b"\n"))


def bytes_of(path: Path) -> bytes:
    """All that is in `path`.

    Raises:
        AccessError: the file can't be read.
    """
    try:
        return path.read_bytes()
    except OSError as error:
        raise AccessError(
            f"The journal {path} can't be read ({error.strerror}); name one that exists and is"
            " readable."
        ) from error


def find_newest(folder: Path, machine: str) -> Run | None:
    """The newest run of `machine` in `folder`, or None. Files that are no journals are passed over.

    Raises:
        AccessError: its record can't be read.
    """
    found = [
        (header.began_utc, path)
        for path in folder.glob(f"*{SUFFIX}")
        if (header := _header_or_none(path)) is not None and header.machine_name == machine
    ]
    return read_run(max(found)[1]) if found else None


def find_unfinished(folder: Path, machine: str) -> Run | None:
    """The newest run of `machine` in `folder` if it has no closing record, else None.

    A run that broke off before a later one began is history, not unfinished business.
    """
    run = find_newest(folder, machine)
    return run if run is not None and run.closing is None else None


def _header_or_none(path: Path) -> Header | None:
    try:
        return read_header(path)
    except BainwardError:
        return None


def _no_journal(path: Path) -> RecordError:
    return RecordError(
        f"{path} is no journal of bainward, or its first line is damaged; name a {SUFFIX} file"
        " that a run has written."
    )


def header_of_line(line: bytes, path: Path, *, is_whole: bool) -> Header:
    """The header in the first line of `path`; `is_whole` when the line has its end.

    Raises:
        RecordError: the file is no journal, or its schema is newer than this program.
    """
    fields = unframed(line)
    if not is_whole or fields is None or fields.get("kind") != "header":
        raise _no_journal(path)
    schema = fields.get("schema")
    if isinstance(schema, int) and schema > SCHEMA:
        raise RecordError(
            f"The journal {path} has schema {schema} and this program reads up to {SCHEMA};"
            " read it with the version of bainward that wrote it, or a newer one."
        )
    try:
        return header_of_fields(fields)
    except (KeyError, TypeError, ValueError) as error:
        raise _no_journal(path) from error


def _run(header: Header, lines: list[bytes], *, torn: bool) -> Run:
    """Take lines as long as each is whole, next in sequence and before the closing."""
    samples: list[Sample] = []
    notes: list[Note] = []
    closing: Closing | None = None
    for seq, line in enumerate(lines, start=1):
        record = record_of_line(line, seq) if closing is None else None
        match record:
            case Sample():
                samples.append(record)
            case Note():
                notes.append(record)
            case Closing():
                closing = record
            case _:
                torn = True
                break
    return Run(
        header=header, samples=tuple(samples), events=tuple(notes), closing=closing, torn=torn
    )
