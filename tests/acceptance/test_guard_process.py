"""The guard as a process: whatever befalls it or its controller, heat is off within 3 s.

Responsible for real processes, measured from outside by the heater's line; the long campaign is
tests/proofs/guard_campaign.py.
"""

import os
import signal
import subprocess
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from pathlib import Path

import pytest

from controller.errors import BusyError, Exit
from controller.files.machine_file import bench_machine_path
from controller.guard.client import GuardedHeater
from controller.guard.decision import Cause
from controller.guard.latch import Memory, from_bytes, to_bytes
from tests.helpers.guard_faults import FAULTS, MOST_S, run_case
from tests.helpers.guard_stage import START_S, USUAL, Stage, never, until
from tests.helpers.process import COMMAND, end, start

MOMENTS = 3  # of each fault, side by side


@pytest.mark.parametrize("fault", FAULTS)
def test_a_fault_at_a_random_moment_ends_heat_within_three_seconds(
    fault: str, tmp_path: Path
) -> None:
    with ThreadPoolExecutor(MOMENTS) as pool:
        cases = [
            pool.submit(run_case, fault, seed, tmp_path / str(seed)) for seed in range(MOMENTS)
        ]
    # Each case itself fails when heat is not off within 3 s.
    assert {case.result().cause for case in cases} == {FAULTS[fault].cause}


REAL = (
    "controller killed",
    "controller frozen",
    "socket cut",
    "phase cap passed",
    "machine cap passed",
    "computer hogged, controller frozen",
)


def test_with_the_usual_limits_and_a_lease_a_second_heat_ends_within_three_seconds(
    tmp_path: Path,
) -> None:
    with ThreadPoolExecutor(len(REAL)) as pool:
        cases = [
            pool.submit(run_case, fault, 0, tmp_path / str(number), USUAL)
            for number, fault in enumerate(REAL)
        ]
    assert max(case.result().off_s for case in cases) <= MOST_S


def test_with_the_usual_limits_a_lost_thermometer_ends_heat_within_three_seconds(
    tmp_path: Path,
) -> None:
    with Stage(tmp_path, USUAL) as stage:
        stage.heat(period_s=1.0)
        stage.probe.unlink()
        stage.off_within(MOST_S)
        assert stage.status().bath_mc is None


def test_one_short_silence_ends_heat_and_recovers_without_a_person(tmp_path: Path) -> None:
    with Stage(tmp_path, USUAL) as stage:
        stage.heat(period_s=1.0)
        stage.signal_controller(signal.SIGSTOP)
        stage.off_within(MOST_S)
        stage.signal_controller(signal.SIGCONT)
        until("heat again", stage.is_on, MOST_S)
        assert stage.status().latched is Cause.NONE


def test_a_farewell_ends_heat_with_nothing_latched_and_the_next_run_may_heat(
    tmp_path: Path,
) -> None:
    with Stage(tmp_path, USUAL) as stage:  # the usual lease: a busy machine makes no lapse
        stage.heat()
        stage.signal_controller(signal.SIGTERM)
        stage.off_within(MOST_S)
        until("the farewell on disk", lambda: not armed_on_disk(stage))
        stage.start_controller()
        until("heat", stage.is_on)
        assert stage.status().latched is Cause.NONE


def armed_on_disk(stage: Stage) -> bool:
    """Whether the file says that a run is on."""
    memory = from_bytes(stage.latch.read_bytes())
    return memory is not None and memory.armed


def test_heat_comes_only_after_the_armed_mark_is_on_disk(tmp_path: Path) -> None:
    with Stage(tmp_path) as stage:
        stage.start_guard()
        stage.start_controller()
        until("the mark or heat", lambda: stage.is_on() or stage.latch.exists())
        until("heat", stage.is_on)
        assert armed_on_disk(stage)


ENDINGS = ("TERM", "INT", "HUP", "QUIT", "TSTP", "ABRT", "USR1", "ALRM", "RTMIN")
IGNORED = ("TTOU", "TTIN", "PIPE", "WINCH", "CONT", "CHLD")


@pytest.mark.parametrize("name", ENDINGS)
def test_any_signal_that_would_end_or_stop_the_guard_ends_it_with_heat_off(
    name: str, tmp_path: Path
) -> None:
    with Stage(tmp_path) as stage:
        stage.heat()
        assert stage.end_guard(signal.Signals[f"SIG{name}"]) == Exit.DONE
        assert stage.is_off()


def test_no_other_signal_disturbs_the_guard(tmp_path: Path) -> None:
    with Stage(tmp_path, USUAL) as stage:
        stage.heat()
        for name in IGNORED:
            stage.signal_guard(signal.Signals[f"SIG{name}"])
        never("heat off", stage.is_off, 0.5)
        assert stage.status().latched is Cause.NONE


def test_a_second_guard_is_refused_in_one_sentence_and_touches_no_line(tmp_path: Path) -> None:
    with Stage(tmp_path) as stage:
        stage.heat()
        code, _, err = end(start(tmp_path, "guard", "--machine", str(stage.machine)))
        assert code == Exit.BUSY
        assert len(err.splitlines()) == 1
        assert "stop that one first" in err
        never("heat off", stage.is_off, 0.3)


def test_a_second_controller_is_refused_while_the_first_is_there(tmp_path: Path) -> None:
    with Stage(tmp_path) as stage:
        stage.start_guard()
        first = GuardedHeater((str(stage.socket),))
        with pytest.raises(BusyError, match="serves another controller"):
            GuardedHeater((str(stage.socket),))
        first.close()
        GuardedHeater((str(stage.socket),)).close()
        stage.start_controller()
        until("heat", stage.is_on)


def test_a_guard_that_fails_has_its_lines_off_and_ends_with_an_error(tmp_path: Path) -> None:
    with Stage(tmp_path) as stage:
        live = tmp_path / "live"
        live.write_text("0\n", encoding="ascii")
        fitted = '[guard.mains_live]\nkind = "file"\npath = "live"\n'
        with stage.machine.open("a", encoding="utf-8") as file:
            file.write(fitted)
        stage.heat()
        live.write_text("x\n", encoding="ascii")
        stage.off_within(MOST_S)
        assert stage.guard is not None
        assert stage.guard.wait(START_S) == Exit.CRASHED
        assert "neither 0 nor 1" in (tmp_path / "guard.log").read_text("utf-8")


def test_a_person_rearms_after_seeing_what_latched_and_no_old_run_heats(tmp_path: Path) -> None:
    with Stage(tmp_path) as stage:
        stage.heat()
        stage.signal_controller(signal.SIGKILL)
        assert stage.latched() is Cause.CONTROLLER_LOST
        words = ("rearm", "--machine", str(stage.machine))

        code, out, err = end(start(tmp_path, *words))
        assert code == Exit.USAGE
        assert "controller-lost" in out
        assert "Look at the batch" in out
        assert "wants a person" in err

        code, out, _ = end(start(tmp_path, *words, "--yes"))
        assert code == Exit.DONE
        assert "Re-armed" in out
        never("heat by itself", stage.is_on, 0.3)
        stage.start_controller()
        until("heat", stage.is_on)
        code, out, _ = end(start(tmp_path, *words))
        assert (code, "nothing latched" in out) == (Exit.DONE, True)


def test_a_person_who_rearms_is_shown_what_the_controller_tripped_for(tmp_path: Path) -> None:
    with Stage(tmp_path) as stage:
        stage.heat()
        stage.signal_controller(signal.SIGUSR2)
        stage.off_within(MOST_S)
        until("the cause on disk", lambda: stage.on_disk() is Cause.CONTROLLER_TRIPPED)
        stage.end_guard(signal.SIGTERM)
        stage.start_guard()  # the word outlives the guard
        _, out, _ = end(start(tmp_path, "rearm", "--machine", str(stage.machine)))
        assert "controller-tripped" in out
        assert "(level-lost)" in out


def both_on_disk(stage: Stage) -> bool:
    """Whether the file has both trips, the first one first."""
    memory = from_bytes(stage.latch.read_bytes())
    return memory is not None and memory.causes == ("tick-late", "relay-stuck-on")


def test_a_trip_is_on_disk_while_its_run_lives_on_and_outlives_a_power_cut(tmp_path: Path) -> None:
    with Stage(tmp_path) as stage:
        stage.heat()
        stage.signal_controller(signal.SIGHUP)
        stage.off_within(MOST_S)
        until("both trips on disk", lambda: both_on_disk(stage))
        words = ("rearm", "--machine", str(stage.machine), "--confirm", "inspected")
        code, out, _ = end(start(tmp_path, *words))
        assert code == Exit.TRIPPED
        assert "End the run first" in out
        assert stage.status().led

        stage.end_guard(signal.SIGKILL)  # no farewell, no orderly end: as a power cut
        stage.signal_controller(signal.SIGKILL)
        stage.start_guard()
        assert stage.status().causes == ("tick-late", "relay-stuck-on")
        code, out, _ = end(start(tmp_path, *words[:3], "--yes"))
        assert code == Exit.USAGE
        assert "Seen: a run tripped (tick-late)." in out
        assert "Besides: relay-stuck-on." in out
        assert out.count("Must be true: ") == 2
        # Ten seconds of a cool bath must have been seen.
        until("re-armed", lambda: end(start(tmp_path, *words))[0] == Exit.DONE)
        never("heat by itself", stage.is_on, 0.3)


def test_a_run_that_tripped_may_be_cleared_once_it_has_ended(tmp_path: Path) -> None:
    with Stage(tmp_path) as stage:
        stage.heat()
        stage.signal_controller(signal.SIGHUP)
        until("both trips on disk", lambda: both_on_disk(stage))
        stage.signal_controller(signal.SIGTERM)
        until("the farewell on disk", lambda: not armed_on_disk(stage))
        assert both_on_disk(stage)
        assert not stage.status().led
        words = ("rearm", "--machine", str(stage.machine), "--confirm", "inspected")
        until("re-armed", lambda: end(start(tmp_path, *words))[0] == Exit.DONE)
        stage.start_controller()
        until("heat", stage.is_on)


@pytest.mark.parametrize(
    ("latched", "typed", "code"),
    [
        (Cause.LEASE_LAPSED, "yes", Exit.DONE),
        (Cause.LEASE_LAPSED, "y", Exit.STOPPED),
        (Cause.HEATER_DEAD_WHEN_ON, "inspected", Exit.DONE),
        (Cause.HEATER_DEAD_WHEN_ON, "yes", Exit.STOPPED),
    ],
)
def test_only_the_whole_word_of_the_cause_rearms(
    latched: Cause, typed: str, code: Exit, tmp_path: Path
) -> None:
    with Stage(tmp_path) as stage:
        stage.latch.write_bytes(to_bytes(Memory(latched=latched, since_s=1)))
        stage.start_guard()
        ours, theirs = os.openpty()
        words = [str(COMMAND), "rearm", "--machine", str(stage.machine)]
        process = subprocess.Popen(words, stdin=theirs, stdout=subprocess.PIPE, text=True)
        os.write(ours, f"{typed}\n".encode())
        out, _ = process.communicate(timeout=START_S)
        assert process.returncode == code, out
        assert "1970-01-01" in out
        cause = Cause.NONE if code is Exit.DONE else latched
        assert stage.status().latched is cause
        os.close(ours)
        os.close(theirs)


def test_a_switch_that_stayed_closed_is_cleared_only_by_who_says_that_they_inspected_it(
    tmp_path: Path,
) -> None:
    with Stage(tmp_path) as stage:
        stage.latch.write_bytes(to_bytes(Memory(latched=Cause.HEATER_DEAD_WHEN_ON, since_s=1)))
        stage.start_guard()
        words = ("rearm", "--machine", str(stage.machine))
        code, out, err = end(start(tmp_path, *words, "--yes"))
        assert code == Exit.USAGE
        assert "Must be true: Somebody has unplugged the machine" in out
        assert "--confirm inspected" in err
        assert stage.status().latched is Cause.HEATER_DEAD_WHEN_ON
        code, out, _ = end(start(tmp_path, *words, "--confirm", "inspected"))
        assert (code, "Re-armed" in out) == (Exit.DONE, True)


def test_a_bath_that_is_still_hot_is_not_cleared_whatever_a_person_says(tmp_path: Path) -> None:
    with Stage(tmp_path) as stage:
        stage.latch.write_bytes(to_bytes(Memory(latched=Cause.BATH_OVER_CAP, since_s=1)))
        stage.warm(80_000)
        stage.start_guard()
        words = ("rearm", "--machine", str(stage.machine), "--confirm", "inspected")
        code, out, _ = end(start(tmp_path, *words))
        assert code == Exit.TRIPPED
        assert "the guard must first see for 10 s: a bath under the machine's limit" in out
        assert stage.status().latched is Cause.BATH_OVER_CAP


def test_rearming_without_a_guard_says_what_to_start(tmp_path: Path) -> None:
    stage = Stage(tmp_path)
    code, _, err = end(start(tmp_path, "rearm", "--machine", str(stage.machine)))
    assert code == Exit.HARDWARE
    assert "bainward guard" in err


def test_a_machine_without_a_guard_table_is_refused(tmp_path: Path) -> None:
    code, _, err = end(start(tmp_path, "guard", "--machine", str(bench_machine_path("reference"))))
    assert code == Exit.BAD_FILE
    assert "write [guard]" in err


def test_the_guards_process_holds_none_of_the_libraries_that_read_the_file(tmp_path: Path) -> None:
    with Stage(tmp_path) as stage:
        stage.start_guard()
        assert stage.guard is not None
        maps = Path(f"/proc/{stage.guard.pid}/maps").read_text("utf-8")
        assert "pydantic" not in maps
        assert "libpython" in maps or "python" in maps  # the file says something at all


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of 64 KiB of its own."""
    folder = tmp_path / "disk"
    folder.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=64k", "none", str(folder)]
    made = subprocess.run(mount, capture_output=True, text=True, check=False)
    if made.returncode != 0:
        pytest.skip(f"NOT TESTED ON A FULL OR READ-ONLY DISK: {made.stderr.strip()}")
    yield folder
    subprocess.run(["umount", "--lazy", str(folder)], check=True)


def fill(folder: Path) -> None:
    """Leave no byte free."""
    with suppress(OSError), (folder / "ballast").open("wb", buffering=0) as file:
        while True:
            file.write(bytes(1024))


def lock_up(folder: Path) -> None:
    """Let nothing more be written."""
    subprocess.run(["mount", "-o", "remount,ro", str(folder)], check=True)


@pytest.mark.parametrize("spoil", [fill, lock_up])
def test_without_a_mark_on_disk_there_is_no_heat_and_the_cause_is_said(
    spoil: Callable[[Path], None], small_disk: Path, tmp_path: Path
) -> None:
    with Stage(tmp_path / "stage", latch=small_disk / "latch") as stage:
        stage.start_guard()
        spoil(small_disk)
        stage.start_controller()
        assert stage.latched() is Cause.LATCH_UNREADABLE
        never("heat", stage.is_on, 0.5)
        assert "can't be written" in (stage.folder / "guard.log").read_text("utf-8")


@pytest.mark.parametrize("spoil", [fill, lock_up])
def test_a_disk_that_fails_in_mid_run_neither_keeps_heat_on_nor_forgets_the_run(
    spoil: Callable[[Path], None], small_disk: Path, tmp_path: Path
) -> None:
    with Stage(tmp_path / "stage", latch=small_disk / "latch") as stage:
        stage.heat()
        spoil(small_disk)
        never("heat off", stage.is_off, 0.3)  # a run may finish without a disk
        stage.signal_controller(signal.SIGKILL)
        stage.off_within(MOST_S)
        assert stage.latched() is Cause.CONTROLLER_LOST
        assert armed_on_disk(stage)  # so that the next guard latches, whatever this one can't write


def test_a_guard_that_can_not_remember_drives_its_line_off_and_refuses(
    small_disk: Path, tmp_path: Path
) -> None:
    with Stage(tmp_path / "stage", latch=small_disk / "latch") as stage:
        stage.line.write_text("1\n", encoding="ascii")
        lock_up(small_disk)
        code, _, err = end(start(tmp_path, "guard", "--machine", str(stage.machine)))
        assert code == Exit.NO_PERMISSION
        assert "permits no heat" in err
        assert stage.is_off()
