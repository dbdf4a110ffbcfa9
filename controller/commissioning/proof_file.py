"""The file beside a machine file that says what was shown of the machine, and when.

Responsible for finding, reading and writing it whole; not for what must be in it (proofs).
"""

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import msgspec
from msgspec.structs import replace

from controller.book.pen import alone, write_whole
from controller.commissioning.proofs import (
    RULES,
    SCHEMA,
    Done,
    Proofs,
    Step,
    ending_soon,
    lacking,
    made_of,
    needed_for,
)
from controller.core.profile import Kind
from controller.errors import AccessError, RecordError, UnprovenError
from controller.files.machine_file import MachineFile

_SUFFIX = ".proofs.json"


def proofs_path(machine_path: Path) -> Path:
    """Where the proofs of the machine of that file are: beside it, so that they go with it."""
    return machine_path.with_name(f"{machine_path.stem}{_SUFFIX}")


def read_proofs(machine_path: Path, machine: str) -> Proofs:
    """What was shown of a machine; nothing where there is no file.

    Raises:
        AccessError: the file can't be read.
        RecordError: it can't be understood, or is another machine's.
    """
    path = proofs_path(machine_path)
    try:
        proofs = msgspec.json.decode(path.read_bytes(), type=Proofs)
    except FileNotFoundError:
        return Proofs(machine=machine)
    except OSError as error:
        raise AccessError(
            f"{path}, which says what was proven of machine {machine}, can't be read "
            f"({error.strerror}); make it readable for this user."
        ) from error
    except (msgspec.DecodeError, UnicodeDecodeError) as error:
        raise RecordError(
            f"{path}, which says what was proven of machine {machine}, can't be understood "
            f"({error}); move it away, and go through the steps again."
        ) from error
    if proofs.schema != SCHEMA:
        raise RecordError(
            f"{path} has schema {proofs.schema}, and this bainward knows {SCHEMA}; take the one "
            "that wrote it, or go through the steps again."
        )
    if proofs.machine != machine:
        raise RecordError(
            f"{path} says what was proven of machine {proofs.machine}, not of {machine}; move it "
            "away, and go through the steps again."
        )
    return proofs


def change_proofs(machine_path: Path, machine: str, change: Callable[[Proofs], Proofs]) -> Proofs:
    """Read, change and write it, with nobody else between; what it holds then.

    Raises:
        AccessError: it can't be read or written; what was there before still is.
        RecordError: what is there can't be understood.
    """
    with alone(machine_path.parent):
        proofs = change(read_proofs(machine_path, machine))
        text = msgspec.json.format(msgspec.json.encode(proofs), indent=2)
        write_whole(proofs_path(machine_path), text + b"\n")
    return proofs


def done_now(
    step: Step, machine_file: MachineFile, now: datetime, facts: dict[str, str], *, on: str
) -> Done:
    """A step, or a part of one, that is shown now on that computer."""
    return Done(
        done_utc=now.isoformat(timespec="seconds"),
        of=made_of(step, machine_file),
        on=on,
        facts=facts,
    )


def with_step(
    step: Step, machine_file: MachineFile, now: datetime, facts: dict[str, str], *, on: str
) -> Callable[[Proofs], Proofs]:
    """A change that dates a step, and forgets the parts of it."""
    done = done_now(step, machine_file, now, facts, on=on)

    def change(proofs: Proofs) -> Proofs:
        parts = {k: v for k, v in proofs.parts.items() if not k.startswith(f"{step}/")}
        return replace(proofs, steps={**proofs.steps, str(step): done}, parts=parts)

    return change


def refuse_unproven(
    machine_file: MachineFile, profile: str, kind: Kind, now: datetime, *, on: str
) -> tuple[str, ...]:
    """Let no real machine heat before it was shown to be safe to; a bench needs nothing.

    Returns:
        A sentence for each proof that ends soon.

    Raises:
        UnprovenError: a step is missing, too old, of other parts or of another computer; the
            sentence names the next.
        AccessError: the file that says so can't be read.
        RecordError: it can't be understood.
    """
    needed, path = needed_for(machine_file, profile, kind), machine_file.path
    if not needed or path is None:
        return ()
    proofs = read_proofs(path, machine_file.machine.name)
    found = lacking(proofs, machine_file, now, needed, path, on=on)
    if found:
        raise UnprovenError(f"{found[0].why}; do this next: `{found[0].command}`.")
    return tuple(
        f"{RULES[step].what} is to be shown again within {left_d} d: `bainward "
        f"{RULES[step].words} --machine {path}`."
        for step, left_d in ending_soon(proofs, now, needed)
    )
