"""Between the questions: what the cook announced, and what the machine did by itself."""

from dataclasses import replace

import pytest

from controller.book.besides import besides, held
from controller.book.notes import Notes
from controller.book.page import page
from controller.book.story import sentences, tell
from controller.core.state import EventName, Mode
from controller.journal.reader import read_run
from controller.journal.records import Note, Run
from controller.report.summary import summarise, summary_text
from tests.helpers.batch import write_batch

TARGET_C = 31.5


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> Run:
    """A batch as read back from its record."""
    path = tmp_path_factory.mktemp("besides") / "run.jsonl"
    write_batch(path)
    return read_run(path)


def told_of(run: Run, *deeds: str) -> Run:
    """The same run, its cook having announced these."""
    notes = tuple(
        Note(
            seq=9000 + index,
            t_s=6500.0 + index,
            name=EventName.DEED_ANNOUNCED,
            phase="hold",
            facts={"deed": deed},
        )
        for index, deed in enumerate(deeds)
    )
    return replace(run, events=(*run.events, *notes))


def warmed(run: Run, *steps: tuple[float, float]) -> Run:
    """The same run, held so much warmer from so long after it was ready; the bowl follows."""
    ready_s = held(run)[0].t_s

    def over_k(at_s: float) -> float:
        gone = [span_k for after_s, span_k in steps if at_s >= ready_s + after_s]
        return gone[-1] if gone else 0.0

    samples = tuple(
        replace(one, bowl_setpoint_c=TARGET_C + over_k(one.t_s), bowl_c=TARGET_C + over_k(one.t_s))
        if one.t_s >= ready_s
        else one
        for one in run.samples
    )
    return replace(run, samples=samples)


def test_a_cook_s_deeds_are_told_in_words_and_degrees_of_the_reader(run: Run) -> None:
    deeds = (
        "added 200 g at 20.0 C",
        "topped-up 56 g at 40.0 C",
        "swapped 50 % at 15.0 C",
        "stirrer paused",
        "stirrer on",
        "lid open",
        "lid closed",
        "swapped",
        "danced",
    )
    assert [text for _, text in besides(told_of(run, *deeds))] == [
        "you added 200 g of set chocolate at 20.0 °C",
        "you topped up with 56 g of melted chocolate at 40.0 °C",
        "you swapped 50 % of the bath water for water at 15.0 °C",
        "you paused the stirrer",
        "you let the stirrer turn again",
        "you took the lid off",
        "you put the lid back on",
        "you swapped some of the bath water for water",
        "you danced",
    ]
    words = besides(told_of(run, deeds[1]), fahrenheit=True)[0][1]
    assert words == "you topped up with 56 g of melted chocolate at 104.0 °F"


def test_each_step_of_warmth_is_told_up_and_down_and_among_the_deeds(run: Run) -> None:
    ready_s = held(run)[0].t_s
    found = besides(warmed(run, (300.0, 0.3), (900.0, 0.6), (1200.0, 0.3), (1500.0, 0.0)))
    assert [text for _, text in found] == [
        "it thickened, so the machine held the bowl 0.3 degrees warmer",
        "it thickened, so the machine held the bowl 0.6 degrees warmer",
        "it had thinned, so the bowl was only 0.3 degrees warmer",
        "it had thinned, so the bowl was held at its target again",
    ]
    assert found[0][0] == pytest.approx(ready_s + 300.0, abs=5.0)
    mixed = besides(told_of(warmed(run, (300.0, 0.3)), "lid open"))
    assert [at_s for at_s, _ in mixed] == sorted(at_s for at_s, _ in mixed)
    assert "0.5 degrees" in besides(warmed(run, (300.0, 0.3)), fahrenheit=True)[0][1]


def test_what_the_machine_advised_is_told_as_it_said_it(run: Run) -> None:
    note = Note(
        seq=9000,
        t_s=7000.0,
        name=EventName.ADVICE_OFFERED,
        phase="hold",
        facts={"matter": "top-up", "advice": "Stir in 50 g."},
    )
    advised = replace(run, events=(*run.events, note))
    assert besides(advised) == ((7000.0, "the machine advised: Stir in 50 g."),)


def test_what_is_held_warmer_on_purpose_is_not_called_off(run: Run) -> None:
    thick = warmed(run, (300.0, 0.3), (900.0, 0.6))
    assert summarise(thick).warmed_k == pytest.approx(0.6)
    text = summary_text(summarise(thick))
    assert "; on purpose up to 0.60 K warmer, for it thickened" in text
    said = " ".join(sentences(tell(thick, Notes())))
    assert "up to 0.6 degrees warmer as it thickened, never more than 0 degrees off that." in said
    assert summarise(run).warmed_k == 0.0
    assert "for it thickened" not in summary_text(summarise(run))
    assert "as it thickened" not in " ".join(sentences(tell(run, Notes())))


def test_who_disturbed_a_held_bowl_most_is_named(run: Run) -> None:
    ready_s = held(run)[0].t_s
    samples = tuple(
        replace(one, bowl_c=TARGET_C + (0.6 if 400.0 <= one.t_s - ready_s < 600.0 else 0.0))
        if one.t_s >= ready_s
        else one
        for one in run.samples
    )
    hot = replace(run, samples=samples)

    def said(*deeds: str, at_s: float) -> str:
        told = told_of(hot, *deeds)
        moved = (
            replace(one, t_s=ready_s + at_s) if one.name == EventName.DEED_ANNOUNCED else one
            for one in told.events
        )
        return " ".join(sentences(tell(replace(told, events=tuple(moved)), Notes())))

    topped = said("topped-up 56 g at 40.0 C", at_s=380.0)
    assert "never more than 0.6 degrees off (just after the top-up at" in topped
    assert "(just after" not in said("topped-up 56 g at 40.0 C", at_s=700.0)  # it came later
    assert "(just after" not in said("lid closed", at_s=380.0)
    assert "(just after" not in said(at_s=380.0)
    calm = tell(told_of(run, "topped-up 56 g at 40.0 C"), Notes())
    assert "(just after" not in " ".join(sentences(calm))


def test_a_bowl_moved_to_see_its_thermometer_live_has_not_thickened(run: Run) -> None:
    nudged = warmed(run, (300.0, 0.1), (540.0, 0.0))
    assert besides(nudged) == ()
    assert summarise(nudged).warmed_k == 0.0
    assert "never more than 0.1 degrees off." in " ".join(sentences(tell(nudged, Notes())))


def test_nothing_was_held_in_a_run_that_never_got_there_or_was_paused(run: Run) -> None:
    never = replace(run, events=())
    assert held(never) == ()
    assert summarise(never).warmed_k == 0.0
    assert besides(never) == ()
    paused = replace(run, samples=tuple(replace(one, mode=Mode.PAUSED) for one in run.samples))
    assert held(paused) == ()


def test_the_page_tells_both_on_the_reader_s_clock(run: Run) -> None:
    told = tell(told_of(warmed(run, (300.0, 0.3)), "lid open"), Notes())
    html = page(told)
    assert "Between the questions:" in html
    assert f"<li>{told.clock(6500.0)}: you took the lid off</li>" in html
    assert "it thickened, so the machine held the bowl 0.3 degrees warmer" in html
    assert "Between the questions:" not in page(tell(run, Notes()))
