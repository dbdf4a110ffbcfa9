"""The guard's own thermometer: a value that can be believed, or none.

Responsible for readings and their age; what follows from them is the decision's.
"""

import os
import threading
from pathlib import Path

import pytest

from controller.guard.probe import GRACE_MS, PAUSE_S, Probe, read_mc
from controller.guard.settings import ProbeAt, ProbeKind


def at(path: Path, kind: ProbeKind = ProbeKind.HWMON) -> ProbeAt:
    """A thermometer at that path."""
    return ProbeAt(kind=kind, path=str(path))


@pytest.mark.parametrize(
    ("text", "value_mc"),
    [
        ("31500\n", 31_500),
        ("-4937", -4_937),
        ("-5000", -5_000),
        ("-5001", None),
        ("84900", 84_900),
        ("84901", None),
        ("85000\n", None),  # a 1-wire thermometer before its first measurement
        ("-109900", None),
        ("", None),  # any failure of a 1-wire thermometer
        ("31.5", None),
        ("nonsense", None),
        ("9" * 400, None),
        ("0", None),  # a chip that has not measured since power-on
        ("-62", -62),
    ],
)
def test_a_reading_is_believed_or_not(text: str, value_mc: int | None, tmp_path: Path) -> None:
    path = tmp_path / "temp1_input"
    path.write_text(text, encoding="ascii")
    assert read_mc(at(path)) == value_mc


def test_an_all_zero_answer_of_a_1_wire_thermometer_is_none(tmp_path: Path) -> None:
    path = tmp_path / "temperature"
    path.write_text("0\n", encoding="ascii")
    assert read_mc(at(path, ProbeKind.ONE_WIRE)) is None
    path.write_text("62\n", encoding="ascii")
    assert read_mc(at(path, ProbeKind.ONE_WIRE)) == 62


@pytest.mark.parametrize(("fault", "value_mc"), [("0\n", 40_000), ("1\n", None), ("", None)])
def test_a_chip_that_says_its_sensor_is_broken_gives_no_value(
    fault: str, value_mc: int | None, tmp_path: Path
) -> None:
    (tmp_path / "temp1_input").write_text("40000\n", encoding="ascii")
    (tmp_path / "temp1_fault").write_text(fault, encoding="ascii")
    assert read_mc(at(tmp_path / "temp1_input")) == value_mc


def test_a_chip_is_found_again_whatever_number_a_boot_or_a_re_plug_gave_it(tmp_path: Path) -> None:
    first, second = tmp_path / "hwmon1", tmp_path / "hwmon4"
    first.mkdir()
    (first / "temp1_input").write_text("40000\n", encoding="ascii")
    anywhere = at(tmp_path / "hwmon*" / "temp1_input")
    assert read_mc(anywhere) == 40_000
    first.rename(second)
    assert read_mc(anywhere) == 40_000
    (second / "temp1_fault").write_text("1\n", encoding="ascii")
    assert read_mc(anywhere) is None


def test_of_two_chips_at_one_place_neither_is_believed(tmp_path: Path) -> None:
    for name in ("hwmon1", "hwmon4"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "temp1_input").write_text("40000\n", encoding="ascii")
    assert read_mc(at(tmp_path / "hwmon*" / "temp1_input")) is None


def test_a_file_that_is_gone_or_fails_is_none(tmp_path: Path) -> None:
    assert read_mc(at(tmp_path / "none")) is None
    assert read_mc(at(tmp_path)) is None
    # Reading the start of a process's memory gives a true input/output error.
    assert read_mc(at(Path("/proc/self/mem"))) is None


def test_a_value_ages_from_before_it_was_measured_and_ends_after_its_grace(tmp_path: Path) -> None:
    path = tmp_path / "temp1_input"
    path.write_text("40000", encoding="ascii")
    now_ms = [1_000]
    probe = Probe(at(path), lambda: now_ms[0])
    assert probe.look(1_000) == (None, 0)
    probe.read_once()
    path.write_text("", encoding="ascii")
    now_ms[0] = 2_000
    probe.read_once()
    assert probe.look(1_000) == (40_000, 0)
    assert probe.look(999) == (40_000, 0)
    assert probe.look(1_000 + GRACE_MS) == (40_000, GRACE_MS)
    assert probe.look(1_001 + GRACE_MS) == (None, GRACE_MS + 1)


def test_one_failed_reading_leaves_no_gap_and_a_lost_thermometer_ends_heat_within_3_s() -> None:
    conversion_ms = 750  # of a 1-wire thermometer at 12 bit, by its datasheet
    assert 3 * conversion_ms + 2 * round(PAUSE_S * 1000) <= GRACE_MS <= 3_000 - conversion_ms // 3


def test_a_thermometer_that_hangs_in_the_kernel_holds_up_nothing_but_its_own_thread(
    tmp_path: Path,
) -> None:
    path = tmp_path / "fifo"
    os.mkfifo(path)
    with Probe(at(path), lambda: 0) as probe, path.open("wb"):  # opens once the thread reads
        assert probe.look(10_000) == (None, 0)


def test_the_thread_reads_on(tmp_path: Path) -> None:
    path = tmp_path / "temp1_input"
    path.write_text("40000", encoding="ascii")
    twice = threading.Event()
    times = iter(range(10**6))

    def now_ms() -> int:
        count = next(times)
        if count > 1:
            twice.set()
        return 0

    with Probe(at(path), now_ms) as probe:
        assert twice.wait(30.0)
        assert probe.look(0) == (40_000, 0)
