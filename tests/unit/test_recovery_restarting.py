"""A start soon after a run's end is refused unless a person says so; clocks are handed in."""

import io
import signal
from pathlib import Path

import pytest

from controller.clock import VirtualClock
from controller.commands.restarting import AFTER_END_S, AFTER_SIGNAL_S, refuse_soon_again
from controller.commands.resuming import BEGIN_AGAIN, RESUME, Place, ask_about_cut_run
from controller.commands.signals import signals_watched
from controller.core.recovery import FRESH, Beginning
from controller.core.state import Mode
from controller.errors import StoppedError
from controller.journal.records import Identity, Stamp, header_of
from controller.journal.writer import Journal
from controller.ports import Devices, Reading
from tests.helpers.batch import a_machine, a_moment, a_profile, still_clock
from tests.helpers.records import replace

KITCHEN = a_machine().name
RUN = Identity(run_id="the-run", began_utc="2031-02-03T10:00:00+00:00", version="1", boot_id="a")
BEGAN_BOOT_S = 5000.0
LASTED_S = 40.0
ENDED_BOOT_S = BEGAN_BOOT_S + LASTED_S


def stamp() -> Stamp:
    """The other clocks at the first tick."""
    return Stamp(utc=RUN.began_utc, boot_s=BEGAN_BOOT_S, synchronised=False)


def begin(folder: Path, identity: Identity = RUN, *, stamped: bool = True) -> Journal:
    """A run that lasted a while, its record still open."""
    journal = Journal(
        folder / f"{identity.run_id}.jsonl",
        header=header_of(a_profile(), a_machine(), identity),
        clock_s=still_clock,
        stamp=stamp if stamped else None,
    )
    journal.tell(a_moment(0.0))
    journal.tell(a_moment(LASTED_S, mode=Mode.STOPPED))
    return journal


def start(folder: Path, *, after_s: float, boot: str = "a", machine: str = KITCHEN) -> None:
    """Start a run so long after the end of the last, as far as seconds since boot tell."""
    refuse_soon_again(folder, machine, boot, ENDED_BOOT_S + after_s)


def test_soon_after_a_signal_no_run_begins_by_itself(tmp_path: Path) -> None:
    begin(tmp_path).finish(None, "stopped", "SIGTERM")
    for after_s in (0.0, AFTER_SIGNAL_S - 1.0):
        with pytest.raises(
            StoppedError,
            match=r"the-run was ended by SIGTERM not long ago, and for 600 s .* unless a person"
            r" says so: start it at a terminal, or with --begin-again\.$",
        ):
            start(tmp_path, after_s=after_s)
    start(tmp_path, after_s=AFTER_SIGNAL_S)


def test_a_run_that_was_over_counts_too_if_a_signal_ended_its_process(tmp_path: Path) -> None:
    begin(tmp_path).finish(None, "done", "SIGTERM")
    with pytest.raises(StoppedError, match="was ended by SIGTERM"):
        start(tmp_path, after_s=60.0)


@pytest.mark.parametrize("outcome", ["stopped", "done", "tripped"])
def test_after_a_run_that_a_person_or_the_profile_ended_the_next_may_begin(
    tmp_path: Path, outcome: str
) -> None:
    begin(tmp_path).finish(None, outcome)
    start(tmp_path, after_s=AFTER_END_S)


def test_a_signal_that_came_after_the_record_s_end_is_reckoned_with(tmp_path: Path) -> None:
    begin(tmp_path).finish(None, "done")
    with pytest.raises(StoppedError, match="the-run has ended not long ago, and for 15 s"):
        start(tmp_path, after_s=AFTER_END_S - 1.0)


def test_a_run_that_was_killed_while_it_ended_is_taken_for_one_that_a_signal_ended(
    tmp_path: Path,
) -> None:
    assert begin(tmp_path).drain(10.0)
    with pytest.raises(StoppedError, match="ended without a word"):
        start(tmp_path, after_s=AFTER_SIGNAL_S - 1.0)
    start(tmp_path, after_s=AFTER_SIGNAL_S)


def test_in_another_boot_a_run_ended_before_that_boot_began(tmp_path: Path) -> None:
    begin(tmp_path).finish(None, "stopped", "SIGTERM")
    with pytest.raises(StoppedError):
        refuse_soon_again(tmp_path, KITCHEN, "b", AFTER_SIGNAL_S - 1.0)
    refuse_soon_again(tmp_path, KITCHEN, "b", AFTER_SIGNAL_S)


@pytest.mark.parametrize("closed", [True, False])
def test_a_boot_after_no_signal_holds_nobody_up(tmp_path: Path, closed: bool) -> None:
    journal = begin(tmp_path)
    if closed:
        journal.finish(None, "done")
    assert closed or journal.drain(10.0)
    refuse_soon_again(tmp_path, KITCHEN, "b", 1.0)


def test_a_record_that_can_not_tell_when_it_ended_waits_for_a_person(tmp_path: Path) -> None:
    begin(tmp_path, stamped=False).finish(None, "stopped", "SIGTERM")
    with pytest.raises(StoppedError):
        start(tmp_path, after_s=1e6)


def test_only_the_newest_run_of_this_machine_counts(tmp_path: Path) -> None:
    begin(tmp_path).finish(None, "stopped", "SIGTERM")
    start(tmp_path, after_s=1.0, machine="another")
    later = replace(RUN, run_id="later", began_utc="2031-02-03T10:02:00+00:00")
    begin(tmp_path, later).finish(None, "done")
    start(tmp_path, after_s=60.0)


def test_without_any_record_a_run_may_begin(tmp_path: Path) -> None:
    start(tmp_path, after_s=0.0)


class Untouched:
    """A device that nobody needs for a fresh beginning."""

    def read(self, now_s: float) -> Reading:
        """Fail the test."""
        raise AssertionError(f"read at {now_s} s")

    def drive(self, **_: object) -> None:
        """Fail the test."""
        raise AssertionError("driven before anything began")


class Present:
    """A person at the terminal, who is not asked."""

    def hear(self) -> str | None:
        """Fail the test."""
        raise AssertionError("asked, though nothing was cut off")


def asked(folder: Path, word: str, person: Present | None = None) -> Beginning:
    """Where `bainward run` begins a second after the last run."""
    nothing = Untouched()
    return ask_about_cut_run(
        Place(
            folder=folder,
            profile=a_profile(),
            machine=a_machine(),
            identity=replace(RUN, run_id="next"),
            stamp=replace(stamp(), boot_s=ENDED_BOOT_S + 1.0),
        ),
        Devices(bath=nothing, bowl=nothing, heater=nothing, stirrer=nothing),
        VirtualClock(),
        word=word,
        person=person,
        shown=io.StringIO(),
    )


def test_a_person_at_the_terminal_or_their_word_to_begin_again_counts(tmp_path: Path) -> None:
    begin(tmp_path).finish(None, "stopped", "SIGTERM")
    for word in ("", RESUME):  # what has ended in order can't be resumed
        with pytest.raises(StoppedError, match="was ended by SIGTERM"):
            asked(tmp_path, word)
    assert asked(tmp_path, BEGIN_AGAIN) == FRESH
    assert asked(tmp_path, "", Present()) == FRESH


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_the_watcher_knows_which_signal_came(number: signal.Signals) -> None:
    with signals_watched() as watcher:
        assert watcher.signal() == ""
        signal.raise_signal(number)
        assert watcher.signal() == number.name
