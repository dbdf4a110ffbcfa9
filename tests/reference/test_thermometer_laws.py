"""Platinum thermometers, ratio converters and thermistors, against standards and data sheets.

Responsible for the laws and their inverses; not for files, nor for what becomes of a fault.
"""

import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.ports import Fault
from hardware.linux import iio, platinum, thermistor
from hardware.linux.platinum import Platinum
from hardware.linux.thermistor import Thermistor
from tests.helpers import kernel_tree
from tests.helpers.records import replace

PT100 = Platinum(zero_ohm=100.0, reference_ohm=400.0)

# Datasheet 19-6478 of the 15 bit ratio converter, table 9 ("temperature example for Pt100 with
# 400 ohm reference"): temperature, °C; resistance, ohm, which is that of IEC 60751, table 1;
# content of the data registers; code. Fetched from a public copy of the datasheet.
TABLE_9 = [
    (-200.0, 18.52, 0x0BDA, 1517),
    (-150.0, 39.72, 0x196C, 3254),
    (-100.0, 60.26, 0x2690, 4936),
    (-50.0, 80.31, 0x3366, 6579),
    (-40.0, 84.27, 0x35EE, 6903),
    (-10.0, 96.09, 0x3D7E, 7871),
    (0.0, 100.00, 0x4000, 8192),
    (10.0, 103.90, 0x4280, 8512),
    (20.0, 107.79, 0x44FC, 8830),
    (30.0, 111.67, 0x4778, 9148),
    (40.0, 115.54, 0x49F2, 9465),
    (50.0, 119.40, 0x4C6A, 9781),
    (60.0, 123.24, 0x4EE0, 10096),
    (70.0, 127.08, 0x5154, 10410),
    (80.0, 130.90, 0x53C6, 10723),
    (100.0, 138.51, 0x58A4, 11346),
    (150.0, 157.33, 0x64B0, 12888),
    (200.0, 175.86, 0x708C, 14406),
    (250.0, 194.10, 0x7C3A, 15901),
    (400.0, 247.09, 0x9E24, 20242),
    (550.0, 297.49, 0xBE64, 24370),
]


@pytest.mark.parametrize(("temperature_c", "ohm"), [row[:2] for row in TABLE_9])
def test_the_law_gives_the_resistances_of_the_standard(temperature_c: float, ohm: float) -> None:
    assert 100.0 * platinum.ratio_at(temperature_c) == pytest.approx(ohm, abs=0.0051)


@pytest.mark.parametrize(("temperature_c", "ohm"), [row[:2] for row in TABLE_9[1:]])
def test_the_inverse_gives_the_temperatures_of_the_standard(
    temperature_c: float, ohm: float
) -> None:
    # The table is rounded to 0.01 ohm, and 0.3 ohm are a kelvin at most.
    assert platinum.temperature_at(ohm / 100.0) == pytest.approx(temperature_c, abs=0.02)


@given(st.floats(platinum.LOWEST_C, platinum.HIGHEST_C))
def test_law_and_inverse_undo_each_other(temperature_c: float) -> None:
    back_c = platinum.temperature_at(platinum.ratio_at(temperature_c))
    assert back_c == pytest.approx(temperature_c, abs=1e-6)


@pytest.mark.parametrize("ratio", [0.0, 0.185, 3.905, 40.0, math.nan])
def test_what_no_platinum_can_have_is_no_temperature(ratio: float) -> None:
    # IEC 60751: the law holds from -200 °C (18.52 ohm) to 850 °C (390.48 ohm).
    assert math.isnan(platinum.temperature_at(ratio))


# Limits of IEC 60751:1995 for classes A and B as a public sheet of them prints: at a temperature,
# °C; ± K and the same in ± ohm of a Pt100. The classes are 0.15 + 0.002·|t| and 0.3 + 0.005·|t|.
CLASSES = [
    ("A", 0.0, 0.15, 0.06),
    ("A", 100.0, 0.35, 0.13),
    ("A", 200.0, 0.55, 0.20),
    ("A", -100.0, 0.35, 0.14),
    ("B", 0.0, 0.30, 0.12),
    ("B", 100.0, 0.80, 0.30),
    ("B", 200.0, 1.30, 0.48),
    ("B", -100.0, 0.80, 0.32),
]


@pytest.mark.parametrize(("_name", "temperature_c", "off_k", "off_ohm"), CLASSES)
def test_a_resistance_at_the_edge_of_its_class_reads_as_far_off_as_the_class_allows(
    _name: str, temperature_c: float, off_k: float, off_ohm: float
) -> None:
    ohm = 100.0 * platinum.ratio_at(temperature_c)
    for sign in (-1.0, 1.0):
        read_c = platinum.temperature_at((ohm + sign * off_ohm) / 100.0)
        # Both columns are rounded to 0.01; 0.005 ohm are 0.013 K.
        assert sign * (read_c - temperature_c) == pytest.approx(off_k, abs=0.02)


@pytest.mark.parametrize(
    ("temperature_c", "register", "code"), [(t, r, c) for t, _, r, c in TABLE_9]
)
def test_every_code_of_the_converters_table_is_its_temperature(
    tmp_path: Path, temperature_c: float, register: int, code: int
) -> None:
    # The kernel's driver shifts the fault bit out: drivers/iio/temperature/max31865.c.
    assert register >> 1 == code
    folder = kernel_tree.ratio_converter(tmp_path, 0, code)
    reading = iio.measure_platinum(tmp_path, "max31865", PT100)
    assert folder.is_dir()
    if temperature_c == 0.0 or not iio.LOWEST_C <= temperature_c <= iio.HIGHEST_C:
        assert reading.fault is (Fault.ALL_ZERO if temperature_c == 0.0 else Fault.DEVICE)
    else:  # one step is 0.031 K and more
        assert reading.value == pytest.approx(temperature_c, abs=0.025)


def test_the_drivers_own_scale_would_be_off_where_chocolate_is(tmp_path: Path) -> None:
    # Table 9 has code/32 - 256 beside: 49.66 °C at 50 °C, 39.78 °C at 40 °C. And the driver's
    # scale of 31.25 m°C a step comes without an offset: 305.66 °C.
    kernel_tree.ratio_converter(tmp_path, 0, 9781)
    read_c = iio.measure_platinum(tmp_path, "max31865", PT100).value
    assert read_c - (9781 / 32 - 256) == pytest.approx(50.0 - 49.66, abs=0.02)
    assert iio.measure(tmp_path, "max31865").fault is Fault.DEVICE


# The constants of three common thermistors that a multimeter's manual prints (model 2700, table
# F-9), each named there by its resistance at 25 °C: ohm, a, b, c.
CONSTANTS = [
    (2252.0, 0.0014733, 0.0002372, 1.074e-7),
    (5000.0, 0.001288, 0.0002356, 9.557e-8),
    (10_000.0, 0.0010295, 0.0002391, 1.568e-7),
]
DIVIDER = Thermistor(
    series_ohm=10_000.0, supply_mv=3300.0, is_to_ground=True, a=0.0010295, b=0.0002391, c=1.568e-7
)


@pytest.mark.parametrize(("ohm", "a", "b", "c"), CONSTANTS)
def test_published_constants_give_the_published_resistance_at_25_degrees(
    ohm: float, a: float, b: float, c: float
) -> None:
    read_c = thermistor.temperature_c(replace(DIVIDER, a=a, b=b, c=c), ohm)
    assert read_c == pytest.approx(25.0, abs=0.05)  # half of the last digit of b is 0.04 K


# A 10 kohm thermistor's resistances, and by how much a third order fit misses each temperature:
# table A.1 in the manual of a laboratory temperature controller (LDC-3900), °C, ohm. Its row of
# 40 °C (5331 ohm) is left out: it lies 0.47 K off the curve of all others, though not by its own
# column.
TABLE_A1 = [
    (0.0, 32128.0),
    (10.0, 19549.0),
    (20.0, 12262.0),
    (25.0, 9814.0),
    (30.0, 7908.0),
    (50.0, 3542.0),
]


def fitted(rows: list[tuple[float, float]]) -> tuple[float, float, float]:
    """The three constants through three points, by divided differences."""
    (l1, y1), (l2, y2), (l3, y3) = [(math.log(ohm), 1.0 / (at_c + 273.15)) for at_c, ohm in rows]
    g2, g3 = (y2 - y1) / (l2 - l1), (y3 - y1) / (l3 - l1)
    c = (g3 - g2) / (l3 - l2) / (l1 + l2 + l3)
    b = g2 - c * (l1 * l1 + l1 * l2 + l2 * l2)
    return y1 - l1 * (b + l1 * l1 * c), b, c


@pytest.mark.parametrize(("temperature_c", "ohm"), TABLE_A1)
def test_a_fit_through_three_points_misses_no_other_by_a_hundredth_of_a_degree(
    temperature_c: float, ohm: float
) -> None:
    # The same manual: "temperature calculation errors of less than 0.01 °C".
    a, b, c = fitted([TABLE_A1[0], TABLE_A1[2], TABLE_A1[4]])
    read_c = thermistor.temperature_c(replace(DIVIDER, a=a, b=b, c=c), ohm)
    assert read_c == pytest.approx(temperature_c, abs=0.01)


@pytest.mark.parametrize("is_to_ground", [True, False])
@given(ohm=st.floats(1.0, 1e6))
def test_a_divider_gives_back_the_resistance_by_ohms_law(is_to_ground: bool, ohm: float) -> None:
    made = replace(DIVIDER, is_to_ground=is_to_ground)
    under_ohm = ohm if is_to_ground else made.series_ohm
    measured_mv = made.supply_mv * under_ohm / (ohm + made.series_ohm)
    assert thermistor.resistance_ohm(made, measured_mv) == pytest.approx(ohm, rel=1e-9)
