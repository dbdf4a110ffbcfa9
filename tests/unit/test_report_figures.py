"""Figures as a person reads them: the unit comes from the end of the column's name."""

import math

import pytest

from controller.report.figures import (
    difference_text,
    drawn,
    drawn_unit,
    figure_text,
    is_same,
    percentiles,
    ratio_text,
    title_of,
)

# By the definition of the scale: 50 °C is 122 °F, a span of 0.1 K is 0.18 °F.


@pytest.mark.parametrize(
    ("column", "value", "in_c", "in_f"),
    [
        ("ready_s", 6073.4, "1:41:13", "1:41:13"),
        ("withheld_s", 0.0, "0:00:00", "0:00:00"),
        ("hold_min_k", -0.1, "-0.10 K", "-0.18 °F"),
        ("hold_max_k", -0.001, "0.00 K", "0.00 °F"),
        ("bath_max_c", 50.0, "50.0 °C", "122.0 °F"),
        ("energy_kwh", 0.3194, "0.319 kWh", "0.319 kWh"),
        ("form_v_percent", 2.614, "2.61 %", "2.61 %"),
        ("switches", 642, "642", "642"),
        ("switches", 1000.5, "1000", "1000"),
        ("switches", 54.25, "54.2", "54.2"),
        ("switches", 2.4, "2.40", "2.40"),
        ("form_v", 0.02614, "0.0261", "0.0261"),
        ("ready_s", math.nan, "-", "-"),
        ("bath_max_c", math.inf, "-", "-"),
    ],
)
def test_a_figure_is_written_with_its_unit(column: str, value: float, in_c: str, in_f: str) -> None:
    assert figure_text(column, value) == in_c
    assert figure_text(column, value, fahrenheit=True) == in_f


@pytest.mark.parametrize(
    ("column", "value", "in_c", "in_f"),
    [
        ("ready_s", -130.0, "-0:02:10", "-0:02:10"),
        ("ready_s", 0.4, "same", "same"),
        ("bath_max_c", 1.0, "+1.0 K", "+1.8 °F"),
        ("hold_rms_k", 0.004, "same", "+0.01 °F"),
        ("hold_rms_k", -0.1, "-0.10 K", "-0.18 °F"),
        ("switches", 46, "+46", "+46"),
        ("unstable", 0.0, "same", "same"),
        ("ready_s", math.nan, "-", "-"),
    ],
)
def test_a_difference_has_a_sign_and_one_of_temperatures_is_a_span(
    column: str, value: float, in_c: str, in_f: str
) -> None:
    assert difference_text(column, value) == in_c
    assert difference_text(column, value, fahrenheit=True) == in_f


@pytest.mark.parametrize(
    ("column", "before", "after", "text"),
    [
        ("ready_s", 6000.0, 6600.0, "1.10"),
        ("hold_min_k", -0.2, -0.1, "0.50"),
        ("hold_min_k", -0.2, 0.1, "-"),
        ("melt_overshoot_k", 0.0, 0.1, "-"),
        ("bath_max_c", 50.0, 55.0, "-"),
        ("unstable", 1e-44, 1e-42, "-"),
        ("ready_s", math.nan, 6600.0, "-"),
    ],
)
def test_a_ratio_stands_only_where_it_means_something(
    column: str, before: float, after: float, text: str
) -> None:
    assert ratio_text(column, before, after) == text


@pytest.mark.parametrize(
    ("before", "after", "same"),
    [
        (0.0, 1e-44, True),
        (6000.0, 6000.0 + 1e-7, True),
        (0.02, 0.0201, False),
        (math.nan, math.nan, True),
        (math.nan, 1.0, False),
    ],
)
def test_what_is_left_of_rounding_is_no_change(before: float, after: float, *, same: bool) -> None:
    assert is_same(before, after) is same


def test_percentiles_are_interpolated_and_leave_out_what_did_not_happen() -> None:
    assert percentiles([math.nan, *map(float, range(21)), math.inf]) == (1.0, 10.0, 19.0)
    assert percentiles([1.0, 2.0]) == pytest.approx((1.05, 1.5, 1.95))
    assert percentiles([7.0]) == (7.0, 7.0, 7.0)
    assert all(map(math.isnan, percentiles([math.nan])))


@pytest.mark.parametrize(
    ("column", "title", "unit"),
    [
        ("working_overshoot_k", "working overshoot", "K"),
        ("phase_melt_s", "phase melt", "min"),
        ("energy_kwh", "energy", "kWh"),
        ("switches", "switches", ""),
        ("exit", "exit", ""),
    ],
)
def test_a_column_s_name_is_its_title_and_its_unit(column: str, title: str, unit: str) -> None:
    assert title_of(column) == title
    assert drawn_unit(column, most=1000.0) == unit


def test_pictures_have_minutes_for_what_is_long_and_the_wanted_degrees() -> None:
    assert drawn("ready_s", 90.0, most=6000.0) == 1.5
    assert drawn("withheld_s", 90.0, most=100.0) == 90.0
    assert drawn_unit("withheld_s", most=100.0) == "s"
    assert drawn("bath_max_c", 50.0, most=60.0) == 50.0
    assert drawn("bath_max_c", 50.0, most=60.0, fahrenheit=True) == pytest.approx(122.0)
    assert drawn("hold_rms_k", 0.1, most=0.2, fahrenheit=True) == pytest.approx(0.18)
    assert drawn_unit("bath_max_c", most=60.0, fahrenheit=True) == "°F"
    assert drawn("switches", 3000.0, most=3000.0, fahrenheit=True) == 3000.0
