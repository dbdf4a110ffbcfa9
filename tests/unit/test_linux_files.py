"""Thermometers' files as they are when something is wrong: gone, empty, broken, foreign.

Responsible for one measurement of one thermometer; not for threads, ages or the whole machine.
"""

import errno
import os
from collections.abc import Callable
from pathlib import Path

import pytest

from controller.ports import Fault, Reading
from hardware.linux import hwmon, one_wire
from hardware.linux.kernel_file import MOST_BYTES, read_bytes
from tests.helpers import kernel_tree
from tests.helpers.kernel_tree import BATH_ID, scratchpad, slave_text


@pytest.fixture
def slave(tmp_path: Path) -> Path:
    """The file `w1_slave` of a thermometer at 45 °C."""
    return kernel_tree.one_wire(tmp_path, BATH_ID, 45 * 16) / "w1_slave"


@pytest.fixture
def chip(tmp_path: Path) -> Path:
    """The file `temp1_input` of a thermometer at 45 °C."""
    return kernel_tree.hwmon(tmp_path, 0, "tmp102", 45_000) / "temp1_input"


def empty(path: Path) -> None:
    """The kernel's way to say that a measurement failed."""
    path.write_bytes(b"")


def input_output_error(path: Path) -> None:
    """A read of the first page of a process gives a true EIO."""
    path.unlink()
    path.symlink_to("/proc/self/mem")


def garbage(path: Path) -> None:
    """No number anywhere."""
    path.write_bytes(b"\x00\xff lukewarm\n")


def huge(path: Path) -> None:
    """More than any file of the kernel holds, a number though it be."""
    path.write_bytes(b"45000\n" * 100_000)


def folder(path: Path) -> None:
    """A folder where a file should be."""
    path.unlink()
    path.mkdir()


def dangling(path: Path) -> None:
    """What a link of the kernel is for a moment while a device is pulled."""
    path.unlink()
    path.symlink_to(path.parent / "pulled")


BREAKAGES: list[tuple[Callable[[Path], None], Fault]] = [
    (empty, Fault.NO_ANSWER),
    (Path.unlink, Fault.NO_ANSWER),
    (dangling, Fault.NO_ANSWER),
    (input_output_error, Fault.DEVICE),
    (garbage, Fault.DEVICE),
    (huge, Fault.DEVICE),
    (folder, Fault.DEVICE),
]


@pytest.mark.parametrize(("breakage", "fault"), BREAKAGES)
def test_each_broken_file_is_a_named_fault(
    slave: Path, chip: Path, breakage: Callable[[Path], None], fault: Fault
) -> None:
    breakage(slave)
    breakage(chip)
    assert one_wire.measure(slave.parent).fault is fault
    assert hwmon.measure(chip).fault is fault


def test_a_thermometer_pulled_from_its_bus_is_no_answer_and_comes_back(
    tmp_path: Path, slave: Path
) -> None:
    away = tmp_path / "away"
    slave.parent.rename(away)
    assert one_wire.measure(slave.parent).fault is Fault.NO_ANSWER
    away.rename(slave.parent)
    assert one_wire.measure(slave.parent) == Reading(45.0)


@pytest.mark.parametrize(
    ("number", "fault"),
    [
        (errno.ENODEV, Fault.NO_ANSWER),
        (errno.ENXIO, Fault.NO_ANSWER),
        (errno.EREMOTEIO, Fault.NO_ANSWER),
        (errno.ETIMEDOUT, Fault.NO_ANSWER),
        (errno.EACCES, Fault.DEVICE),
        (errno.EAGAIN, Fault.DEVICE),
    ],
)
def test_errors_of_a_silent_bus_are_no_answer_and_others_are_the_devices(
    chip: Path, monkeypatch: pytest.MonkeyPatch, number: int, fault: Fault
) -> None:
    def refuse(*_args: object, **_kwargs: object) -> None:
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(Path, "open", refuse)
    assert read_bytes(chip) is fault


def test_one_page_is_read_whole_and_one_byte_more_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "page"
    path.write_bytes(b"1" * MOST_BYTES)
    assert read_bytes(path) == b"1" * MOST_BYTES
    path.write_bytes(b"1" * (MOST_BYTES + 1))
    assert read_bytes(path) is Fault.DEVICE


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        (slave_text(bytes(9)), Fault.ALL_ZERO),
        (slave_text(b"\xff" * 9, verdict="NO"), Fault.NO_ANSWER),
        (slave_text(scratchpad(720)[:8] + b"\x01", verdict="NO"), Fault.CHECKSUM),
        # A kernel that errs about the checksum, in both ways.
        (slave_text(scratchpad(720)[:8] + b"\x01", verdict="YES"), Fault.CHECKSUM),
        (slave_text(scratchpad(720), verdict="NO"), Fault.CHECKSUM),
        (slave_text(scratchpad(85 * 16)), Fault.POWER_ON_VALUE),
        (slave_text(scratchpad(-56 * 16)), Fault.DEVICE),
        (slave_text(scratchpad(720)).splitlines()[0], Fault.DEVICE),
        (slave_text(scratchpad(720)) + "more\n", Fault.DEVICE),
        (slave_text(scratchpad(720))[3:], Fault.DEVICE),
    ],
)
def test_what_only_looks_like_a_temperature_is_refused(
    slave: Path, text: str, fault: Fault
) -> None:
    slave.write_text(text, encoding="ascii")
    assert one_wire.measure(slave.parent).fault is fault


def test_after_a_bad_checksum_the_old_bytes_of_the_second_line_are_not_believed(
    slave: Path,
) -> None:
    first = slave_text(scratchpad(720)[:8] + b"\x01", verdict="NO").splitlines()[0]
    second = slave_text(scratchpad(720), shown_mc=45_000).splitlines()[1]
    slave.write_text(f"{first}\n{second}\n", encoding="ascii")
    assert one_wire.measure(slave.parent).fault is Fault.CHECKSUM


@pytest.mark.parametrize(
    ("text", "reading"),
    [
        ("45062\n", Reading(45.062)),
        ("-500", Reading(-0.5)),
        ("85000\n", Fault.POWER_ON_VALUE),
        ("0\n", Fault.ALL_ZERO),
        ("125001\n", Fault.DEVICE),
        ("-55001\n", Fault.DEVICE),
        ("45_000\n", Fault.DEVICE),
        ("4.5e4\n", Fault.DEVICE),
        ("", Fault.NO_ANSWER),
    ],
)
def test_the_file_temperature_stands_in_where_there_are_no_bytes(
    slave: Path, text: str, reading: Reading | Fault
) -> None:
    slave.unlink()
    (slave.parent / "temperature").write_text(text, encoding="ascii")
    measured = one_wire.measure(slave.parent)
    assert measured == reading if isinstance(reading, Reading) else measured.fault is reading


def test_bytes_that_failed_are_not_made_good_by_the_file_temperature(slave: Path) -> None:
    slave.write_bytes(b"")
    (slave.parent / "temperature").write_text("45000\n", encoding="ascii")
    assert one_wire.measure(slave.parent).fault is Fault.NO_ANSWER


def test_a_chip_that_calls_its_sensor_broken_is_believed(chip: Path) -> None:
    alarm = chip.with_name("temp1_fault")
    alarm.write_text("0\n", encoding="ascii")
    assert hwmon.measure(chip) == Reading(45.0)
    alarm.write_text("1\n", encoding="ascii")
    assert hwmon.measure(chip).fault is Fault.DEVICE


@pytest.mark.parametrize(
    ("value_mc", "fault"),
    [
        (85_000, Fault.NONE),  # the power-on value is of 1-wire alone
        (0, Fault.ALL_ZERO),
        (150_001, Fault.DEVICE),
        (-55_001, Fault.DEVICE),
        (-109_900, Fault.DEVICE),  # a pulled wire, seen on a real bus
    ],
)
def test_what_no_thermometer_of_a_kitchen_measures_is_the_devices_fault(
    chip: Path, value_mc: int, fault: Fault
) -> None:
    chip.write_text(f"{value_mc}\n", encoding="ascii")
    assert hwmon.measure(chip).fault is fault


def test_a_chip_is_found_by_its_name_under_any_number(tmp_path: Path) -> None:
    kernel_tree.hwmon(tmp_path, 0, "cpu_thermal", 60_000)
    found = kernel_tree.hwmon(tmp_path, 3, "tmp102", 45_000)
    assert hwmon.measure_named(tmp_path, "tmp102") == Reading(45.0)
    found.rename(found.with_name("hwmon7"))
    assert hwmon.measure_named(tmp_path, "tmp102") == Reading(45.0)


def test_a_part_of_a_name_is_another_chip(tmp_path: Path) -> None:
    kernel_tree.hwmon(tmp_path, 0, "tmp1020", 45_000)
    assert hwmon.measure_named(tmp_path, "tmp102").fault is Fault.NO_ANSWER
    assert hwmon.measure_named(tmp_path / "nowhere", "tmp102").fault is Fault.NO_ANSWER


def test_two_chips_of_one_name_are_never_guessed_between(tmp_path: Path) -> None:
    kernel_tree.hwmon(tmp_path, 0, "tmp102", 45_000)
    kernel_tree.hwmon(tmp_path, 1, "tmp102", 31_500)
    assert hwmon.measure_named(tmp_path, "tmp102").fault is Fault.DEVICE


@pytest.mark.parametrize(("milliamperes", "value_a"), [(2_170, 2.17), (0, 0.0), (-2_170, 2.17)])
def test_a_chip_may_measure_current_and_whichever_way_it_is_wired(
    tmp_path: Path, milliamperes: int, value_a: float
) -> None:
    kernel_tree.hwmon(tmp_path, 0, "ina226", milliamperes, file="curr1_input")
    assert hwmon.measure_named(tmp_path, "ina226", hwmon.CURRENT) == Reading(value_a)


def test_a_current_that_no_kitchen_has_is_the_chip_s_fault(tmp_path: Path) -> None:
    chip = kernel_tree.hwmon(tmp_path, 0, "ina226", 100_001, file="curr1_input")
    assert hwmon.measure(chip / "curr1_input", hwmon.CURRENT).fault is Fault.DEVICE
