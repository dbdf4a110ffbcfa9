"""A TOML file as a dict, or one sentence on why not.

Responsible for reading, size, encoding and syntax; not for what the keys mean.
"""

import importlib.util
import re
import tomllib
from pathlib import Path

from controller.errors import BainwardError
from controller.files.temperatures import quoted

_BIGGEST_BYTES = 256 * 1024  # own engineering value: a profile has 5 KiB; this stops /dev/zero
_AT_LINE = re.compile(r"\s*\(at line (\d+), column \d+\)$")


def package_folder(package: str) -> Path:
    """Where a top-level package of ours lies, without importing it.

    Raises:
        BainwardError: it is not installed as a folder.
    """
    spec = importlib.util.find_spec(package)
    if spec is None or not spec.submodule_search_locations:
        raise BainwardError(f"The package {package} is not installed; install bainward again.")
    return Path(next(iter(spec.submodule_search_locations)))


def _refuse_a_pipe(path: Path) -> None:
    """Opening a pipe would wait for ever for somebody to write."""
    if path.is_fifo() or path.is_socket():
        raise ValueError("is no plain file; give the path of a TOML file")


def _read_bytes(path: Path) -> bytes:
    try:
        _refuse_a_pipe(path)
        with path.open("rb") as file:
            return file.read(_BIGGEST_BYTES + 1)
    except FileNotFoundError:
        raise ValueError(f"there is no such file as {path.absolute()}; check the path") from None
    except OSError as error:
        reason = error.strerror or "unknown reason"
        raise ValueError(f"can't be read ({reason}); check path and permissions") from None
    except ValueError as error:
        if "null byte" not in str(error):
            raise
        raise ValueError("is no path; write one without null bytes") from None


def _read_text(path: Path) -> str:
    content = _read_bytes(path)
    if len(content) > _BIGGEST_BYTES:
        raise ValueError("is too big for a file of ours; give a TOML file of at most 256 KiB")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise ValueError("is not text in UTF-8; save it again as UTF-8") from None


def _syntax_sentence(error: tomllib.TOMLDecodeError) -> str:
    message = str(error)
    found = _AT_LINE.search(message)
    line = f"in line {found.group(1)}" if found else "at its end"
    reason = _AT_LINE.sub("", message).removesuffix(" (at end of document)")
    return (
        f"not valid TOML {line} ({reason}); write key = value, text in quotes, "
        "tables as [name] or [[name]]"
    )


def read_toml(path: Path) -> dict[str, object]:
    """The file's tables.

    Raises:
        ValueError: a sentence without the file's name: why it can't be read and what to do.
    """
    text = _read_text(path)
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ValueError(_syntax_sentence(error)) from None
    except RecursionError:
        raise ValueError("is nested too deeply; write plain tables") from None
    except ValueError:  # Python reads no number of more than 4300 digits
        raise ValueError("holds a number that is too long; write a shorter one") from None


def beside(folder: Path, written: str) -> Path:
    """A path written in a file: "~" is the home folder, a relative one lies beside the file.

    Raises:
        ValueError: "~somebody" has no home folder.
    """
    try:
        return folder / Path(written).expanduser()
    except RuntimeError:
        raise ValueError(
            f"{quoted(written)} names no home folder; write the whole path, beginning with /"
        ) from None
