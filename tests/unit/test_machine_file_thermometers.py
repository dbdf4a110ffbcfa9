"""Thermometers in a machine file: converters with their constants, and what is refused.

Responsible for `[attach.bath]` and `[attach.bowl]`; not for the rest of a file, nor for drivers.
"""

from pathlib import Path

import pytest

from controller.errors import MachineFileError
from controller.files.attach_shape import LinuxAttach
from controller.files.explain import explain_machine
from controller.files.machine_file import MachineFile, load_machine_file
from controller.files.thermometer_shape import PlatinumMade, ThermistorMade, ThermometerAt
from controller.wiring.attaching import thermometer_plan
from hardware.linux.attach import Platinum, Thermistor, ThermometerPlan

README = Path(__file__).resolve().parents[2] / "hardware" / "README.md"
SPI = "/sys/bus/spi/devices/spi0.0/iio:device*"


def shown(mark: str) -> str:
    """An example that the hardware page prints."""
    text = README.read_text(encoding="utf-8").partition(f"<!-- {mark} -->")[2]
    return text.partition("```toml\n")[2].partition("```")[0]


def loaded(folder: Path, bath: str, bowl: str) -> MachineFile:
    """The page's machine with these two thermometers."""
    text = shown("machine")
    before, after = text.index("[attach.bath]"), text.index("[attach.stirrer]")
    path = folder / "machine.toml"
    path.write_text(f"{text[:before]}{bath}\n{bowl}\n{text[after:]}", encoding="utf-8")
    return load_machine_file(path)


def of_page() -> tuple[str, str]:
    """The page's examples of converters: the platinum thermometer, and the thermistor."""
    text = shown("converters")
    split = text.index("[attach.bowl]")
    return text[:split], text[split:]


def test_the_converters_on_the_hardware_page_load(tmp_path: Path) -> None:
    attach = loaded(tmp_path, *of_page()).attach
    assert isinstance(attach, LinuxAttach)
    assert attach.bath == ThermometerAt(
        kind="platinum", place=SPI, made=PlatinumMade(zero_ohm=100.0, reference_ohm=400.0)
    )
    assert attach.bowl == ThermometerAt(
        kind="thermistor",
        place="/sys/bus/i2c/devices/1-0048/iio:device*",
        made=ThermistorMade(
            channel=0,
            series_ohm=10_000.0,
            supply_mv=3300.0,
            is_to_ground=True,
            a=1.0295e-3,
            b=2.391e-4,
            c=1.568e-7,
        ),
    )


def test_what_a_file_says_reaches_the_drivers_whole(tmp_path: Path) -> None:
    attach = loaded(tmp_path, *of_page()).attach
    assert isinstance(attach, LinuxAttach)
    assert thermometer_plan(attach.bath) == ThermometerPlan(
        kind="platinum", place=SPI, platinum=Platinum(zero_ohm=100.0, reference_ohm=400.0)
    )
    assert thermometer_plan(attach.bowl) == ThermometerPlan(
        kind="thermistor",
        place="/sys/bus/i2c/devices/1-0048/iio:device*",
        thermistor=Thermistor(
            series_ohm=10_000.0,
            supply_mv=3300.0,
            is_to_ground=True,
            a=1.0295e-3,
            b=2.391e-4,
            c=1.568e-7,
        ),
    )


def test_a_thermocouples_converter_goes_by_its_name(tmp_path: Path) -> None:
    bath = '[attach.bath]\nkind = "iio"\nname = "max31856"'
    machine_file = loaded(tmp_path, bath, of_page()[1])
    assert isinstance(machine_file.attach, LinuxAttach)
    assert machine_file.attach.bath == ThermometerAt(kind="iio", place="max31856")
    said = explain_machine(machine_file, fahrenheit=False)
    assert "bath max31856 (iio), bowl /sys/bus/i2c/devices/1-0048/iio:device* (thermistor)" in said


BAD = [
    ("no reference", 0, 'reference = "400 ohm"', "", "bath · reference", 'reference = "400 ohm"'),
    ("a bare number", 0, '"400 ohm"', "400.0", "bath · reference", '"400.0 ohm"'),
    ("a unit of another kind", 0, '"400 ohm"', '"400 W"', "bath · reference", '"10 kohm"'),
    ("no resistor", 0, '"400 ohm"', '"0 ohm"', "bath · reference", '"10 ohm" to "1000 kohm"'),
    ("too many ohms", 0, '"100 ohm"', '"100 kohm"', "bath · zero", '"50 ohm" to "10 kohm"'),
    ("a small resistor", 0, '"400 ohm"', '"100 ohm"', "attach · bath:", 'at least "140 ohm"'),
    ("a number in the path", 0, "device*", "device0", "bath · path", "after the next boot"),
    ("no place", 0, f'path = "{SPI}"', "", "attach: bath has neither name nor path", "max31865"),
    ("a path as name", 0, "path =", "name =", "bath · name", "is no name of an IIO device"),
    ("two numbers", 1, ", 1.568e-7", "", "bowl · steinhart_hart", "three numbers a, b and c"),
    ("no number", 1, "1.568e-7", '"c"', "bowl · steinhart_hart", "three numbers a, b and c"),
    ("in °C", 1, "1.0295e-3", "25.0", "bowl · steinhart_hart", "with K and ohm"),
    ("a high voltage", 1, '"3.3 V"', '"230 V"', "bowl · supply", '"1 V" to "24 V"'),
    ("a channel too many", 1, "channel = 0", "channel = 99", "bowl · channel", "less than"),
    ("between nothing", 1, "input-and-ground", "both", "bowl · between", "input-and-ground"),
]


@pytest.mark.parametrize(
    ("which", "old", "new", "key", "remedy"), [case[1:] for case in BAD], ids=[c[0] for c in BAD]
)
def test_a_bad_converter_is_refused_with_file_key_and_remedy(
    tmp_path: Path, which: int, old: str, new: str, key: str, remedy: str
) -> None:
    tables = list(of_page())
    assert old in tables[which], "the test's own text is gone"
    tables[which] = tables[which].replace(old, new, 1)
    with pytest.raises(MachineFileError) as caught:
        loaded(tmp_path, *tables)
    lines = str(caught.value).splitlines()
    assert [line for line in lines if key in line and remedy in line], lines
    assert all(line.startswith("machine.toml, ") for line in lines)
