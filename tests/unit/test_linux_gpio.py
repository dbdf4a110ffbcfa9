"""The adapter to the GPIO bindings, against a stand-in for their module.

Responsible for what we ask of the bindings and how we put refusals; that the kernel then drives a
real line is proven on the virtual board.
"""

import errno
import os
import sys
from collections.abc import Callable
from datetime import timedelta
from enum import Enum
from pathlib import Path
from types import ModuleType, SimpleNamespace, TracebackType
from typing import Self

import pytest

from hardware.linux.attach import AttachError, InputPlan
from hardware.linux.gpio import open_button, open_output, open_shaft, open_switch


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
    line = SimpleNamespace(
        Value=Value,
        Direction=SimpleNamespace(OUTPUT="output", INPUT="input"),
        Edge=SimpleNamespace(RISING="rising", FALLING="falling"),
    )

    def __init__(self) -> None:
        """All lines free."""
        super().__init__("gpiod")
        self.history: list[tuple[str, Value | str]] = []
        self.inputs: list[dict[str, object]] = []
        self.consumers: list[str] = []
        self.refusal: int | None = None

    def request_lines(
        self, path: str, *, consumer: str, config: dict[str, SimpleNamespace]
    ) -> Self:
        """Take them."""
        assert Path(path).exists()
        self._refuse()
        self.consumers.append(consumer)
        for name, settings in config.items():
            if settings.direction == "input":
                self.inputs.append({"line": name, **vars(settings)})
                continue
            assert settings.direction == "output"
            self.history.append((name, settings.output_value))
        return self

    def set_value(self, name: str, value: Value) -> None:
        """Drive it."""
        self._refuse()
        self.history.append((name, value))

    def release(self) -> None:
        """Let go."""
        self.history.append(("", "released"))

    def _refuse(self) -> None:
        if self.refusal is not None:
            raise OSError(self.refusal, os.strerror(self.refusal))


@pytest.fixture
def gpiod(monkeypatch: pytest.MonkeyPatch) -> Bindings:
    """The stand-in, where an import finds it."""
    bindings = Bindings()
    monkeypatch.setitem(sys.modules, "gpiod", bindings)
    return bindings


@pytest.fixture
def dev(tmp_path: Path) -> Path:
    """A /dev with two chips, the first of them under two names."""
    (tmp_path / "gpiochip0").write_text("ID_SDA GPIO17 GPIO27 TWICE", encoding="ascii")
    (tmp_path / "gpiochip1").write_text("FAN TWICE", encoding="ascii")
    (tmp_path / "gpiochip4").symlink_to("gpiochip0")
    return tmp_path


def test_a_line_is_taken_off_driven_and_let_go_off(gpiod: Bindings, dev: Path) -> None:
    output = open_output("GPIO27", dev)
    output.drive(on=True)
    output.drive(on=False)
    output.drive(on=True)
    output.close()
    off, on = ("GPIO27", Value.INACTIVE), ("GPIO27", Value.ACTIVE)
    assert gpiod.history == [off, on, off, on, off, ("", "released")]
    assert gpiod.consumers == ["bainward"]


def test_a_line_that_is_gone_is_let_go_all_the_same(gpiod: Bindings, dev: Path) -> None:
    output = open_output("GPIO27", dev)
    gpiod.refusal = errno.ENODEV
    with pytest.raises(OSError, match="No such device"):
        output.drive(on=True)
    with pytest.raises(OSError, match="No such device"):
        output.close()
    assert gpiod.history[-1] == ("", "released")


def test_a_chip_with_a_second_name_is_one_chip(gpiod: Bindings, dev: Path) -> None:
    open_output("GPIO17", dev)
    assert gpiod.history == [("GPIO17", Value.INACTIVE)]


@pytest.mark.parametrize(
    ("name", "what"),
    [
        ("GPIO99", 'There is no line named "GPIO99"'),
        ("1", 'There is no line named "1"'),  # a number is no name, though the bindings take it
        ("TWICE", 'There are 2 lines named "TWICE"'),
    ],
)
def test_a_name_that_is_not_one_line_is_refused(
    gpiod: Bindings, dev: Path, name: str, what: str
) -> None:
    with pytest.raises(AttachError, match=what):
        open_output(name, dev)
    assert gpiod.history == []


def test_without_chips_there_is_no_line(gpiod: Bindings, tmp_path: Path) -> None:
    with pytest.raises(AttachError, match="look for the right name with gpioinfo"):
        open_output("GPIO27", tmp_path)
    assert gpiod.history == []


def test_a_chip_that_cant_be_opened_is_passed_over(gpiod: Bindings, dev: Path) -> None:
    (dev / "gpiochip2").mkdir()
    open_output("FAN", dev)
    assert gpiod.history == [("FAN", Value.INACTIVE)]


def test_a_line_that_another_holds_is_refused_in_a_sentence(gpiod: Bindings, dev: Path) -> None:
    gpiod.refusal = errno.EBUSY
    with pytest.raises(AttachError, match=r'The line "GPIO27" can\'t be had \(Device or resource'):
        open_output("GPIO27", dev)


def test_missing_bindings_are_named_with_their_extra(
    monkeypatch: pytest.MonkeyPatch, dev: Path
) -> None:
    monkeypatch.setitem(sys.modules, "gpiod", None)  # what makes an import fail
    with pytest.raises(AttachError, match=r"pip install '\.\[linux\]'"):
        open_output("GPIO27", dev)


def test_the_real_bindings_have_what_we_use() -> None:
    gpiod = pytest.importorskip("gpiod")
    settings = gpiod.LineSettings(
        direction=gpiod.line.Direction.OUTPUT, output_value=gpiod.line.Value.INACTIVE
    )
    assert settings.output_value is gpiod.line.Value.INACTIVE
    assert gpiod.line.Value.ACTIVE
    assert {"get_line_info", "__enter__"} <= set(dir(gpiod.Chip))
    assert {"set_value", "release"} <= set(dir(gpiod.LineRequest))
    assert callable(gpiod.request_lines)


LEVEL = InputPlan(line="GPIO17", active_low=True, debounce_s=0.05)


def test_a_switch_is_an_input_that_the_kernel_debounces(gpiod: Bindings, dev: Path) -> None:
    open_switch(LEVEL, dev).close()
    assert gpiod.inputs == [
        {
            "line": "GPIO17",
            "direction": "input",
            "active_low": True,
            "debounce_period": timedelta(milliseconds=50),
        }
    ]
    assert gpiod.history == [("", "released")]


def test_a_shafts_pulses_are_rising_edges(gpiod: Bindings, dev: Path) -> None:
    open_shaft(LEVEL, dev)
    assert gpiod.inputs[0]["edge_detection"] == "rising"
    assert gpiod.consumers == ["bainward"]


def test_a_stop_button_tells_of_presses_that_are_over_by_its_falling_edges(
    gpiod: Bindings, dev: Path
) -> None:
    open_button(LEVEL, dev)
    assert gpiod.inputs[0]["edge_detection"] == "falling"
    assert gpiod.inputs[0]["debounce_period"] == timedelta(milliseconds=50)


@pytest.mark.parametrize("opened", [open_switch, open_shaft, open_button])
def test_an_input_that_can_not_be_had_is_refused_as_an_output_is(
    gpiod: Bindings, dev: Path, opened: Callable[[InputPlan, Path], object]
) -> None:
    with pytest.raises(AttachError, match='There is no line named "GPIO99"'):
        opened(InputPlan(line="GPIO99", active_low=False, debounce_s=0.0), dev)
    gpiod.refusal = errno.EBUSY
    with pytest.raises(AttachError, match=r'The line "GPIO17" can\'t be had \(Device or resource'):
        opened(LEVEL, dev)
