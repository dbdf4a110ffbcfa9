"""Machine files of real machines: thermometers, the stirrer's line, and the guard they must have.

Responsible for `[attach]` with `kind = "linux"`; not for what the drivers do with it.
"""

import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import get_args

import pytest
from pydantic import BaseModel

from controller.clock import RealClock
from controller.core import records
from controller.core.lacks import Lack, lacks_of, sentences
from controller.errors import MachineFileError
from controller.files.attach_shape import LinuxAttach, PwmAt
from controller.files.explain import explain_machine
from controller.files.input_shape import FileAt, InputAt, LoadAt
from controller.files.machine_file import bench_machine_path, load_machine_file
from controller.files.machine_shape import MachineTable
from controller.files.thermometer_shape import ThermometerAt
from controller.ports import Quality
from controller.wiring import thermometers_of
from tests.helpers.kitchen_file import BATH, DRIVERS, HWMON, ONE_WIRE, README, example, loaded


def further() -> str:
    """What the page says may be added, with what is taken if it is left out."""
    shown = README.read_text(encoding="utf-8").partition("<!-- more keys -->")[2]
    return shown.partition("```toml\n")[2].partition("```")[0]


def keys_of(model: type[BaseModel]) -> Iterator[str]:
    """Every key of a table and of those within it."""
    for name, field in model.model_fields.items():
        yield field.alias or name
        for table in _tables_in(field.annotation):
            yield from keys_of(table)


def _tables_in(annotation: object) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for part in get_args(annotation):
        yield from _tables_in(part)


def test_what_the_page_says_is_taken_is_taken(tmp_path: Path) -> None:
    path = tmp_path / "more.toml"
    path.write_text(example() + further(), encoding="utf-8")
    given, plain = load_machine_file(path), loaded(tmp_path)
    assert given == replace(plain, path=path, machine=given.machine)
    assert given.machine == records.replace(plain.machine, file=str(path))


def test_every_key_of_a_machine_file_is_on_the_page() -> None:
    page = README.read_text(encoding="utf-8") + DRIVERS.read_text(encoding="utf-8")
    every = set(keys_of(MachineTable)) - {"password"}  # refused, with a reason
    assert {key for key in every if not re.search(rf"\b{key}\b", page)} == set()


def test_the_example_on_the_hardware_page_loads(tmp_path: Path) -> None:
    machine_file = loaded(tmp_path)
    assert machine_file.machine.name == "kitchen"
    assert machine_file.guard is not None
    assert machine_file.attach == LinuxAttach(
        bath=ThermometerAt(kind="1-wire", place="28-00000a1b2c3d"),
        bowl=ThermometerAt(kind="hwmon", place="tmp102"),
        stirrer_line="GPIO27",
    )


def test_the_guards_thermometer_in_the_example_is_no_one_elses(tmp_path: Path) -> None:
    machine_file = loaded(tmp_path)
    assert isinstance(machine_file.attach, LinuxAttach)
    assert machine_file.guard is not None
    assert machine_file.attach.bath is not None
    assert machine_file.attach.bath.place not in machine_file.guard.probe.path


def test_the_thermometers_of_a_machine_are_had_without_any_of_its_lines(tmp_path: Path) -> None:
    (tmp_path / "bowl_input").write_text("31250\n", encoding="ascii")
    own = 'path = "bowl_input"'
    machine_file = loaded(tmp_path, ('name = "tmp102"', own))
    with thermometers_of(machine_file) as sensors:
        assert set(sensors) == {"bath", "bowl"}
        assert sensors["bowl"].read(RealClock().now_s()).value == 31.25
        assert sensors["bath"].read(RealClock().now_s()).quality is Quality.BAD


CALLERS = """[attach.buzzer]
line = "GPIO24"
[attach.lamp]
line = "{lamp}"

[guard.main]"""


def test_a_buzzer_and_a_lamp_have_lines_of_their_own(tmp_path: Path) -> None:
    attach = loaded(tmp_path, ("[guard.main]", CALLERS.format(lamp="GPIO25"))).attach
    assert isinstance(attach, LinuxAttach)
    assert (attach.buzzer_line, attach.lamp_line) == ("GPIO24", "GPIO25")
    with pytest.raises(MachineFileError, match=r"GPIO27.*is that of stirrer"):
        loaded(tmp_path, ("[guard.main]", CALLERS.format(lamp="GPIO27")))


def test_a_bench_has_no_thermometers_outside_a_run() -> None:
    with thermometers_of(load_machine_file(bench_machine_path("reference"))) as sensors:
        assert sensors == {}


@pytest.mark.parametrize(
    ("written", "place"),
    [
        ("/sys/class/hwmon/hwmon0/temp1_input", "/sys/class/hwmon/hwmon0/temp1_input"),
        ("bowl_input", "{folder}/bowl_input"),
    ],
)
def test_a_path_is_taken_whole_or_from_beside_the_file(
    tmp_path: Path, written: str, place: str
) -> None:
    machine_file = loaded(tmp_path, ('name = "tmp102"', f'path = "{written}"'))
    assert isinstance(machine_file.attach, LinuxAttach)
    assert machine_file.attach.bowl is not None
    assert machine_file.attach.bowl.place == place.format(folder=tmp_path)


def test_the_explanation_names_thermometers_and_line(tmp_path: Path) -> None:
    said = explain_machine(loaded(tmp_path), fahrenheit=False)
    assert (
        "Attached: bath 28-00000a1b2c3d (1-wire), bowl tmp102 (hwmon), "
        "stirrer on the line GPIO27." in said
    )


def test_the_explanation_names_everything_else_that_is_attached(tmp_path: Path) -> None:
    more = """
[attach.level]
line = "GPIO5"
[attach.shaft]
line = "GPIO6"
[attach.buzzer]
line = "GPIO24"
[attach.lamp]
line = "GPIO25"
[attach.heater_current]
kind = "hwmon"
name = "ina226"
"""
    whole = loaded(
        tmp_path,
        ("level_switch = false", "level_switch = true\nheater_current = true"),
        ("shaft_pulses = false", "shaft_pulses = true"),
        ("[guard.main]", f"{more}[guard.main]"),
    )
    assert (
        "stirrer on the line GPIO27, heater current ina226 (hwmon), level on the line GPIO5, "
        "shaft on the line GPIO6, buzzer on the line GPIO24, lamp on the line GPIO25."
    ) in explain_machine(whole, fahrenheit=False)


def test_a_stirrer_may_have_a_pwm_output_and_the_kernels_files_another_root(
    tmp_path: Path,
) -> None:
    pwm = 'pwm = "/sys/class/pwm/pwmchip0/pwm0"\nfull = "60 rpm"\nperiod = "0.0001 s"'
    edits = ('line = "GPIO27"', pwm), ('kind = "linux"', 'kind = "linux"\nroot = "tree"')
    machine_file = loaded(tmp_path, *edits)
    assert isinstance(machine_file.attach, LinuxAttach)
    path = "/sys/class/pwm/pwmchip0/pwm0"
    assert machine_file.attach.stirrer_pwm == PwmAt(path=path, period_s=0.0001, full_rpm=60.0)
    assert machine_file.attach.stirrer_line is None
    assert machine_file.attach.root == tmp_path / "tree"
    said = explain_machine(machine_file, fahrenheit=False)
    assert "stirrer by PWM at /sys/class/pwm/pwmchip0/pwm0, 60 rpm at full" in said


def test_a_level_switch_and_a_shafts_pulses_have_lines_of_their_own(tmp_path: Path) -> None:
    inputs = (
        '[attach.level]\nline = "GPIO5"\nactive_low = true\n\n'
        '[attach.shaft]\nline = "GPIO6"\npulses = 4\n\n[attach.stirrer]'
    )
    machine_file = loaded(
        tmp_path,
        ("level_switch = false", "level_switch = true"),
        ("shaft_pulses = false", "shaft_pulses = true"),
        ("[attach.stirrer]", inputs),
    )
    assert isinstance(machine_file.attach, LinuxAttach)
    assert machine_file.attach.level == InputAt(line="GPIO5", active_low=True, debounce_s=0.05)
    shaft = InputAt(line="GPIO6", active_low=False, debounce_s=0.002, pulses=4)
    assert machine_file.attach.shaft == shaft
    assert machine_file.machine.has_level
    assert machine_file.machine.has_shaft


def test_the_pages_switches_and_load_are_taken(tmp_path: Path) -> None:
    page = DRIVERS.read_text(encoding="utf-8")
    blocks = [
        page.partition(f"<!-- {name} -->")[2].partition("```toml\n")[2].partition("```")[0]
        for name in ("switches", "load")
    ]
    machine_file = loaded(
        tmp_path,
        ("load_signal = false", "load_signal = true\nlid_switch = true\nstop_button = true"),
        ("[attach.stirrer]", "\n".join([*blocks, "[attach.stirrer]"])),
    )
    assert isinstance(machine_file.attach, LinuxAttach)
    stop = InputAt(line="GPIO13", active_low=False, debounce_s=0.02)
    lid = InputAt(line="GPIO12", active_low=False, debounce_s=0.05)
    assert (machine_file.attach.stop, machine_file.attach.lid) == (stop, lid)
    assert machine_file.attach.load is not None


def test_lid_stop_button_and_the_motors_current_are_what_the_file_says(tmp_path: Path) -> None:
    inputs = (
        '[attach.lid]\npath = "lid"\n\n[attach.stop]\nline = "GPIO13"\nactive_low = true\n\n'
        '[attach.load]\nkind = "hwmon"\nname = "ina219"\nsupply = "12 V"\nidle = "200 mA"\n\n'
    )
    machine_file = loaded(
        tmp_path,
        ("load_signal = false", "load_signal = true\nlid_switch = true\nstop_button = true"),
        ("[attach.stirrer]", f"{inputs}[attach.stirrer]"),
    )
    attach, machine = machine_file.attach, machine_file.machine
    assert isinstance(attach, LinuxAttach)
    assert attach.lid == FileAt(path=str(tmp_path / "lid"), active_low=False)
    assert attach.stop == InputAt(line="GPIO13", active_low=True, debounce_s=0.02)
    chip = ThermometerAt(kind="hwmon", place="ina219")
    assert attach.load == LoadAt(chip=chip, supply_v=12.0, idle_a=0.2)
    assert (machine.has_lid, machine.has_stop, machine.has_load) == (True, True, True)
    said = explain_machine(machine_file, fahrenheit=False)
    assert (
        f"load ina219 (12 V), lid in the file {tmp_path / 'lid'}, stop on the line GPIO13" in said
    )


@pytest.mark.parametrize(
    ("key", "edit", "said"),
    [
        ("bath_probe", (BATH + ONE_WIRE, ""), "Attached: bath none, bowl tmp102 (hwmon)"),
        ("bowl_probe", ("[attach.bowl]\n" + HWMON, ""), "bowl none, stirrer on the line GPIO27"),
        ("stirrer", ('[attach.stirrer]\nline = "GPIO27"', ""), "stirrer none"),
    ],
)
def test_a_machine_that_does_without_a_part_says_so_and_is_told_what_that_means(
    tmp_path: Path, key: str, edit: tuple[str, str], said: str
) -> None:
    machine_file = loaded(tmp_path, edit, ("[fitted]", f"[fitted]\n{key} = false"))
    assert lacks_of(machine_file.machine) == (Lack(key),)
    text = explain_machine(machine_file, fahrenheit=False)
    assert said in text
    assert sentences((Lack(key),))[0] in text


def test_a_real_machine_sees_its_heater_by_the_guard_s_line_and_a_chip_s_file(
    tmp_path: Path,
) -> None:
    bare = loaded(tmp_path).machine
    assert (bare.has_mains, bare.has_current) == (False, False)
    seeing = loaded(
        tmp_path,
        ('heater = "500 W"', 'heater = "500 W"\nmains = "120 V"'),
        ("load_signal = false", "load_signal = false\nheater_current = true"),
        ("[attach.stirrer]", f"[attach.heater_current]\n{CHIP}\n\n[attach.stirrer]"),
        ("[guard.probe]", '[guard.mains_live]\nkind = "gpio"\nname = "GPIO24"\n\n[guard.probe]'),
    )
    assert (seeing.machine.has_mains, seeing.machine.has_current) == (True, True)
    assert seeing.machine.heater_a == pytest.approx(500.0 / 120.0)
    assert isinstance(seeing.attach, LinuxAttach)
    assert seeing.attach.heater_current == ThermometerAt(kind="hwmon", place="ina226")


CHIP = 'kind = "hwmon"\nname = "ina226"'
