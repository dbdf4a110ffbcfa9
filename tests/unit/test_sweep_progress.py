"""The live line of a sweep."""

import errno
import io
import itertools
import os

from controller.report.progress import ERASE
from controller.report.table import Row
from controller.trials.sweep_progress import SweepLine

GOOD: Row = {"machine": "drawn-1-1", "exit": "done"}
BAD: Row = {"machine": "drawn-1-2", "exit": "not-in-temper"}


def test_a_terminal_has_one_line_from_the_beginning_that_says_how_far_it_is() -> None:
    stream = io.StringIO()
    line = SweepLine(stream, total=4, clock_s=itertools.count(0.0, 60.0).__next__, live=True)
    line.tell({})
    line.tell({1: GOOD})
    line.tell({2: BAD})
    line.finish()
    assert "\n" not in stream.getvalue()
    assert stream.getvalue().split(ERASE)[1:] == [
        "0 of 4 machines",
        # Three minutes by a clock that moves a minute a look, so nine for the three that are left.
        "1 of 4 machines: 1 done; about 9 min left",
        "2 of 4 machines: 1 done, 1 not in temper; about 5 min left",
        "",
    ]


def test_a_line_is_not_refreshed_faster_than_it_can_be_read() -> None:
    stream = io.StringIO()
    line = SweepLine(stream, total=9, clock_s=lambda: 5.0, live=True)
    for number in range(9):
        line.tell({number: GOOD} if number else {})
    assert stream.getvalue().count(ERASE) == 1


def test_a_line_never_wraps() -> None:
    stream = io.StringIO()
    line = SweepLine(stream, total=9, clock_s=lambda: 5.0, live=True, columns=8)
    line.tell({})
    assert stream.getvalue() == ERASE + "0 of 9 "


def test_a_pipe_gets_a_line_for_every_tenth() -> None:
    stream = io.StringIO()
    line = SweepLine(stream, total=40, clock_s=lambda: 0.0, live=False)
    line.tell({})
    for number in range(40):
        line.tell({number: GOOD})
    line.finish()
    lines = stream.getvalue().splitlines()
    assert len(lines) == 10
    assert lines[0] == "4 of 40 machines: 4 done; about 0 s left"
    assert lines[-1] == "40 of 40 machines: 40 done"


def test_machines_of_an_earlier_try_are_told_once_and_say_nothing_of_the_pace() -> None:
    stream = io.StringIO()
    clock = iter((0.0, 30.0))
    line = SweepLine(stream, total=10, clock_s=clock.__next__, live=False)
    line.tell(dict.fromkeys(range(8), GOOD))
    line.tell({8: BAD})
    assert stream.getvalue().splitlines() == [
        "8 of 10 machines are done already.",
        "9 of 10 machines: 8 done, 1 not in temper; about 30 s left",
    ]


def test_the_pace_counts_what_was_run_now() -> None:
    clock = iter((10.0, 25.0))
    line = SweepLine(io.StringIO(), total=3, clock_s=clock.__next__, live=False)
    line.tell({1: {**GOOD, "lasted_s": 9000.0}})
    line.tell({2: {**GOOD, "lasted_s": 9000.0}, 3: {"machine": "drawn-1-3", "exit": "failed"}})
    assert line.pace_text() == (
        # By hand: two in 15 s, so 1000 in 7500 s.
        "2 machines in 15 s: 0.133 a second, 600 simulated seconds a second; "
        "1000 would take 2 h 05 min"
    )


def test_a_sweep_with_nothing_left_to_run_has_no_pace() -> None:
    line = SweepLine(io.StringIO(), total=1, clock_s=lambda: 0.0, live=False)
    line.tell({1: GOOD})
    assert line.pace_text() == ""


class Gone(io.StringIO):
    """A terminal that was closed."""

    def write(self, text: str) -> int:
        """Fail as a closed terminal does."""
        raise OSError(errno.EIO, os.strerror(errno.EIO), text)


def test_a_screen_that_goes_away_never_ends_a_sweep() -> None:
    line = SweepLine(Gone(), total=2, clock_s=lambda: 0.0, live=True)
    line.tell({})
    line.tell({1: GOOD})
    line.finish()
