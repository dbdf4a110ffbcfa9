"""A TOML file as a dict, or one sentence on why not.

Responsible for reading, size, encoding and syntax; not for what the keys mean.
"""

import importlib.util
import re
import tomllib
from pathlib import Path

_BIGGEST_BYTES = 256 * 1024  # own engineering value: a profile has 5 KiB; this stops /dev/zero
_AT_LINE = re.compile(r"\s*\(at line (\d+), column \d+\)$")


def package_folder(package: str) -> Path:
    """Where a top-level package of ours lies, without importing it.

    Raises:
        FileNotFoundError: it is not installed as a folder.
    """
    spec = importlib.util.find_spec(package)
    if spec is None or not spec.submodule_search_locations:
        raise FileNotFoundError(f"the package {package} is not installed; install bainward again")
    return Path(next(iter(spec.submodule_search_locations)))


def _read_text(path: Path) -> str:
    with path.open("rb") as file:
        content = file.read(_BIGGEST_BYTES + 1)
    if len(content) > _BIGGEST_BYTES:
        raise ValueError("is too big for a file of ours; give a TOML file of at most 256 KiB")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise ValueError("is not text in UTF-8; save it again as UTF-8") from None


def _syntax_sentence(error: tomllib.TOMLDecodeError) -> str:
    message = str(error)
    found = _AT_LINE.search(message)
    line = f"line {found.group(1)}" if found else "at its end"
    reason = _AT_LINE.sub("", message).removesuffix(" (at end of document)")
    return (
        f"{line}: not valid TOML ({reason}); write key = value, text in quotes, "
        "tables as [name] or [[name]]"
    )


def read_toml(path: Path) -> dict[str, object]:
    """The file's tables.

    Raises:
        ValueError: a sentence without the file's name: why it can't be read and what to do.
    """
    try:
        return tomllib.loads(_read_text(path))
    except FileNotFoundError:
        raise ValueError("there is no such file; check the path") from None
    except OSError as error:
        reason = error.strerror or "unknown reason"
        raise ValueError(f"can't be read ({reason}); check path and permissions") from None
    except tomllib.TOMLDecodeError as error:
        raise ValueError(_syntax_sentence(error)) from None
    except RecursionError:
        raise ValueError("is nested too deeply; write plain tables") from None
