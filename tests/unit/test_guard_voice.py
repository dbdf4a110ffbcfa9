"""What the guard says in a minute: a few lines of each kind, and how many it left out.

Responsible for time that is handed in and lines that are counted; a log that is stuck is in
test_guard_start.
"""

from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest

from controller.guard import voice as voice_module
from controller.guard.decision import Lease
from controller.guard.door import Door
from controller.guard.messages import pack
from controller.guard.voice import MINUTE_MS, MOST_LINES, Voice
from tests.helpers.guard_door import guest

HOURS_MS = 2 * 60 * MINUTE_MS


class Minute:
    """A clock of the test's own, and all that was said."""

    def __init__(self) -> None:
        """Somewhere in the life of a computer."""
        self.now_ms = 123_456
        self.lines: list[str] = []
        self.voice = Voice(lambda: self.now_ms)

    def later(self, by_ms: int) -> list[str]:
        """Let time pass; what is said then, with nobody there."""
        self.now_ms += by_ms
        before = len(self.lines)
        self.voice.turn()
        return self.lines[before:]


@pytest.fixture
def minute(monkeypatch: pytest.MonkeyPatch) -> Minute:
    """A minute that has just begun."""
    made = Minute()
    monkeypatch.setattr(voice_module, "say", made.lines.append)
    return made


@pytest.fixture
def door(minute: Minute, tmp_path: Path) -> Iterator[Door]:
    """A door that speaks with that voice."""
    with Door((str(tmp_path / "guard"),), minute.voice) as opened:
        yield opened


def test_a_few_lines_of_a_kind_are_said_whatever_their_facts(minute: Minute) -> None:
    for number in range(MOST_LINES + 3):
        minute.voice.say("user {} was refused", number)
    assert minute.lines == [f"user {number} was refused" for number in range(MOST_LINES)]


def test_a_flood_of_one_kind_hides_no_other(minute: Minute) -> None:
    for _ in range(1_000):
        minute.voice.say("noise")
    minute.voice.say("the controller hung up")
    assert minute.lines[-1] == "the controller hung up"


def test_when_the_minute_is_over_it_says_how_many_were_left_out_though_nobody_speaks(
    minute: Minute,
) -> None:
    for _ in range(1_000):
        minute.voice.say("noise")
    assert minute.later(MINUTE_MS - 1) == []
    left_out = f"{1_000 - MOST_LINES} more lines like the last ones were left out within a minute"
    assert minute.later(1) == [left_out]
    assert minute.later(HOURS_MS) == []
    minute.voice.say("noise")
    assert minute.lines[-1] == "noise"


def test_the_count_is_said_before_the_next_line_and_a_new_minute_counts_anew(
    minute: Minute,
) -> None:
    for _ in range(MOST_LINES + 1):
        minute.voice.say("noise")
    minute.now_ms += MINUTE_MS
    for _ in range(MOST_LINES + 1):
        minute.voice.say("noise")
    assert minute.lines[MOST_LINES].startswith("1 more lines")
    assert minute.lines[MOST_LINES + 1 :] == ["noise"] * MOST_LINES
    assert minute.later(MINUTE_MS)[0].startswith("1 more lines")


def test_a_minute_with_little_to_say_ends_without_a_word(minute: Minute) -> None:
    for _ in range(MOST_LINES):
        minute.voice.say("noise")
    assert minute.later(MINUTE_MS) == []


def test_words_in_the_facts_that_look_like_places_for_facts_mean_themselves(minute: Minute) -> None:
    minute.voice.say("seen: {}", "{} {0}")
    assert minute.lines == ["seen: {} {0}"]


def test_a_guest_who_floods_the_socket_fills_no_log(door: Door, minute: Minute) -> None:
    with ExitStack() as stack:
        visitor = guest(door.place, stack)
        sent = 0
        for _ in range(40):
            for _ in range(5):  # fewer than a socket's queue holds
                visitor.send(b"noise")
                sent += 1
            door.listen()
    assert minute.lines == ["a datagram that is no message was passed over"] * MOST_LINES
    (said,) = minute.later(MINUTE_MS)
    assert said.startswith(f"{sent - MOST_LINES} more lines")


def test_a_guest_who_comes_and_goes_as_a_controller_fills_no_log(
    door: Door, minute: Minute
) -> None:
    lease = pack(Lease(peer=1, number=1, heat=False, cap_mc=1, good=True))
    for _ in range(3 * MOST_LINES):
        with ExitStack() as stack:
            visitor = guest(door.place, stack)
            visitor.send(lease)
            door.listen()
        assert door.listen().hung_up
    assert len(minute.lines) == 2 * MOST_LINES
