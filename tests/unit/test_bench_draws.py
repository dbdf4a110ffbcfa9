"""Machines drawn at random: the same for ever, within their ranges, told a little wrong."""

import re

import pytest

from hardware.bench import draws
from hardware.bench.draws import Drawn, draw, drawn_named
from hardware.bench.parameters import Parameters
from hardware.bench.probes import PROBES
from hardware.bench.quantity import Quantity, rows

MANY = [draw(7, number) for number in range(1, 201)]


def overall_w_per_k(drawn: Drawn) -> float:
    """From bath to chocolate, stirred."""
    parameters = drawn.parameters
    return 1.0 / (1.0 / parameters.bath_bowl_w_per_k + 1.0 / parameters.bowl_mass_stirred_w_per_k)


def test_the_same_seed_and_number_give_the_same_machine() -> None:
    assert draw(1, 17) == draw(1, 17)
    assert draw(1, 17) != draw(1, 18)
    assert draw(1, 17) != draw(2, 17)


def test_a_machine_drawn_today_is_the_one_of_yesterday() -> None:
    # Of this very table: what a sweep found must be found again, on any build.
    drawn = draw(1, 17)
    assert drawn.parameters.heater_w == pytest.approx(511.79109714276797, abs=1e-9)
    assert drawn.told.batch_kg == 2.932


def test_another_row_in_the_table_leaves_all_other_rows_as_they_were(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    whole = draw(1, 3).parameters

    def without_the_heater(table: type) -> list[Quantity]:
        return [row for row in rows(table) if row.name != "heater_w"]

    monkeypatch.setattr(draws, "rows", without_the_heater)
    fewer = draw(1, 3).parameters
    assert fewer.heater_w == Parameters().heater_w != whole.heater_w
    assert fewer.water_kg == whole.water_kg
    assert fewer.bowl_probe_off == whole.bowl_probe_off


def test_every_drawn_number_lies_in_its_range_and_fills_it() -> None:
    for row in rows(Parameters):
        values = [getattr(drawn.parameters, row.name) for drawn in MANY]
        assert row.low <= min(values)
        assert max(values) <= row.high
        if row.is_drawn:
            assert max(values) - min(values) > 0.9 * (row.high - row.low), row.name


def test_coupling_spans_what_the_study_drew_and_the_slow_end_besides() -> None:
    # Draws of the study: 8 to 25 W/K; ours begin at 6.
    overall = [overall_w_per_k(drawn) for drawn in MANY]
    assert min(overall) == pytest.approx(6.1, abs=0.3)
    assert max(overall) == pytest.approx(25.1, abs=0.5)


def test_rows_that_belong_together_rise_and_fall_together() -> None:
    by_one = sorted(MANY, key=lambda drawn: drawn.parameters.bath_bowl_w_per_k)
    by_other = sorted(MANY, key=lambda drawn: drawn.parameters.bowl_mass_stirred_w_per_k)
    assert by_one == by_other


def test_every_kind_of_thermometer_is_met() -> None:
    assert {drawn.parameters.bath_probe for drawn in MANY} == set(PROBES)
    for drawn in MANY:
        assert drawn.parameters.bath_probe == drawn.parameters.bowl_probe


def test_owners_are_wrong_by_no_more_than_the_study_says_and_by_no_less() -> None:
    off: dict[str, list[float]] = {"batch": [], "water": [], "heater": [], "vessel": []}
    for drawn in MANY:
        true, told = drawn.parameters, drawn.told
        off["batch"].append(told.batch_kg / drawn.batch_kg - 1.0)
        off["water"].append(told.water_kg / true.water_kg - 1.0)
        off["heater"].append(told.heater_w / true.heater_w - 1.0)
        off["vessel"].append(told.vessel_j_per_k / (true.pot_j_per_k + true.bowl_j_per_k) - 1.0)
        assert abs(told.room_c - true.room_c) <= 1.05
    for name, share in (("batch", 0.15), ("water", 0.12), ("heater", 0.10), ("vessel", 0.30)):
        worst = max(abs(each) for each in off[name])
        assert 0.9 * share < worst < share + 0.01, name


def test_a_name_finds_its_machine() -> None:
    assert drawn_named("drawn-1-17") == draw(1, 17)
    assert draw(1, 17).name == "drawn-1-17"


@pytest.mark.parametrize(
    "name", ["reference", "drawn", "drawn-1", "drawn-1-0", "drawn-01-2", "drawn-1--2", "drawn-1-2 "]
)
def test_what_is_no_such_name_finds_none(name: str) -> None:
    assert drawn_named(name) is None


@pytest.mark.parametrize(("seed", "number"), [(1, 0), (1, -3), (-1, 1)])
def test_there_is_no_machine_before_the_first(seed: int, number: int) -> None:
    with pytest.raises(ValueError, match=re.escape("numbers begin at 1")):
        draw(seed, number)
