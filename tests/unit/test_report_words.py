"""Numbers in the words of a cook."""

import pytest

from controller.core.profile import Verdict
from controller.report.words import (
    clock_text,
    duration_text,
    span_text,
    verdict_text,
    wall_text,
)


@pytest.mark.parametrize(
    ("run_s", "text"), [(0.0, "0:00:00"), (59.9, "0:00:59"), (61.0, "0:01:01"), (36000, "10:00:00")]
)
def test_run_time_reads_like_a_kitchen_clock(run_s: float, text: str) -> None:
    assert clock_text(run_s) == text


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (0.4, "0 s"),
        (59.4, "59 s"),
        (60.0, "1 min"),
        (3569.0, "59 min"),
        (3570.1, "1 h 00 min"),
        (3900.0, "1 h 05 min"),
    ],
)
def test_lengths_of_time_are_rounded_to_what_matters(seconds: float, text: str) -> None:
    assert duration_text(seconds) == text


def test_spans_follow_the_unit() -> None:
    assert span_text(0.5, fahrenheit=False) == "0.50 K"
    assert span_text(0.5, fahrenheit=True, sign=True) == "+0.90 °F"


@pytest.mark.parametrize(
    ("iso", "text"),
    [
        ("2031-02-03T10:00:59Z", "2031-02-03 10:00 UTC"),
        ("2031-02-03T10:00:00+02:00", "2031-02-03 08:00 UTC"),
        ("2031-02-03T10:00:00", "2031-02-03T10:00:00"),
        ("", ""),
    ],
)
def test_wall_time_is_utc_to_the_minute_or_as_it_came(iso: str, text: str) -> None:
    assert wall_text(iso) == text


def test_every_verdict_has_words() -> None:
    assert len({verdict_text(verdict) for verdict in Verdict}) == len(Verdict)
