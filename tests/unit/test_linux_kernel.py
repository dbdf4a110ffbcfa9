"""Whether the kernel keeps outputs driven after the death of their process.

Responsible for the sentence and when it is said; not for who prints it.
"""

from pathlib import Path

import pytest

from hardware.linux.attach import persisting_outputs


def parameter(root: Path, module: str) -> Path:
    """The file of that driver's parameter."""
    folder = root / "sys/module" / module / "parameters"
    folder.mkdir(parents=True)
    return folder / "persist_gpio_outputs"


@pytest.mark.parametrize("module", ["pinctrl_bcm2835", "pinctrl_rp1"])
def test_a_kernel_that_keeps_outputs_driven_is_found_and_told_what_to_set(
    tmp_path: Path, module: str
) -> None:
    parameter(tmp_path, module).write_text("Y\n", encoding="ascii")
    said = persisting_outputs(tmp_path)
    assert said is not None
    assert module in said
    assert "write dtparam=strict_gpiod into config.txt" in said


@pytest.mark.parametrize("content", ["N\n", "", "?\n"])
def test_a_kernel_that_lets_outputs_go_is_not_complained_of(tmp_path: Path, content: str) -> None:
    parameter(tmp_path, "pinctrl_bcm2835").write_text(content, encoding="ascii")
    assert persisting_outputs(tmp_path) is None


def test_a_computer_without_those_drivers_is_not_complained_of(tmp_path: Path) -> None:
    assert persisting_outputs(tmp_path) is None
