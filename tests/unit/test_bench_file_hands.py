"""The bench as files: what hands do to it, and two switches whose voltage is seen."""

from pathlib import Path

import pytest

from controller.ports import Kind
from hardware.bench.attach import Bench, attach
from hardware.bench.file_machine import HEATER, MAINS_LIVE, SECOND, FileMachine

BATH = "sys/class/hwmon/hwmon0/temp1_input"


def bench(*fitted: str) -> Bench:
    """The reference machine with water."""
    return attach(
        machine="reference",
        seed=1,
        kind=Kind.WATER,
        batch_kg=1.0,
        seed_share=0.0,
        fitted=frozenset(fitted),
    )


def shown_c(folder: Path) -> float:
    """What the bath's thermometer says."""
    return int((folder / BATH).read_text()) / 1000


def test_a_thermometer_follows_the_hand_that_takes_it_out_and_puts_it_back(tmp_path: Path) -> None:
    machine = FileMachine(bench(), tmp_path)
    machine.follow(0.0)
    own_c = shown_c(tmp_path)
    (tmp_path / "hands/bath").write_text("33.5\n")
    machine.follow(1.0)
    machine.follow(4.0)
    assert own_c + 2.0 < shown_c(tmp_path) < 33.0  # on its way
    machine.follow(80.0)
    assert shown_c(tmp_path) == pytest.approx(33.5, abs=0.2)
    (tmp_path / "hands/bath").write_text("\n")
    machine.follow(81.0)
    machine.follow(200.0)
    assert shown_c(tmp_path) == pytest.approx(own_c, abs=0.2)


@pytest.mark.parametrize("text", ["", "elsewhere", "900", "nan"])
def test_what_is_no_temperature_leaves_a_thermometer_in_its_place(
    tmp_path: Path, text: str
) -> None:
    machine = FileMachine(bench(), tmp_path)
    machine.follow(0.0)
    own_c = shown_c(tmp_path)
    (tmp_path / "hands/bath").write_text(text)
    machine.follow(1.0)
    machine.follow(60.0)
    assert shown_c(tmp_path) == pytest.approx(own_c, abs=0.2)


@pytest.mark.parametrize(
    ("first", "second", "hand", "live"),
    [
        ("1", "1", "", "1"),
        ("1", "0", "", "0"),
        ("0", "1", "", "0"),
        ("1", "1", "cut-out", "0"),
        ("1", "1", "stop-button", "0"),
    ],
)
def test_voltage_is_shown_only_behind_all_that_is_in_series(
    tmp_path: Path, first: str, second: str, hand: str, live: str
) -> None:
    machine = FileMachine(bench("second-switch", "mains-live"), tmp_path)
    machine.follow(0.0)
    assert (tmp_path / MAINS_LIVE).read_text() == "0\n"
    (tmp_path / HEATER).write_text(first)
    (tmp_path / SECOND).write_text(second)
    if hand:
        (tmp_path / "hands" / hand).write_text("1")
    with (tmp_path / MAINS_LIVE).open() as held:  # as a guard holds it
        machine.follow(1.0)
        assert held.read() == f"{live}\n"


def test_a_machine_with_one_switch_has_no_line_for_another(tmp_path: Path) -> None:
    one = bench()
    machine = FileMachine(one, tmp_path)
    (tmp_path / HEATER).write_text("1")
    machine.follow(0.0)
    machine.follow(30.0)
    assert one.plant.element_on_j > 0.0
    assert not (tmp_path / SECOND).exists()
    assert not (tmp_path / MAINS_LIVE).exists()
