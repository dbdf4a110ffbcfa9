"""The benchmark of ready-at: what is counted, and a cook as late as people are taken to be."""

import math
import statistics
from random import Random

import pytest

from controller.core.outlook import UNKNOWN, Outlook
from controller.core.waits import WAIT_P90_S, WAIT_S
from controller.ports import KIND_ID, Question, Request, Verb
from controller.report.table import Row
from tests.benchmarks.ready_at import table_text, text_of
from tests.benchmarks.ready_at_runs import ENDS, LateCook, Listener, Told, judged_of
from tests.helpers.batch import a_question
from tests.helpers.records import replace


def row(number: int, ready_s: float, *, late_s: float = 4200.0) -> Row:
    """A machine of which a time was foretold at the start alone."""
    told = dict(zip(ENDS, (600.0, 3000.0, 3600.0, late_s), strict=True))
    return {
        "machine": f"drawn-1-{number}",
        "ready_s": ready_s,
        "failure": "",
        **{f"start, {end}_s": at_s for end, at_s in told.items()},
    }


def test_what_came_sooner_later_or_in_between_is_counted_so() -> None:
    rows = [row(1, 3000.0), row(2, 3600.0), row(3, 4200.0), row(4, 2999.0), row(5, 4201.0)]
    line = next(line for line in table_text(rows).splitlines() if line.startswith("start"))
    assert line.split()[:8] == ["start", "5", "60.0", "%", "20.0", "%", "20.0", "%"]
    assert line.split()[8:10] == ["50.0", "20.0"]  # minutes left, and the band
    assert "it does NOT, with 60.0 % of 5 moments; 1000 machines" in text_of(rows, 1)


def test_a_band_that_holds_four_in_five_is_said_to() -> None:
    rows = [*(row(number, 3600.0) for number in range(8)), row(8, 1.0), row(9, 9e3)]
    assert "it does, with 80.0 % of 10 moments" in text_of(rows, 1)


def test_who_never_got_ready_and_who_was_refused_are_told_apart() -> None:
    refused: Row = {"machine": "drawn-1-2", "failure": "it heats too slowly"}
    text = text_of([row(1, 3600.0), refused, row(3, math.nan)], 1)
    assert "1 got ready, 1 refused or failed, 1 not ready after 8 h" in text
    assert text.endswith("drawn-1-2: it heats too slowly")
    assert judged_of(refused) == []


class Prompt:
    """A cook who answers at once."""

    def take(self, now_s: float, ask: Question | None) -> tuple[Request, ...]:  # noqa: ARG002 - the Panel's contract
        """The first choice."""
        if ask is None:
            return ()
        return (Request(verb=Verb.ANSWER, ask_id=ask.id, choice=ask.choices[0].word),)


def taken_s(cook: LateCook, ask: Question) -> float:
    """After how many seconds it is answered."""
    cook.take(0.0, None)
    return next(float(now_s) for now_s in range(100_000) if cook.take(float(now_s), ask))


def test_answers_come_as_late_as_the_forecast_takes_them_to_come() -> None:
    cook = LateCook(Prompt(), Random(7))  # noqa: S311 - chance, not secrets
    spans_s = [taken_s(cook, replace(a_question(), id=f"ask-{n}")) for n in range(400)]
    assert statistics.median(spans_s) == pytest.approx(WAIT_S, rel=0.2)
    assert statistics.quantiles(spans_s, n=10)[-1] == pytest.approx(WAIT_P90_S, rel=0.25)
    assert taken_s(cook, replace(a_question(), id=KIND_ID)) == 0.0


def test_the_forecast_in_force_is_the_last_before_and_none_where_nothing_was_known() -> None:
    first, last = (Outlook(early_s=1.0, likely_s=at_s, late_s=9e3) for at_s in (3e3, 4e3))
    told = [Told(0.0, "melt", UNKNOWN), Told(10.0, "melt", first), Told(900.0, "melt", last)]
    listener = Listener(("melt", "hold"), told, {"melt": 1.0, "hold": 1001.0}, ready_s=2000.0)
    moments = listener.moments()
    assert moments["start"].outlook is first
    assert moments["middle of melt"].outlook is first
    assert moments["end of melt"].outlook is last
    assert listener.in_force(5.0) is None
