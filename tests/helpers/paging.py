"""The page served by the installed command, and a real browser to look at it with.

Responsible for processes and for what a test shows there; not for any expectation.
"""

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, sync_playwright

from controller.core.batches import TemperState
from controller.core.interlock_rows import Priority
from controller.core.outlook import Outlook
from controller.core.profile import Profile
from controller.core.state import Mode, Notice, Switches
from controller.core.tempering import Temper
from controller.files.profile_file import load_profile
from controller.page import passwords
from controller.wiring import machine_meant
from tests.helpers.moments import TRIP
from tests.helpers.process import end, start
from tests.helpers.records import replace

PASSWORD = "swirl-the-bowl"  # noqa: S105 - the tests' own
NAMES = ("chromium", "chromium-browser", "google-chrome")
# As root a browser can't put itself into its sandbox; the pages are our own.
SWITCHES = ("--no-sandbox", "--disable-gpu")
DARK: Profile = load_profile("dark", machine_meant(None).machine)


def found_browser() -> str | None:
    """Where a browser is installed."""
    return next((path for name in NAMES if (path := shutil.which(name))), None)


def browser_path() -> str:
    """Where a browser is; without one the test is skipped loudly, or fails in CI."""
    path = found_browser()
    if path is None:
        why = "there is no chromium on this machine: install it (apt install chromium)"
        if os.environ.get("BAINWARD_REQUIRE_CHROMIUM") == "1":
            pytest.fail(why)
        pytest.skip(f"NOT LOOKED AT IN A BROWSER: {why}")
    return path


@contextmanager
def browsing(path: str) -> Iterator[Browser]:
    """A running browser without a window."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=list(SWITCHES))
        try:
            yield browser
        finally:
            browser.close()


def password_file(folder: Path) -> Path:
    """A file with the hash of `PASSWORD`."""
    path = folder / "page.password"
    passwords.write_hash(path, passwords.Hash.of(PASSWORD))
    return path


@contextmanager
def served(home: Path, *words: str) -> Iterator[str]:
    """`bainward page` with these words, on a free port; where it is."""
    with serving(home, *words) as (url, _):
        yield url


@contextmanager
def serving(home: Path, *words: str) -> Iterator[tuple[str, int]]:
    """The same; where it is, and the id of its process."""
    process = start(home, "page", "--listen", "127.0.0.1:0", *words)
    assert process.stdout is not None
    said = process.stdout.readline()
    assert said.startswith("Page at "), end(process)
    try:
        yield said.split()[2].rstrip(","), process.pid
    finally:
        process.terminate()
        code, _, err = end(process)
        assert (code, err) == (0, "")


NOTICE = Notice(
    cause="probe-stale",
    priority=Priority.MEDIUM,
    at_s=0.0,
    seen_s=0.0,
    what="The bowl's thermometer gives no value.",
    action="See that it hangs in the chocolate and that its plug is in.",
    is_advice=False,
)
SWAP = replace(DARK.phases[1].questions[0], text="Swap 1.3 kg of the bath water, and dry the rim.")


def _temper(verdict: Temper, why: str) -> TemperState:
    keeps_s = (1800.0, 3000.0, 9000.0) if verdict is Temper.IN_TEMPER else (float("nan"),) * 3
    return TemperState(
        verdict=verdict, confidence=0.92, why=why, keeps_s=keeps_s, keeps_at_s=5400.0
    )


_WORKING: dict[str, Any] = {"phase": 3, "bowl_c": 31.8, "bath_c": 32.0, "run_s": 5400.0}
SOON = Outlook(early_s=3000.0, likely_s=3900.0, late_s=5100.0)
STATES: dict[str, tuple[dict[str, Any], str, str]] = {
    "idle": ({"mode": Mode.IDLE, "bowl_c": 24.0, "bath_c": 24.1}, "Idle", "calm"),
    "melting": ({"outlook": SOON}, "Melting", "calm"),
    "asking": ({"phase": 1, "ask": SWAP, "outlook": SOON}, "Your turn", "asks"),
    "ready": (
        _WORKING | {"temper": _temper(Temper.IN_TEMPER, "In temper: form V is about 1.5 %.")},
        "Ready",
        "good",
    ),
    "thickening": (
        _WORKING | {"temper": _temper(Temper.OVER, "Over-tempered: form V is about 4.6 %.")},
        "Thickening",
        "care",
    ),
    "alarm": ({"notices": (NOTICE,), "withheld": (NOTICE.cause,)}, "Alarm", "alarm"),
    "stopped": (
        {"mode": Mode.STOPPED, "switches": Switches(is_pressed=True)},
        "Stop button",
        "alarm",
    ),
    "tripped": ({"trips": (TRIP,), "mode": Mode.ABORTED}, "Tripped", "alarm"),
}
