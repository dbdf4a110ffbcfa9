"""What units that were written once name: the push file, and how the page is served.

Responsible for reading our own words back; what somebody else wrote there is nothing.
"""

import re
import shlex
from pathlib import Path

from controller.service.units import PagePlan

_START = re.compile(r"^ExecStart=(.*)$", re.MULTILINE)
_LISTEN = re.compile(r"\S+:[0-9]{1,5}")


def push_file_in(text: str) -> Path | None:
    """The push file of a unit; None: it names none."""
    match _words(text):
        case [_, "notify", file]:
            return Path(file)
    return None


def page_in(text: str) -> PagePlan | None:
    """How the page of a unit is served; None: that is not told as we would."""
    match _words(text):
        case [_, "page", "--machine", _, *words] if len(words) % 2 == 0:
            told = dict(zip(words[::2], words[1::2], strict=True))
            listen = told.pop("--listen", "")
            names = {option.removeprefix("--"): Path(file) for option, file in told.items()}
            if _LISTEN.fullmatch(listen) and names.keys() <= {"password", "certificate", "key"}:
                return PagePlan(listen=listen, **names)
    return None


def _words(text: str) -> list[str]:
    """A unit's command line, with systemd's quoting undone."""
    found = _START.search(text)
    try:
        return shlex.split(found[1].replace("%%", "%").replace("$$", "$")) if found else []
    except ValueError:
        return []
