"""Which machine is meant by a word or a path.

Responsible for named machines of the bench, drawn ones and files; not for what a file may say.
"""

from pathlib import Path

from controller.errors import MachineFileError
from controller.files.complaints import nearest
from controller.files.machine_file import (
    REFERENCE,
    MachineFile,
    bench_machine_path,
    bench_machines,
    load_machine_file,
)
from controller.files.temperatures import quoted


def machine_meant(word: str | Path | None) -> MachineFile:
    """The machine of that name, or of the machine file at that path; None is "reference".

    A named machine of the bench wins over a file of that name without suffix.

    Raises:
        MachineFileError: there is none, or its file can't be used.
    """
    known = bench_machines()
    if word is None or word in known:
        return load_machine_file(bench_machine_path(str(word or REFERENCE)))
    path = Path(word)
    if isinstance(word, Path) or "/" in word or path.suffix or path.exists():
        return load_machine_file(path)
    close = nearest(word, known)
    hint = f"did you mean {close}?" if close else f"the bench has {', '.join(known)}."
    raise MachineFileError(
        f"There is no machine {quoted(word)}; {hint} A machine file of your own is named by its "
        "path, like ./kitchen.toml."
    )
