"""Machine files of boards: what they become, and what is refused.

Responsible for `[attach]` with `kind = "modbus"` and `[guard.board]`; not for speaking to a board.
"""

from pathlib import Path

import pytest

from controller.errors import MachineFileError
from controller.files.board_shape import MeasuredAt, ModbusAttach, SwitchedAt
from controller.files.explain import explain_machine
from controller.files.machine_file import MachineFile, load_machine_file
from controller.guard.settings import PointAt

ROOT = Path(__file__).resolve().parents[2]
FILE = ROOT / "tests" / "helpers" / "board_machine.toml"
README = ROOT / "hardware" / "DRIVERS.md"


def loaded(folder: Path, *edits: tuple[str, str], text: str = "") -> MachineFile:
    """The file with the first occurrence of each old text replaced."""
    text = text or FILE.read_text(encoding="utf-8")
    for old, new in edits:
        assert old in text, f"the test's own text is gone: {old}"
        text = text.replace(old, new, 1)
    path = folder / "machine.toml"
    path.write_text(text, encoding="utf-8")
    return load_machine_file(path)


def test_a_board_becomes_plain_points(tmp_path: Path) -> None:
    attach = loaded(tmp_path).attach
    assert isinstance(attach, ModbusAttach)
    assert attach.board.host_loss == PointAt(table="holding_register", address=0)
    assert (attach.board.host_loss_step_ms, attach.board.parity) == (100, "N")
    assert attach.bath == MeasuredAt(
        point=PointAt(table="input_register", address=0), step=0.01, broken=(-32768,)
    )
    assert attach.stirrer == SwitchedAt(
        coil=PointAt(table="coil", address=2), shown=PointAt(table="discrete_input", address=2)
    )
    assert attach.cooling is None


def test_the_explanation_names_board_and_points(tmp_path: Path) -> None:
    said = explain_machine(loaded(tmp_path), fahrenheit=False)
    assert (
        "Attached: a board at 127.0.0.1:1502, unit 2; bath input register 0, bowl input register "
        "1, level discrete input 4, shaft input register 3, stirrer coil 2." in said
    )
    assert "heater on coil 0 (modbus)" in said


def test_the_board_on_the_hardware_page_loads(tmp_path: Path) -> None:
    shown = README.read_text(encoding="utf-8").partition("<!-- board -->")[2]
    board = shown.partition("```toml\n")[2].partition("```")[0]
    whole = FILE.read_text(encoding="utf-8")
    text = whole[: whole.index("[fitted]")] + board
    attach = loaded(tmp_path, text=text).attach
    assert isinstance(attach, ModbusAttach)
    assert attach.board.at == "/dev/ttyUSB0"


BATH = "[attach.bath]\ninput_register = 0"
BAD = [
    ("no place", [('at = "127.0.0.1:1502"\n', "")], "board · at: is missing", "/dev/ttyUSB0"),
    ("no port", [('"127.0.0.1:1502"', '"127.0.0.1"')], "board · at", "192.0.2.7:502"),
    ("a relative port", [('"127.0.0.1:1502"', '"ttyUSB0"')], "board · at", "is no place"),
    ("unit 300", [("unit = 2", "unit = 300")], "board · unit", "247"),
    ("odd words", [('parity = "none"', 'parity = "some"')], "board · parity", "even"),
    (
        "no host loss",
        [('host_loss = { holding_register = 0, step = "0.1 s" }\n', "")],
        "board · host_loss: is missing",
        "holding_register",
    ),
    (
        "two tables",
        [(BATH, BATH + "\nholding_register = 0")],
        "attach · bath",
        "exactly one of coil",
    ),
    ("no table", [(BATH, "[attach.bath]")], "attach · bath", "like input_register = 0"),
    ("no step", [('step = "0.01 K"\n', "")], "bath · step: is missing", '"0.01 K"'),
    ("a step of °C", [('step = "0.01 K"', 'step = "0.01 C"')], "bath · step", '"0.01 K"'),
    ("an address too high", [("coil = 2", "coil = 70000")], "stirrer · coil", "65535"),
    ("no guard's board", [("[guard.board]", "[mqttx]")], "mqttx", "is not a key here"),
    (
        "nothing on the guard's board",
        [
            ('kind = "modbus"\ncoil = 0', 'kind = "gpio"\nname = "GPIO17"'),
            ('kind = "modbus"\ndiscrete_input = 0', 'kind = "gpio"\nname = "GPIO18"'),
            (
                'kind = "modbus"\ninput_register = 2\nstep = "0.01 K"\nbroken = [-32768]',
                'kind = "hwmon"\npath = "temp1_input"',
            ),
        ],
        "guard: board is there",
        "take it out",
    ),
    ("no coil", [('kind = "modbus"\ncoil = 0', 'kind = "modbus"')], "main has no coil", "coil = 0"),
    ("a name too", [("coil = 0", 'coil = 0\nname = "GPIO1"')], "main has a name too", "only coil"),
    ("one board", [("unit = 2", "unit = 1")], "attach · board", "a dead guard has left on"),
    (
        "one line",
        [('"127.0.0.1:1502"', '"/dev/ttyUSB0"'), ('"127.0.0.1:1502"', '"/dev/ttyUSB0"')],
        "attach · board",
        "has one master",
    ),
    (
        "one coil for two",
        [
            ("[attach.level]", "[attach.cooling]\ncoil = 2\n\n[attach.level]"),
            ("[fitted]", '[cooling]\nkind = "pump"\ncarries = "70 W/K"\n\n[fitted]'),
        ],
        "coil 2 is both",
        "each its own",
    ),
    ("a level that is not there", [("[attach.level]\ndiscrete_input = 4", "")], "level", "false"),
    (
        "a load that is not said",
        [("[guard]", '[attach.load]\ninput_register = 4\nstep = "0.01 W"\n\n[guard]')],
        "attach · load: is there",
        "load_signal = false",
    ),
]


@pytest.mark.parametrize(
    ("edits", "key", "remedy"), [case[1:] for case in BAD], ids=[case[0] for case in BAD]
)
def test_a_bad_board_is_refused_with_file_key_and_remedy(
    tmp_path: Path, edits: list[tuple[str, str]], key: str, remedy: str
) -> None:
    with pytest.raises(MachineFileError) as caught:
        loaded(tmp_path, *edits)
    lines = str(caught.value).splitlines()
    assert [line for line in lines if key in line and remedy in line], lines
    assert all(line.startswith("machine.toml, ") for line in lines)


def test_a_guard_on_a_board_needs_its_board(tmp_path: Path) -> None:
    text = FILE.read_text(encoding="utf-8")
    first, rest = text.split("[guard.board]")
    with pytest.raises(MachineFileError, match=r"main is on a board; write \[guard.board\]"):
        loaded(tmp_path, text=first + rest[rest.index("[guard.main]") :])
