"""Which machine is meant by a word or a path.

Responsible for named machines of the bench, drawn ones and files; not for what a file may say.
"""

from dataclasses import replace
from pathlib import Path

from controller.core.records import replace as replaced
from controller.errors import MachineFileError
from controller.files.attach_shape import BenchAttach
from controller.files.complaints import nearest
from controller.files.machine_file import (
    REFERENCE,
    MachineFile,
    bench_machine_path,
    bench_machines,
    load_machine_file,
)
from controller.files.temperatures import quoted
from hardware.bench.draws import NAME_PATTERN, Drawn, drawn_named

SEED = 1  # of the noise, unless another is asked for
ANSWER_AFTER_S = 20.0  # as in the files of the bench's machines


def machine_meant(word: str | Path | None) -> MachineFile:
    """The machine of that name, or of the machine file at that path; None is "reference".

    A machine of the bench, drawn or named, wins over a file of that name without suffix.

    Raises:
        MachineFileError: there is none, or its file can't be used.
    """
    known = bench_machines()
    if word is None or word in known:
        return load_machine_file(bench_machine_path(str(word or REFERENCE)))
    drawn = drawn_named(word) if isinstance(word, str) else None
    if drawn is not None:
        return _drawn(drawn)
    path = Path(word)
    if path.stem in known and path.name == str(word) and not path.exists():
        raise MachineFileError(
            f"There is no file {path} in this folder; the bench's machine is meant by {path.stem} "
            "alone."
        )
    if isinstance(word, Path) or "/" in word or path.suffix or (word and path.exists()):
        return load_machine_file(path)
    close = nearest(word, known)
    hint = f"did you mean {close}?" if close else f"the bench has {', '.join(known)}"
    hint += "" if close else f" and {NAME_PATTERN}, numbered from 1."
    raise MachineFileError(
        f"There is no machine {quoted(word)}; {hint} A machine file of your own is named by its "
        "path, like ./kitchen.toml."
    )


def _drawn(drawn: Drawn) -> MachineFile:
    """The file that the owner of a drawn machine would have written; limits as the reference's."""
    reference = load_machine_file(bench_machine_path(REFERENCE))
    told = drawn.told
    machine = replaced(
        reference.machine,
        name=drawn.name,
        batch_kg=told.batch_kg,
        water_kg=told.water_kg,
        heater_w=told.heater_w,
        vessel_j_per_k=told.vessel_j_per_k,
        loss_w_per_k=told.loss_w_per_k,
        room_c=told.room_c,
    )
    attach = BenchAttach(machine=drawn.name, seed=SEED, answer_after_s=ANSWER_AFTER_S)
    return replace(reference, machine=machine, attach=attach)
