"""What the bytes of a 1-wire thermometer mean, against its datasheet and the note on its checksum.

Responsible for codes, checksum and their agreement with the kernel's text; not for broken files.
"""

from pathlib import Path

import pytest

from controller.ports import Fault, Reading
from hardware.linux.hwmon import measure as measure_hwmon
from hardware.linux.one_wire import crc8, measure, temperature

# Configuration, thresholds and reserved bytes of a 12 bit thermometer; they don't touch the code.
REST = bytes.fromhex("4b467fff0c10")

# The table "temperature/data relationship" of the datasheet 19-7487, "programmable resolution
# 1-wire digital thermometer" (document 042208 has the same), without 85 and 0 °C: see below.
DATASHEET = [
    (0x07D0, 125.0),
    (0x0191, 25.0625),
    (0x00A2, 10.125),
    (0x0008, 0.5),
    (0xFFF8, -0.5),
    (0xFF5E, -10.125),
    (0xFE6F, -25.0625),
    (0xFC90, -55.0),
]


def whole(code: int, rest: bytes = REST) -> bytes:
    """Nine bytes with that code and a right checksum."""
    head = code.to_bytes(2, "little") + rest
    return head + bytes([crc8(head)])


@pytest.mark.parametrize(("code", "value_c"), DATASHEET)
def test_every_code_of_the_datasheet_is_its_temperature(code: int, value_c: float) -> None:
    assert temperature(whole(code)) == Reading(value_c)


# The datasheet's configuration register, byte 4: 0 R1 R0 1 1 1 1 1, and its note that the lowest 3,
# 2 and 1 bits are undefined with 9, 10 and 11 bits.
@pytest.mark.parametrize(
    ("configured", "value_c"), [(0x1F, 25.5), (0x3F, 25.75), (0x5F, 25.875), (0x7F, 25.9375)]
)
def test_bits_that_a_coarse_resolution_leaves_undefined_are_not_believed(
    configured: int, value_c: float
) -> None:
    rest = REST[:2] + bytes([configured]) + REST[3:]
    assert temperature(whole(0x019F, rest)) == Reading(value_c)


def test_the_checksum_of_a_whole_memory_that_others_print_comes_out() -> None:
    # Bytes of a reading of 23.125 °C, and of one of 20.375 °C, that public pages print.
    assert crc8(bytes.fromhex("72014b467fff0e10")) == 0x57
    assert crc8(bytes.fromhex("46014b467fff0a10")) == 0x85


def test_zero_degrees_are_a_temperature_when_the_other_bytes_are_there() -> None:
    # The same table: 0000 is 0 °C.
    assert temperature(whole(0x0000)) == Reading(0.0)


def test_the_power_on_value_is_none() -> None:
    # The same table, its footnote: the register holds +85 °C (0550) after power-on.
    assert temperature(whole(0x0550)).fault is Fault.POWER_ON_VALUE
    assert temperature(whole(0x0551)) == Reading(85.0625)
    assert temperature(whole(0x054F)) == Reading(84.9375)


def test_the_code_of_too_little_power_is_none() -> None:
    # Documentation/w1/slaves/w1_therm.rst of Linux: 127.94 °C means insufficient power.
    assert temperature(whole(0x07FF)).fault is Fault.DEVICE


def test_codes_out_of_the_range_of_the_datasheet_are_none() -> None:
    # -55 to +125 °C; 07D1 and FC8F are one step outside.
    assert temperature(whole(0x07D1)).fault is Fault.DEVICE
    assert temperature(whole(0xFC8F)).fault is Fault.DEVICE


def test_the_checksum_of_the_application_note_comes_out() -> None:
    # Application note 27 of the bus's maker, example 2: family code 02, serial number
    # 00 00 00 01 B8 1C read from its end, checksum A2.
    assert crc8(bytes.fromhex("021cb801000000")) == 0xA2


def test_the_checksum_of_the_catalogue_comes_out() -> None:
    # The "check" value of CRC-8/MAXIM-DOW in the catalogue of parametrised CRC algorithms,
    # https://reveng.sourceforge.io/crc-catalogue/1-15.htm
    assert crc8(b"123456789") == 0xA1


def test_a_checksum_over_content_and_checksum_is_zero() -> None:
    # Application note 27: the shift register holds 0 when the checksum itself has gone through.
    assert crc8(bytes.fromhex("021cb801000000a2")) == 0


def test_a_zeroed_memory_would_pass_its_checksum_and_is_refused() -> None:
    # crc8 of zeros is 0 by its definition, so nine zero bytes say "0 °C, checksum right".
    assert crc8(bytes(8)) == 0
    assert temperature(bytes(9)).fault is Fault.ALL_ZERO


@pytest.mark.parametrize("bit", range(72))
def test_any_one_wrong_bit_is_found(bit: int) -> None:
    # A CRC finds every single wrong bit: application note 27.
    spoilt = bytearray(whole(0x0191))
    spoilt[bit // 8] ^= 1 << bit % 8
    assert temperature(bytes(spoilt)).fault is Fault.CHECKSUM


def test_our_reading_of_the_bytes_is_the_kernels(tmp_path: Path) -> None:
    # A reading that many public pages about this driver print; bytes, checksum and thousandths of
    # °C confirm each other.
    (tmp_path / "w1_slave").write_text(
        "72 01 4b 46 7f ff 0e 10 57 : crc=57 YES\n72 01 4b 46 7f ff 0e 10 57 t=23125\n",
        encoding="ascii",
    )
    assert measure(tmp_path) == Reading(23.125)


def test_a_silent_bus_is_no_answer_whatever_the_kernel_remembers(tmp_path: Path) -> None:
    # A reading that a public note on this driver prints: nobody pulled the bus low, and the second
    # line repeats older bytes.
    (tmp_path / "w1_slave").write_text(
        "ff ff ff ff ff ff ff ff ff : crc=c9 NO\n46 01 4b 46 7f ff 0a 10 85 t=-62\n",
        encoding="ascii",
    )
    assert crc8(b"\xff" * 8) == 0xC9
    assert measure(tmp_path).fault is Fault.NO_ANSWER


def test_hwmon_counts_in_thousandths_of_a_degree(tmp_path: Path) -> None:
    # Documentation/hwmon/sysfs-interface.rst of Linux: temp[1-*]_input is in millidegree Celsius.
    path = tmp_path / "temp1_input"
    path.write_text("31500\n", encoding="ascii")
    assert measure_hwmon(path) == Reading(31.5)
