"""The one table of what machines differ in: every number with unit, source and range."""

from dataclasses import dataclass, fields

import pytest

from hardware.bench.machines import MACHINES
from hardware.bench.parameters import Parameters
from hardware.bench.probes import PROBES
from hardware.bench.quantity import Quantity, quantity, rows

SOURCES = ("own engineering value", "common practice, no source", "study", "offset as a share")
# How the end of a name says its unit; longer ends first.
ENDS = (
    ("_w_per_kg_k", "W/(kg K)"),
    ("_w_per_k", "W/K"),
    ("_per_k_s", "1/(K s)"),
    ("_j_per_k", "J/K"),
    ("_k_per_h", "K/h"),
    ("_m_per_s", "m/s"),
    ("_per_s", "1/s"),
    ("_m2", "m²"),
    ("_kg", "kg"),
    ("_rpm", "rpm"),
    ("_c", "°C"),
    ("_k", "K"),
    ("_w", "W"),
    ("_s", "s"),
)


def test_every_number_of_a_machine_has_its_row() -> None:
    plain = {each.name for each in fields(Parameters) if each.type in {float, "float"}}
    assert plain == {row.name for row in rows(Parameters)}
    kinds = {each.name for each in fields(Parameters)} - plain
    assert kinds == {"bath_probe", "bowl_probe", "guard_probe"}


@pytest.mark.parametrize("row", list(rows(Parameters)), ids=lambda row: str(row.name))
def test_a_rows_name_says_its_unit_and_its_source_is_named(row: Quantity) -> None:
    assert row.unit == next((unit for end, unit in ENDS if row.name.endswith(end)), "1")
    assert any(source in row.source for source in SOURCES)
    assert row.low <= row.default <= row.high


def test_a_default_outside_its_range_is_refused() -> None:
    with pytest.raises(ValueError, match=r"default 3.0 kg lies outside its range 1.0 to 2.0"):
        quantity(3.0, "kg", "own engineering value", drawn=(1.0, 2.0))


def test_what_is_no_quantity_has_no_row() -> None:
    @dataclass
    class Mixed:
        word: str = "a"
        mass_kg: float = quantity(1.0, "kg", "own engineering value")

    (row,) = rows(Mixed)
    assert (row.name, row.low, row.high, row.is_drawn) == ("mass_kg", 1.0, 1.0, False)


@pytest.mark.parametrize("name", MACHINES)
def test_a_named_machine_has_thermometers_that_there_are(name: str) -> None:
    machine = MACHINES[name]
    assert {machine.bath_probe, machine.bowl_probe, machine.guard_probe} <= set(PROBES)
