"""The guard's lines: files for real, the GPIO bindings against a stand-in for their module.

Responsible for levels, order and "off when closed"; that the kernel then drives a real line is
proven on the virtual board.
"""

import errno
import os
import sys
from enum import Enum
from pathlib import Path
from types import ModuleType, SimpleNamespace, TracebackType
from typing import Self

import pytest

from controller.errors import HardwareError
from controller.guard import lines
from controller.guard.lines import Switches, open_input, open_line
from controller.guard.settings import LineAt, LineKind


def file_at(path: Path, *, active_low: bool = False) -> LineAt:
    """A file as a line."""
    return LineAt(kind=LineKind.FILE, place=str(path), active_low=active_low)


def gpio_at(name: str, *, active_low: bool = False) -> LineAt:
    """A GPIO line."""
    return LineAt(kind=LineKind.GPIO, place=name, active_low=active_low)


def test_a_file_line_is_off_when_opened_and_when_closed(tmp_path: Path) -> None:
    path = tmp_path / "line"
    path.write_text("1\n", encoding="ascii")
    line = open_line(file_at(path))
    assert path.read_text("ascii") == "0\n"
    line.set(on=True)
    assert path.read_text("ascii") == "1\n"
    line.close()
    assert path.read_text("ascii") == "0\n"


def test_a_file_that_can_not_be_driven_or_read_is_named(tmp_path: Path) -> None:
    with pytest.raises(HardwareError, match="can't be driven"):
        open_line(file_at(tmp_path / "none" / "line"))
    with pytest.raises(HardwareError, match="can't be read"):
        open_input(file_at(tmp_path / "none"))


@pytest.mark.parametrize(
    ("text", "active_low", "live"),
    [("1\n", False, True), ("0\n", False, False), ("1", True, False), ("0", True, True)],
)
def test_an_input_file_says_live_or_not(
    text: str, active_low: bool, live: bool, tmp_path: Path
) -> None:
    path = tmp_path / "live"
    path.write_text(text, encoding="ascii")
    source = open_input(file_at(path, active_low=active_low))
    assert source.read() is live
    path.write_text("", encoding="ascii")
    with pytest.raises(OSError, match="neither 0 nor 1"):
        source.read()
    source.close()


class Noted:
    """A switch that writes down what is done to it."""

    def __init__(self, name: str, book: list[str], broken: Exception) -> None:
        """Off."""
        self._name, self._book, self._broken = name, book, broken

    def set(self, on: bool) -> None:
        """Note it."""
        self._book.append(f"{self._name} {'on' if on else 'off'}")

    def close(self) -> None:
        """Note it, and fail."""
        self._book.append(f"{self._name} closed")
        raise self._broken


def test_the_main_switch_goes_off_first_and_on_last_and_all_end_off(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    book: list[str] = []
    broken = OSError(errno.EIO, "broken")
    monkeypatch.setattr(lines, "open_line", lambda at, _board: Noted(at.place, book, broken))
    with Switches([gpio_at("main"), gpio_at("second")]) as switches:
        switches.set(on=True)
        switches.set(on=False)
    assert book == [
        "second on",
        "main on",
        "main off",
        "second off",
        "main closed",
        "second closed",
    ]


def test_a_switch_alone_closes_only_after_the_other_has_opened(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    book: list[str] = []
    broken = OSError(errno.EIO, "broken")
    monkeypatch.setattr(lines, "open_line", lambda at, _board: Noted(at.place, book, broken))
    with Switches([gpio_at("main"), gpio_at("second")]) as switches:
        switches.set(on=True, alone=1)
        switches.set(on=True, alone=2)
        switches.set(on=False, alone=2)
    assert book[:6] == ["second off", "main on", "main off", "second on", "main off", "second off"]


def test_where_there_is_one_switch_none_is_closed_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    book: list[str] = []
    broken = OSError(errno.EIO, "broken")
    monkeypatch.setattr(lines, "open_line", lambda at, _board: Noted(at.place, book, broken))
    with Switches([gpio_at("main")]) as switches:
        switches.set(on=True, alone=1)
        switches.set(on=True, alone=2)
    assert book[:2] == ["main off", "main off"]


def test_a_driver_that_fails_in_an_odd_way_leaves_no_other_switch_on(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    book: list[str] = []
    monkeypatch.setattr(
        lines, "open_line", lambda at, _board: Noted(at.place, book, ValueError("odd"))
    )
    with pytest.raises(ValueError, match="odd"), Switches([gpio_at("main"), gpio_at("second")]):
        pass
    assert book == ["main closed", "second closed"]


def test_switches_of_which_one_can_not_be_had_leave_none_open(tmp_path: Path) -> None:
    first = tmp_path / "first"
    before = len(list(Path("/proc/self/fd").iterdir()))
    with pytest.raises(HardwareError, match="can't be driven"):
        Switches([file_at(first), file_at(tmp_path / "none" / "second")])
    assert first.read_text("ascii") == "0\n"
    assert len(list(Path("/proc/self/fd").iterdir())) == before


class Value(Enum):
    """The bindings' own names."""

    INACTIVE = 0
    ACTIVE = 1


class Chip:
    """A chip: a plain file that holds the names of its lines."""

    def __init__(self, path: str) -> None:
        """Open it; OSError when it can't be."""
        self._names = Path(path).read_text(encoding="ascii").split()

    def __enter__(self) -> Self:
        """Opened already."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Nothing is held."""

    def get_line_info(self, name: str) -> SimpleNamespace:
        """By name, or by number as the bindings allow."""
        if name in self._names:
            return SimpleNamespace(name=name)
        if name.isdecimal():
            return SimpleNamespace(name=self._names[int(name)])
        raise OSError(errno.ENOENT, os.strerror(errno.ENOENT))


class Bindings(ModuleType):
    """What we use of the module `gpiod`; at once the one request of a line."""

    Chip = Chip
    LineSettings = SimpleNamespace
    line = SimpleNamespace(Value=Value, Direction=SimpleNamespace(OUTPUT="output", INPUT="input"))

    def __init__(self) -> None:
        """All lines free."""
        super().__init__("gpiod")
        self.history: list[object] = []
        self.level = Value.INACTIVE
        self.refuses = False

    def is_gpiochip_device(self, path: str) -> bool:
        """Whatever doesn't say that it is none."""
        return Path(path).read_text("ascii") != "none"

    def request_lines(self, path: str, *, consumer: str, config: dict[str, object]) -> Self:
        """Take one."""
        if self.refuses:
            raise OSError(errno.EBUSY, os.strerror(errno.EBUSY))
        self.history.append((Path(path).name, consumer, config))
        return self

    def set_value(self, name: str, value: Value) -> None:
        """Drive it."""
        self.history.append((name, value))

    def get_value(self, _name: str) -> Value:
        """Read it."""
        return self.level

    def release(self) -> None:
        """Let go."""
        self.history.append("released")


@pytest.fixture
def gpiod(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Bindings:
    """The stand-in, where an import finds it, with a folder of chips."""
    (tmp_path / "gpiochip0").write_text("HEAT SECOND TWICE", encoding="ascii")
    (tmp_path / "gpiochip1").write_text("LIVE TWICE", encoding="ascii")
    (tmp_path / "gpiochip2").write_text("none", encoding="ascii")
    (tmp_path / "gpiochip4").symlink_to("gpiochip0")
    monkeypatch.setattr(lines, "CHIPS", tmp_path)
    bindings = Bindings()
    monkeypatch.setitem(sys.modules, "gpiod", bindings)
    return bindings


def test_a_gpio_line_is_taken_off_driven_and_let_go_off(gpiod: Bindings) -> None:
    line = open_line(gpio_at("HEAT"))
    line.set(on=True)
    line.close()
    off = SimpleNamespace(direction="output", output_value=Value.INACTIVE)
    assert gpiod.history == [
        ("gpiochip0", "bainward-guard", {"HEAT": off}),
        ("HEAT", Value.ACTIVE),
        ("HEAT", Value.INACTIVE),
        "released",
    ]


def test_a_gpio_input_is_live_when_active(gpiod: Bindings) -> None:
    source = open_input(gpio_at("LIVE", active_low=True))
    assert source.read() is False
    gpiod.level = Value.ACTIVE
    assert source.read() is True
    source.close()
    settings = SimpleNamespace(direction="input", active_low=True)
    assert gpiod.history == [("gpiochip1", "bainward-guard", {"LIVE": settings}), "released"]


@pytest.mark.parametrize(
    ("name", "what"), [("NONE", "no line"), ("TWICE", "more than one"), ("0", "no line")]
)
def test_a_name_that_is_not_just_one_line_is_refused(name: str, what: str, gpiod: Bindings) -> None:
    with pytest.raises(HardwareError, match=what):
        open_line(gpio_at(name))
    assert gpiod.history == []


def test_a_line_that_another_holds_is_refused(gpiod: Bindings) -> None:
    gpiod.refuses = True
    with pytest.raises(HardwareError, match="stop whatever else holds it"):
        open_line(gpio_at("HEAT"))


def test_without_the_bindings_it_is_said_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "gpiod", None)
    with pytest.raises(HardwareError, match=r"pip install '\.\[linux\]'"):
        open_line(gpio_at("HEAT"))
