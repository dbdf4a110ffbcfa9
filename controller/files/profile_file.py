"""Loads a profile by its shipped name or from a file, checked against the machine.

Responsible for finding, reading and refusing; not for the rules (profile_rules).
"""

from pathlib import Path

from pydantic import ValidationError

from controller.core.lacks import widened
from controller.core.machine import Machine
from controller.core.profile import Profile
from controller.errors import ProfileError
from controller.files.complaints import complaints, nearest
from controller.files.mistaken import PROFILE, refuse_another
from controller.files.profile_rules import rule_complaints, seed_share
from controller.files.profile_shape import ProfileTable
from controller.files.temperatures import quoted
from controller.files.toml_file import package_folder, read_toml

__all__ = ["load_profile", "seed_share", "shipped_profiles"]

_SUFFIX = ".toml"


def shipped_profiles() -> tuple[str, ...]:
    """The names of the profiles that come with bainward, in alphabetical order."""
    return tuple(sorted(path.stem for path in package_folder("profiles").glob(f"*{_SUFFIX}")))


def _find(name_or_path: str) -> Path:
    """The file meant; a shipped name wins over a file of that name without suffix."""
    shipped = shipped_profiles()
    if name_or_path in shipped:
        return package_folder("profiles") / f"{name_or_path}{_SUFFIX}"
    if "/" in name_or_path or name_or_path.endswith(_SUFFIX):
        return _there(Path(name_or_path), shipped)
    close = nearest(name_or_path, shipped)
    hint = f"did you mean {close}?" if close else f"shipped are {', '.join(shipped)}."
    raise ProfileError(
        f"There is no profile {quoted(name_or_path)}; {hint} A file of your own is named by its "
        f"path, like ./mine{_SUFFIX}."
    )


def _there(path: Path, shipped: tuple[str, ...]) -> Path:
    """The same path.

    Raises:
        ProfileError: it is a shipped profile's own file name, and no such file is here.
    """
    if path.stem in shipped and path.name == str(path) and not path.exists():
        raise ProfileError(
            f"There is no file {path} in this folder; the shipped profile is meant by "
            f"{path.stem} alone."
        )
    return path


def load_profile(name_or_path: str, machine: Machine) -> Profile:
    """The profile, with amounts and bands as `machine` needs them, and every rule of it kept.

    Args:
        name_or_path: a shipped name such as "dark", or the path of a file (with "/" or ".toml").
        machine: the machine that is to run it.

    Raises:
        ProfileError: it can't be found, read or used; one line for each fault, each naming file,
            key, what is wrong and what to write.
    """
    path = _find(name_or_path)
    try:
        raw = read_toml(path)
        refuse_another(raw, PROFILE)
        profile = ProfileTable.model_validate(raw).core(machine)
    except ValidationError as error:
        raise _refused(path, complaints(error, ProfileTable, raw)) from None
    except ValueError as error:
        raise ProfileError(f"{path.name}: {error}") from None
    if found := rule_complaints(profile, machine):
        raise _refused(path, found)
    return widened(profile, machine)


def _refused(path: Path, found: list[str]) -> ProfileError:
    return ProfileError("\n".join(f"{path.name}, {sentence}" for sentence in found))
