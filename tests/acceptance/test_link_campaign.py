"""The hostile campaign in short; tests/proofs/link_campaign.py is the whole one, and is timed."""

import subprocess
import sys
from collections import Counter
from itertools import islice
from pathlib import Path

import pytest

from controller.link.commands import REQUEST_MAX_BYTES, Accepted, judge
from controller.link.wishes import Wish, wish_of
from tests.helpers.hostile import cases

ROOT = Path(__file__).parents[2]
CAMPAIGN = ROOT / "tests" / "proofs" / "link_campaign.py"
SHORT = ("--cases", "1500", "--quiet-s", "3", "--frozen-s", "0", "--patient")


@pytest.mark.mosquitto
def test_hostile_messages_leave_the_running_daemon_as_it_was(executable: str) -> None:
    assert executable
    done = subprocess.run(
        [sys.executable, str(CAMPAIGN), *SHORT], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert "1500 messages" in done.stdout
    assert "WRONG" not in done.stdout


def test_the_campaign_s_messages_are_of_all_kinds() -> None:
    kinds: Counter[str] = Counter()
    for case in islice(cases(1, lambda: "a-token"), 4000):
        plain = judge(case.payload, retained=False, ask=None)
        wish = wish_of(case.payload)
        kinds[f"plain {getattr(plain, 'value', 'accepted')}"] += 1
        kinds[f"wish {getattr(wish, 'value', 'sound')}"] += 1
        kinds["kept"] += case.retain
        kinds["long"] += len(case.payload) > REQUEST_MAX_BYTES
        kinds["resume"] += isinstance(wish, Wish) and wish.command.value == "resume"
        assert not (isinstance(plain, Accepted) and plain.word == "stop")
    for kind in (
        *("plain accepted", "plain unknown-word", "plain not-text", "plain too-long"),
        *("plain unknown-deed", "wish sound", "wish malformed", "kept", "long", "resume"),
    ):
        assert kinds[kind] >= 20, kind
