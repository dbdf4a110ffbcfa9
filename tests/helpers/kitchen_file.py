"""The machine file that the hardware page prints, and how a test changes it.

Responsible for finding and loading it; not for any expectation.
"""

import shlex
from pathlib import Path

from controller.files.machine_file import MachineFile, load_machine_file

README = Path(__file__).resolve().parents[2] / "hardware" / "README.md"
DRIVERS = README.with_name("DRIVERS.md")
HWMON = 'kind = "hwmon"\nname = "tmp102"'
ONE_WIRE = 'kind = "1-wire"\nid = "28-00000a1b2c3d"'
BATH = "[attach.bath]\n"


def example() -> str:
    """The machine file that the hardware page prints."""
    shown = README.read_text(encoding="utf-8").partition("<!-- machine -->")[2]
    return shown.partition("```toml\n")[2].partition("```")[0]


def served_as_files() -> str:
    """The machine file for a bench as files that the drivers' page prints."""
    shown = DRIVERS.read_text(encoding="utf-8").partition("<!-- files -->")[2]
    return shown.partition("```toml\n")[2].partition("```")[0]


def typed_there(mark: str) -> list[list[str]]:
    """The commands that the drivers' page has between two marks, without our name."""
    shown = DRIVERS.read_text(encoding="utf-8").partition(f"<!-- {mark} -->")[2]
    lines = shown.partition("```sh\n")[2].partition("```")[0].splitlines()
    commands = [shlex.split(line, comments=True) for line in lines]
    assert all(command[0] == "bainward" for command in commands)
    return [command[1:] for command in commands]


def loaded(folder: Path, *edits: tuple[str, str]) -> MachineFile:
    """The example with the first occurrence of each old text replaced."""
    text = example()
    for old, new in edits:
        assert old in text, f"the test's own text is gone: {old}"
        text = text.replace(old, new, 1)
    path = folder / "machine.toml"
    path.write_text(text, encoding="utf-8")
    return load_machine_file(path)
