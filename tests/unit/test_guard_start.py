"""The guard's process: its parts opened and let go, its signals, its errors, its rank.

Responsible for start and end within the test's own process; real processes are in the acceptance
test, the cycle in test_guard_keeper.
"""

import ctypes
import os
import select
import signal
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from controller.errors import AccessError, Exit, LatchedError
from controller.guard import priority, process, voice
from controller.guard import settings as settings_module
from controller.guard.decision import Cause, Limits
from controller.guard.keeper import Keeper
from controller.guard.latch import Memory, to_bytes
from controller.guard.settings import (
    GuardSettings,
    LineAt,
    LineKind,
    ProbeAt,
    ProbeKind,
    latch_place,
    service_latch,
    to_text,
)

LIMITS = Limits(cap_mc=62_000)


def settings(folder: Path) -> GuardSettings:
    """A guard of files."""
    (folder / "temp1_input").write_text("40000\n", encoding="ascii")
    (folder / "live").write_text("0\n", encoding="ascii")

    def at(name: str) -> LineAt:
        return LineAt(kind=LineKind.FILE, place=str(folder / name))

    return GuardSettings(
        machine="sample",
        sockets=(str(folder / "guard"),),
        latch=str(folder / "latch"),
        main=at("main"),
        second=at("second"),
        mains_live=at("live"),
        heartbeat=at("heartbeat"),
        probe=ProbeAt(kind=ProbeKind.HWMON, path=str(folder / "temp1_input")),
        limits=LIMITS,
    )


@pytest.fixture(autouse=True)
def plain_priority(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave the test's own process as it is."""
    monkeypatch.setattr(process, "take_precedence", lambda: ("no rank",))


def ends_after(cycles: int, ending: process.Ending, monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the end be due after so many cycles."""
    real = Keeper.cycle
    left = [cycles]

    def counted(self: Keeper) -> None:
        real(self)
        left[0] -= 1
        if left[0] == 0:
            ending.on_signal(signal.SIGTERM, None)

    monkeypatch.setattr(Keeper, "cycle", counted)


def test_a_guard_starts_and_ends_with_every_line_off_and_its_socket_gone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    for name in ("main", "second", "heartbeat"):
        (tmp_path / name).write_text("1\n", encoding="ascii")
    monkeypatch.setattr(select, "select", lambda *_args: ([], [1], []))
    ending = process.Ending()
    ends_after(15, ending, monkeypatch)
    process.run_guard(settings(tmp_path), ending)
    for name in ("main", "second", "heartbeat"):
        assert (tmp_path / name).read_text("ascii") == "0\n"
    assert not (tmp_path / "guard").exists()
    said = capsys.readouterr().err
    assert "not allowed here: no rank" in said
    assert "heat is off" in said


def test_the_least_guard_has_one_line_and_a_thermometer(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    ending = process.Ending()
    ends_after(1, ending, monkeypatch)
    least = replace(settings(tmp_path), second=None, mains_live=None, heartbeat=None)
    process.run_guard(least, ending)
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        "latch.lock",
        "live",
        "main",
        "temp1_input",
    ]


def test_a_guard_that_can_not_remember_still_drives_its_lines_off(tmp_path: Path) -> None:
    (tmp_path / "main").write_text("1\n", encoding="ascii")
    amiss = replace(settings(tmp_path), latch=str(tmp_path / "live" / "latch"))
    with pytest.raises(AccessError):
        process.run_guard(amiss, process.Ending())
    assert (tmp_path / "main").read_text("ascii") == "0\n"


CAUSE = Memory(latched=Cause.BATH_OVER_CAP, since_s=1)


@pytest.fixture
def by_hand(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> GuardSettings:
    """A guard that a person starts, whose latch is not where the service's is."""
    monkeypatch.setattr(settings_module, "SYSTEM_STATE_HOME", tmp_path / "system")
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "own"))
    return replace(settings(tmp_path), latch=latch_place("sample"))


def service_remembers(folder: Path, data: bytes) -> None:
    """Leave this in the latch of the service's guard."""
    path = folder / "system" / "bainward" / "sample.latch"
    path.parent.mkdir(parents=True)
    path.write_bytes(data)


@pytest.mark.parametrize(
    ("data", "cause"),
    [
        (to_bytes(CAUSE), "bath-over-cap"),
        (to_bytes(Memory(armed=True)), "guard-restarted"),  # or it runs, and heats
        (b"torn", "latch-unreadable"),
    ],
)
def test_a_guard_by_hand_does_not_heat_past_what_the_services_guard_remembers(
    data: bytes,
    cause: str,
    by_hand: GuardSettings,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    service_remembers(tmp_path, data)
    ending = process.Ending()
    ends_after(1, ending, monkeypatch)  # else one that starts would never end
    (tmp_path / "main").write_text("1\n", encoding="ascii")
    with pytest.raises(LatchedError, match=rf"remembers {cause} in .*system.*name one latch") as no:
        process.run_guard(by_hand, ending)
    assert no.value.exit_code is Exit.TRIPPED
    assert (tmp_path / "main").read_text("ascii") == "1\n"  # perhaps of a guard that runs
    assert not (tmp_path / "own").exists()


def test_a_guard_says_where_it_remembers_trips(
    by_hand: GuardSettings,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    service_remembers(tmp_path, to_bytes(Memory()))  # nothing is latched there
    monkeypatch.setattr(select, "select", lambda *_args: ([], [1], []))
    ending = process.Ending()
    ends_after(1, ending, monkeypatch)
    process.run_guard(by_hand, ending)
    assert f"remembers trips in {tmp_path}/own/bainward/sample.latch\n" in capsys.readouterr().err


def test_a_latch_that_both_guards_share_is_no_reason_to_refuse(
    by_hand: GuardSettings, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    service_remembers(tmp_path, to_bytes(CAUSE))  # an old one, where the file names another
    assert service_latch(replace(by_hand, latch=str(tmp_path / "named"))) is None
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "system"))
    same = replace(by_hand, latch=latch_place("sample"))
    ending = process.Ending()
    ends_after(1, ending, monkeypatch)
    process.run_guard(same, ending)  # it starts with the cause latched


def keeping_handlers(run: Callable[[], int]) -> int:
    """Run it, and put the signal handlers back."""
    before = {number: signal.getsignal(number) for number in process.ENDS | process.HEEDS_NOT}
    try:
        return run()
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def test_the_process_ends_by_a_signal_with_code_0(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = Keeper.cycle

    def struck(self: Keeper) -> None:
        real(self)
        signal.raise_signal(signal.SIGTERM)

    monkeypatch.setattr(Keeper, "cycle", struck)
    text = to_text(settings(tmp_path))
    assert keeping_handlers(lambda: process.main(text)) == Exit.DONE


def test_an_error_of_ours_is_one_sentence_and_a_code(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = to_text(replace(settings(tmp_path), latch=str(tmp_path / "live" / "latch")))
    assert keeping_handlers(lambda: process.main(text)) == Exit.NO_PERMISSION
    assert capsys.readouterr().err.count("\n") == 1


def test_any_other_error_passes_after_the_lines_went_off(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(_self: Keeper) -> None:
        (tmp_path / "main").write_text("1\n", encoding="ascii")
        raise ZeroDivisionError

    monkeypatch.setattr(Keeper, "cycle", broken)
    with pytest.raises(ZeroDivisionError):
        process.run_guard(settings(tmp_path), process.Ending())
    assert (tmp_path / "main").read_text("ascii") == "0\n"


def test_the_guards_clock_goes_on_by_milliseconds() -> None:
    before = process.now_ms()
    assert process.now_ms() >= before > 0


def test_a_log_that_is_stuck_or_gone_holds_up_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    written: list[str] = []
    monkeypatch.setattr(sys.stderr, "write", written.append)
    monkeypatch.setattr(select, "select", lambda *_args: ([], [], []))
    voice.say("nobody can read this")
    assert written == []
    monkeypatch.setattr(select, "select", lambda *_args: ([], [1], []))
    voice.say("a line")
    assert written == ["guard: a line\n"]
    monkeypatch.setattr(sys, "stderr", None)
    monkeypatch.setattr(select, "select", select_nothing)
    voice.say("no standard error")


def select_nothing(*_args: object) -> object:
    """As select does with a closed file."""
    raise ValueError("file descriptor cannot be a negative integer (-1)")


@pytest.mark.parametrize("allowed", [True, False])
def test_what_the_kernel_refuses_is_said_and_nothing_more(
    allowed: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[str] = []

    def rank(*_args: object, **_words: object) -> None:
        asked.append("rank")
        if not allowed:
            raise PermissionError

    class Library:
        """The C library, as far as it is asked."""

        def __init__(self, _name: None) -> None:
            """Nothing is loaded."""

        def mlockall(self, flags: int) -> int:
            """What is there now is 1, by the manual of the call."""
            asked.append(f"lock {flags}")
            return 0 if allowed else -1

    monkeypatch.setattr(ctypes, "CDLL", Library)
    monkeypatch.setattr(os, "sched_setscheduler", rank)
    monkeypatch.setattr(Path, "write_text", rank)
    lacks = priority.take_precedence()
    assert asked == ["lock 1", "rank", "rank"]
    assert len(lacks) == (0 if allowed else 3)
