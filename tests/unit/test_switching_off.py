"""`bainward guard --off`: the one-shot behind a dead guard."""

import subprocess
import sys
from pathlib import Path

import pytest

from controller.commands.main import _parsed, main
from controller.commands.options import parser
from controller.commands.switching_off import switches
from controller.errors import Exit
from controller.files.machine_file import load_machine_file
from controller.guard.settings import LineAt, LineKind

SOUND = (Path(__file__).parent / "bad_files" / "sound_machine.toml").read_text(encoding="utf-8")
PROBE = '[guard.probe]\nkind = "hwmon"\npath = "probe"\n'
MAIN = '[guard.main]\nkind = "file"\npath = "main-line"\n'
SECOND = '[guard.second]\nkind = "file"\npath = "second-line"\n'


def machine(folder: Path, text: str) -> Path:
    """A machine file."""
    path = folder / "machine.toml"
    path.write_text(text, encoding="utf-8")
    return path


def off(path: Path) -> int:
    """Call the command."""
    return main(["guard", "--off", "--machine", str(path)])


def test_both_switches_go_off(tmp_path: Path) -> None:
    for name in ("main-line", "second-line"):
        (tmp_path / name).write_text("1\n", encoding="utf-8")
    assert off(machine(tmp_path, SOUND + MAIN + SECOND + PROBE)) == Exit.DONE
    assert (tmp_path / "main-line").read_text(encoding="utf-8") == "0\n"
    assert (tmp_path / "second-line").read_text(encoding="utf-8") == "0\n"


def test_a_switch_that_fails_keeps_no_other_from_going_off(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "main-line").mkdir()  # no file to write
    (tmp_path / "second-line").write_text("1\n", encoding="utf-8")
    assert off(machine(tmp_path, MAIN + SECOND)) == Exit.HARDWARE
    assert (tmp_path / "second-line").read_text(encoding="utf-8") == "0\n"
    assert "main-line can't be driven" in capsys.readouterr().err


@pytest.mark.parametrize(
    "text",
    [
        SOUND,
        "[guard",
        "guard = 1",
        SECOND,
        '[guard.main]\nkind = "steam"\nname = "X"\n',
        '[guard.main]\nkind = "gpio"\n',
        "[guard]\nmain = 7\n",
    ],
)
def test_a_file_without_a_switch_says_to_unplug(
    text: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert off(machine(tmp_path, text)) == Exit.BAD_FILE
    assert "unplug the machine" in capsys.readouterr().err


def test_a_missing_file_says_to_unplug(tmp_path: Path) -> None:
    assert off(tmp_path / "none.toml") == Exit.BAD_FILE


@pytest.mark.parametrize(
    "lines",
    [
        MAIN,
        MAIN + SECOND,
        '[guard.main]\nkind = "gpio"\nname = "HEAT"\n[guard.second]\nkind = "file"\npath = "/b"\n',
    ],
)
def test_the_quick_look_finds_what_the_guard_is_told(lines: str, tmp_path: Path) -> None:
    path = machine(tmp_path, SOUND + lines + PROBE)
    told = load_machine_file(path).guard
    assert told is not None
    assert switches(path) == tuple(at for at in (told.main, told.second) if at is not None)


def test_a_line_by_name_is_a_gpio_line(tmp_path: Path) -> None:
    path = machine(tmp_path, '[guard.main]\nkind = "gpio"\nname = "HEAT"\n')
    assert switches(path) == (LineAt(kind=LineKind.GPIO, place="HEAT"),)


def test_a_guard_that_guards_is_another_command() -> None:
    assert parser().parse_args(["guard", "--machine", "m.toml"]).command == "guard"


def test_the_service_managers_words_mean_what_the_options_say() -> None:
    words = ["guard", "--off", "--machine", "m.toml"]
    assert _parsed(words) == parser().parse_args(words)


def test_it_loads_nothing_slow(tmp_path: Path) -> None:
    # A frozen guard leaves it one second, on a slow board: what checks files takes longer to load.
    path = machine(tmp_path, MAIN)
    code = (
        "import sys; from controller.commands.main import main; "
        f"main(['guard', '--off', '--machine', {str(path)!r}]); "
        "slow = {'pydantic', 'structlog', 'importlib.metadata', 'msgspec'} & set(sys.modules); "
        "sys.exit(bool(slow))"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False, timeout=60).returncode == 0
