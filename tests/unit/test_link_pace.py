"""When a value is sent: changes, steps, gaps and the longest silence."""

import math

import pytest

from controller.link.homie import Datatype, Property, Rhythm
from controller.link.pace import Sent, due
from controller.link.tree import tree
from tests.helpers.moments import SET_TEST, moment, profile, state
from tests.helpers.records import replace

BOWL = Property(
    path="bowl/temperature",
    name="Bowl",
    datatype=Datatype.FLOAT,
    rhythm=Rhythm(gap_s=1.0, step=0.05, most_s=10.0),
    value=lambda m: f"{m.state.bowl_c:.2f}" if math.isfinite(m.state.bowl_c) else None,
)


def sent(payload: str, at_s: float = 0.0) -> dict[str, Sent]:
    return {BOWL.path: Sent(payload=payload, at_s=at_s)}


def payloads(bowl_c: float, before: dict[str, Sent], now_s: float, **more: bool) -> list[str]:
    return [
        payload for _, payload in due((BOWL,), moment(state(bowl_c=bowl_c)), before, now_s, **more)
    ]


@pytest.mark.parametrize(
    ("bowl_c", "before", "now_s", "expected"),
    [
        (43.20, {}, 0.0, ["43.20"]),
        (43.20, sent("43.20"), 5.0, []),
        (43.25, sent("43.20"), 0.9, []),
        (43.25, sent("43.20"), 1.0, ["43.25"]),
        (43.15, sent("43.20"), 1.0, ["43.15"]),
        (43.24, sent("43.20"), 9.9, []),
        (43.24, sent("43.20"), 10.0, ["43.24"]),
        (43.20, sent("43.20"), 10.0, ["43.20"]),
        (math.nan, sent("43.20"), 0.1, [""]),
        (math.nan, sent(""), 50.0, []),
        (math.nan, {}, 0.0, []),
        (43.20, sent(""), 0.1, ["43.20"]),
    ],
)
def test_a_measured_value_keeps_its_rhythm(
    bowl_c: float, before: dict[str, Sent], now_s: float, expected: list[str]
) -> None:
    assert payloads(bowl_c, before, now_s) == expected


def test_all_of_them_leaves_the_rhythm_aside() -> None:
    assert payloads(43.20, sent("43.20"), 0.0, all_of_them=True) == ["43.20"]


def test_all_of_them_clears_what_an_earlier_run_left_behind() -> None:
    assert payloads(math.nan, {}, 0.0, all_of_them=True) == [""]
    assert payloads(math.nan, sent(""), 0.0, all_of_them=True) == []


def test_a_word_is_sent_on_any_change_and_only_then() -> None:
    rows = tree(profile(), run_id="a")
    first = moment()
    before = {
        row.path: Sent(payload=payload, at_s=0.0) for row, payload in due(rows, first, {}, 0.0)
    }
    assert list(due(rows, first, before, 0.5)) == []
    asked = replace(first, state=replace(first.state, progress=state(ask=SET_TEST).progress))
    changed = {row.path for row, _ in due(rows, asked, before, 0.5)}
    ours = {"ask/question", "ask/choices", "ask/heating", "ask/id"}
    assert changed == {*ours, "run/headline", "run/summary"}


def test_a_sentence_of_other_words_waits_for_nothing_and_one_of_other_figures_does() -> None:
    rows = tuple(
        row for row in tree(profile(), run_id="a") if row.path in {"run/headline", "run/summary"}
    )
    first = moment(state(bowl_c=43.2))
    before = {
        row.path: Sent(payload=payload, at_s=0.0) for row, payload in due(rows, first, {}, 0.0)
    }
    warmer = moment(state(bowl_c=43.9))
    assert list(due(rows, warmer, before, 0.9)) == []
    assert len(list(due(rows, warmer, before, 1.0))) == 2
    assert len(list(due(rows, moment(state(bowl_c=43.9, phase=1)), before, 0.1))) == 2


def test_slow_counters_wait_for_their_gap() -> None:
    rows = tuple(row for row in tree(profile(), run_id="a") if row.path == "run/elapsed")
    before = {"run/elapsed": Sent(payload="125", at_s=0.0)}
    later = moment(state(run_s=129.0))
    assert list(due(rows, later, before, 4.9)) == []
    assert [payload for _, payload in due(rows, later, before, 5.0)] == ["129"]


def test_what_is_not_kept_is_never_sent_as_a_value() -> None:
    rows = tuple(row for row in tree(profile(), run_id="a") if not row.retained)
    assert rows
    assert list(due(rows, moment(), {}, 0.0, all_of_them=True)) == []
