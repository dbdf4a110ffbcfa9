"""Quantities as people write them.

Responsible for units, conversions and refusals; not for whole files.
"""

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.core.words import mass_text
from controller.files.temperatures import (
    celsius_text,
    duration_text,
    parse_capacity_j_per_k,
    parse_conductance_w_per_k,
    parse_duration_s,
    parse_mass_kg,
    parse_power_w,
    parse_rate_k_per_min,
    parse_share,
    parse_span_k,
    parse_speed_rpm,
    parse_temperature_c,
    quoted,
    span_text,
)

PARSERS: tuple[Callable[[object], float], ...] = (
    parse_temperature_c,
    parse_span_k,
    parse_rate_k_per_min,
    parse_duration_s,
    parse_mass_kg,
    parse_power_w,
    parse_capacity_j_per_k,
    parse_conductance_w_per_k,
    parse_speed_rpm,
    parse_share,
)


@pytest.mark.parametrize(
    ("text", "value_c"),
    [
        ("45 C", 45.0),
        ("45 °C", 45.0),
        ("45C", 45.0),
        ("  45.5 C ", 45.5),
        ("-5 C", -5.0),
        # Definition of the Fahrenheit scale: 0 °C is 32 °F, 100 °C is 212 °F.
        ("113 F", 45.0),
        ("88.7 °F", 31.5),
        ("32 F", 0.0),
        ("212 F", 100.0),
        ("-40 F", -40.0),
    ],
)
def test_a_temperature_is_read_in_either_unit(text: str, value_c: float) -> None:
    assert parse_temperature_c(text) == pytest.approx(value_c, abs=1e-9)


def test_a_span_of_two_fahrenheit_is_a_span_and_not_a_temperature() -> None:
    # Definition of the Fahrenheit degree: 5/9 K. Read as a temperature, 2 °F would be -16.67 °C.
    assert parse_span_k("2 F") == pytest.approx(1.1111, abs=1e-4)
    assert parse_span_k("2 °F") == pytest.approx(1.1111, abs=1e-4)
    assert parse_temperature_c("2 F") == pytest.approx(-16.667, abs=1e-3)


@pytest.mark.parametrize("text", ["2 C", "2 °C", "2C"])
def test_a_span_in_celsius_is_refused_with_the_kelvin_to_write(text: str) -> None:
    with pytest.raises(ValueError, match='write "2 K"'):
        parse_span_k(text)


@pytest.mark.parametrize(
    ("parse", "text", "value"),
    [
        (parse_span_k, "-0.5 K", -0.5),
        (parse_rate_k_per_min, "1.5 K/min", 1.5),
        (parse_rate_k_per_min, "1.8 F/min", 1.0),
        (parse_duration_s, "90 s", 90.0),
        (parse_duration_s, "10 min", 600.0),
        (parse_duration_s, "2 h", 7200.0),
        (parse_mass_kg, "1.5 kg", 1.5),
        (parse_mass_kg, "250 g", 0.25),
        (parse_power_w, "500 W", 500.0),
        (parse_capacity_j_per_k, "700 J/K", 700.0),
        (parse_conductance_w_per_k, "2.5 W/K", 2.5),
        (parse_speed_rpm, "30 rpm", 30.0),
        (parse_share, "90 %", 0.9),
    ],
)
def test_each_quantity_is_read_in_its_unit(
    parse: Callable[[object], float], text: str, value: float
) -> None:
    assert parse(text) == pytest.approx(value, abs=1e-12)


@pytest.mark.parametrize("bare", ["45", 45, 45.5, "+45", "-3.5"])
@pytest.mark.parametrize("parse", PARSERS)
def test_a_bare_number_is_refused_with_what_to_write(
    parse: Callable[[object], float], bare: object
) -> None:
    with pytest.raises(ValueError, match=r'has no unit; write "\+?-?[0-9.]+ '):
        parse(bare)


def test_a_bare_temperature_is_offered_in_both_units() -> None:
    with pytest.raises(ValueError, match=r'"113" has no unit; write "113 C" or "113 F"'):
        parse_temperature_c(113)


@pytest.mark.parametrize(
    "nonsense",
    ["", "  ", "warm", "45,5 C", "1e3 C", "nan C", "inf", math.nan, math.inf, True, None, [], {}],
)
@pytest.mark.parametrize("parse", PARSERS)
def test_what_is_no_number_with_unit_is_refused_with_an_example(
    parse: Callable[[object], float], nonsense: object
) -> None:
    with pytest.raises(ValueError, match=r'write (it like )?"'):
        parse(nonsense)


@pytest.mark.parametrize("parse", PARSERS)
def test_a_foreign_unit_is_refused_with_an_example(parse: Callable[[object], float]) -> None:
    with pytest.raises(ValueError, match=r'"3 furlongs" has an unknown unit; write it like "'):
        parse("3 furlongs")


def outcome(parse: Callable[[object], float], raw: object) -> float | str:
    """The value or the sentence of the refusal; any other exception escapes."""
    try:
        return parse(raw)
    except ValueError as error:
        return str(error)


@given(st.text() | st.integers() | st.floats() | st.booleans() | st.none())
def test_no_input_brings_anything_but_a_number_or_a_sentence(raw: object) -> None:
    for parse in PARSERS:
        given_back = outcome(parse, raw)
        if isinstance(given_back, str):
            assert "write" in given_back
        else:
            assert math.isfinite(given_back)


@given(st.floats(-50.0, 150.0))
def test_a_shown_temperature_reads_back_in_both_units(value_c: float) -> None:
    for unit in (False, True):
        text = celsius_text(value_c, fahrenheit=unit)
        assert parse_temperature_c(text) == pytest.approx(value_c, abs=0.051)


@given(st.floats(-5.0, 5.0))
def test_a_shown_span_reads_back_in_both_units(value_k: float) -> None:
    for unit in (False, True):
        text = span_text(value_k, fahrenheit=unit)
        assert parse_span_k(text) == pytest.approx(value_k, abs=0.0051)


def test_temperatures_and_spans_are_shown_in_the_wished_unit() -> None:
    assert celsius_text(45.0, fahrenheit=False) == "45.0 °C"
    assert celsius_text(45.0, fahrenheit=True) == "113.0 °F"
    assert celsius_text(31.5, fahrenheit=True) == "88.7 °F"
    assert celsius_text(-0.04, fahrenheit=False) == "0.0 °C"
    assert span_text(0.5, fahrenheit=False) == "0.5 K"
    assert span_text(0.25, fahrenheit=False) == "0.25 K"
    assert span_text(0.5, fahrenheit=True) == "0.9 °F"


def test_a_missing_value_is_shown_as_missing() -> None:
    assert celsius_text(math.nan, fahrenheit=False) == "no reading"
    assert span_text(math.nan, fahrenheit=True) == "unknown"


@pytest.mark.parametrize(
    ("value_s", "text"),
    [(0.0, "0 s"), (45.0, "45 s"), (600.0, "10 min"), (5400.0, "1 h 30 min"), (61.0, "1 min 1 s")],
)
def test_durations_are_shown_as_people_say_them(value_s: float, text: str) -> None:
    assert duration_text(value_s) == text


@pytest.mark.parametrize(
    ("value_kg", "text"),
    [(0.15, "150 g"), (2.7, "2.7 kg"), (1.0, "1 kg"), (0.9994, "999 g"), (0.9996, "1 kg")],
)
def test_masses_are_shown_as_a_scale_shows_them(value_kg: float, text: str) -> None:
    assert mass_text(value_kg) == text


def test_a_quote_is_short_and_printable() -> None:
    assert quoted("a\nb") == '"a?b"'
    assert quoted("x" * 41) == f'"{"x" * 40}…"'
    assert quoted(True) == '"true"'
