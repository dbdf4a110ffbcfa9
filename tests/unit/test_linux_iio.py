"""Converters with an IIO driver as they are when something is wrong, and how they are found.

Responsible for one measurement of one thermometer; not for threads, ages or the laws' numbers.
"""

from collections.abc import Callable
from pathlib import Path

import pytest

from controller.ports import Fault, Reading
from hardware.linux import iio
from hardware.linux.platinum import Platinum
from hardware.linux.thermistor import Thermistor
from tests.helpers import kernel_tree
from tests.helpers.records import replace

PT100 = Platinum(zero_ohm=100.0, reference_ohm=400.0)
DIVIDER = Thermistor(
    series_ohm=10_000.0, supply_mv=3300.0, is_to_ground=True, a=0.0010295, b=0.0002391, c=1.568e-7
)


def platinum(root: Path) -> Reading:
    """The platinum thermometer there."""
    return iio.measure_platinum(root, "max31865", PT100)


def thermocouple(root: Path) -> Reading:
    """The thermocouple there."""
    return iio.measure(root, "max31856")


def thermistor(root: Path) -> Reading:
    """The thermistor there, at the third input."""
    return iio.measure_thermistor(root, "adc", 2, DIVIDER)


@pytest.fixture
def root(tmp_path: Path) -> Path:
    """A tree with one of each: 50 °C in platinum, 45 °C by thermocouple, 25 °C by thermistor."""
    kernel_tree.ratio_converter(tmp_path, 0, 9781)
    kernel_tree.thermocouple(tmp_path, 1, 45.0)
    kernel_tree.iio(tmp_path, 2, "adc", in_voltage2_raw="825", in_voltage_scale="2.000000")
    return tmp_path


def test_each_kind_is_read(root: Path) -> None:
    assert platinum(root).value == pytest.approx(50.0, abs=0.02)
    assert thermocouple(root) == Reading(45.0)
    assert thermistor(root).value == pytest.approx(25.0, abs=0.02)


@pytest.mark.parametrize(
    ("stem", "scale", "value_c"),
    [("in_voltage2", "2.000000", 25.0), ("in_voltage2", "4.000000", None)],
)
def test_a_scale_of_the_channels_own_comes_before_that_of_all(
    root: Path, stem: str, scale: str, value_c: float | None
) -> None:
    folder = root / iio.DEVICES / "iio:device2"
    (folder / "in_voltage_scale").write_text("1.0\n")
    (folder / f"{stem}_scale").write_text(f"{scale}\n")
    reading = thermistor(root)
    if value_c is None:  # 3300 mV at the input: nothing pulls it down
        assert reading.fault is Fault.NO_ANSWER
    else:
        assert reading.value == pytest.approx(value_c, abs=0.02)


def test_an_offset_is_added_before_the_scale(root: Path) -> None:
    kernel_tree.iio(root, 1, "max31856", in_temp_raw="5000", in_temp_offset="-500")
    (root / iio.DEVICES / "iio:device1/in_temp_scale").write_text("10.000000\n")
    assert thermocouple(root) == Reading(45.0)


def test_a_driver_that_gives_thousandths_itself_is_taken_at_its_word(root: Path) -> None:
    (root / iio.DEVICES / "iio:device1/in_temp_input").write_text("31500\n")
    assert thermocouple(root) == Reading(31.5)


def error(path: Path) -> None:
    """A true EIO: what the thermocouple's driver gives for an open or overdriven one."""
    path.unlink()
    path.symlink_to("/proc/self/mem")


def written(text: str) -> Callable[[Path], None]:
    """That text instead."""

    def write(path: Path) -> None:
        path.unlink(missing_ok=True)  # a link of the tree would be written through
        path.write_text(text)

    return write


P, T, V = "iio:device0", "iio:device1", "iio:device2"
BROKEN: list[tuple[str, Callable[[Path], Reading], str, Callable[[Path], None], Fault]] = [
    ("platinum unplugged", platinum, f"{P}/in_temp_raw", Path.unlink, Fault.NO_ANSWER),
    ("element open", platinum, f"{P}/in_temp_raw", written("32767\n"), Fault.NO_ANSWER),
    ("element shorted", platinum, f"{P}/in_temp_raw", written("12\n"), Fault.DEVICE),
    ("data line low", platinum, f"{P}/in_temp_raw", written("0\n"), Fault.ALL_ZERO),
    ("overdriven input", platinum, f"{P}/fault_ovuv", written("1\n"), Fault.DEVICE),
    ("fault register silent", platinum, f"{P}/fault_ovuv", error, Fault.DEVICE),
    ("no fault register", platinum, f"{P}/fault_ovuv", Path.unlink, Fault.DEVICE),
    ("converter silent", platinum, f"{P}/in_temp_raw", error, Fault.DEVICE),
    ("no number", platinum, f"{P}/in_temp_raw", written("0x2635\n"), Fault.DEVICE),
    ("empty", platinum, f"{P}/in_temp_raw", written(""), Fault.NO_ANSWER),
    ("thermocouple open", thermocouple, f"{T}/in_temp_raw", error, Fault.DEVICE),
    ("data line low", thermocouple, f"{T}/in_temp_raw", written("0\n"), Fault.ALL_ZERO),
    ("too hot", thermocouple, f"{T}/in_temp_raw", written("25600\n"), Fault.DEVICE),
    ("no scale", thermocouple, f"{T}/in_temp_scale", Path.unlink, Fault.DEVICE),
    ("a scale of no number", thermocouple, f"{T}/in_temp_scale", written("a\n"), Fault.DEVICE),
    ("gone", thermocouple, f"{T}/in_temp_raw", Path.unlink, Fault.NO_ANSWER),
    ("thermistor open", thermistor, f"{V}/in_voltage2_raw", written("1650\n"), Fault.NO_ANSWER),
    ("nearly open", thermistor, f"{V}/in_voltage2_raw", written("1648\n"), Fault.NO_ANSWER),
    ("thermistor shorted", thermistor, f"{V}/in_voltage2_raw", written("1\n"), Fault.DEVICE),
    ("input at ground", thermistor, f"{V}/in_voltage2_raw", written("0\n"), Fault.ALL_ZERO),
    ("input below ground", thermistor, f"{V}/in_voltage2_raw", written("-5\n"), Fault.DEVICE),
    ("converter silent", thermistor, f"{V}/in_voltage2_raw", error, Fault.DEVICE),
    ("no such channel", thermistor, f"{V}/in_voltage2_raw", Path.unlink, Fault.NO_ANSWER),
]


@pytest.mark.parametrize(
    ("_name", "measure", "file", "breaks", "fault"),
    BROKEN,
    ids=[f"{case[0]}, {case[2]}" for case in BROKEN],
)
def test_each_failure_is_a_fault_with_a_name(
    root: Path,
    _name: str,
    measure: Callable[[Path], Reading],
    file: str,
    breaks: Callable[[Path], None],
    fault: Fault,
) -> None:
    breaks(root / iio.DEVICES / file)
    assert measure(root).fault is fault


def test_a_thermistor_under_the_supply_is_open_at_no_voltage(root: Path) -> None:
    made = replace(DIVIDER, is_to_ground=False)
    (root / iio.DEVICES / V / "in_voltage2_raw").write_text("-1\n")
    assert iio.measure_thermistor(root, "adc", 2, made).fault is Fault.NO_ANSWER
    (root / iio.DEVICES / V / "in_voltage2_raw").write_text("1650\n")
    assert iio.measure_thermistor(root, "adc", 2, made).fault is Fault.DEVICE


def test_a_converter_is_found_by_its_bus_under_any_number(root: Path) -> None:
    bus = root / "sys/bus/spi/devices/spi0.0"
    bus.mkdir(parents=True)
    (bus / "iio:device7").symlink_to(root / iio.DEVICES / P)
    place = "/sys/bus/spi/devices/spi0.0/iio:device*"
    assert iio.measure_platinum(root, place, PT100).value == pytest.approx(50.0, abs=0.02)
    (bus / "iio:device7").rename(bus / "iio:device3")
    assert iio.measure_platinum(root, place, PT100).value == pytest.approx(50.0, abs=0.02)
    (bus / "iio:device3").unlink()
    assert iio.measure_platinum(root, place, PT100).fault is Fault.NO_ANSWER


def test_two_converters_of_one_name_or_path_are_never_guessed_between(root: Path) -> None:
    kernel_tree.ratio_converter(root, 5, 9148)
    assert platinum(root).fault is Fault.DEVICE
    place = "/sys/bus/iio/devices/iio:device*"
    assert iio.measure_platinum(root, place, PT100).fault is Fault.DEVICE


def test_a_converter_of_another_name_is_not_taken(root: Path) -> None:
    assert iio.measure(root, "max3185").fault is Fault.NO_ANSWER
