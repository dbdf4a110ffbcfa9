"""The demo: one command from the plan to a page that a cook understands, by the real parts."""

import io
import re
import webbrowser
from contextlib import redirect_stdout
from dataclasses import dataclass
from pathlib import Path

import pytest

from controller.book.asked import Asked, questions
from controller.book.notes import read_notes
from controller.commands.demo_batch import shown
from controller.commands.main import main
from controller.core.state import EventName
from controller.core.words import mass_text
from controller.errors import Exit
from controller.journal.reader import read_run
from controller.journal.records import TEMPER_JUDGED, Run
from controller.ports import Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class Played:
    """What came of the command."""

    out: str
    page: str
    record: Path
    run: Run
    asked: dict[str, Asked]
    opened: list[str]
    top_up_g: int  # as the run itself advised


def advised_g(run: Run) -> int:
    """The first top-up that the run asked for, g."""
    told = next(note for note in run.events if note.name == EventName.ADVICE_OFFERED)
    found = re.search(r"announce topped-up (\d+) g at 40 C", str(told.facts["advice"]))
    assert found is not None
    return int(found[1])


def test_in_fahrenheit_nothing_is_told_in_celsius(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    page = tmp_path / "batch.html"
    words = ["demo", "--journal-dir", str(tmp_path), "--page", str(page), "--units", "F"]
    assert main(words) == Exit.DONE
    out, html = capsys.readouterr().out, page.read_text(encoding="utf-8")
    assert "It advises" in out
    assert "the machine advised" in html
    html = re.sub(r"<dt>Numbers from</dt><dd>[^<]*</dd>", "", html)  # as their source has them
    for text in (out, html.replace("\u00a0", " ")):
        assert "°F" in text
        assert re.findall(r".{20}[0-9] (?:°?C|K)\b(?! [0-9])", text) == []  # C is in curves, too


@pytest.fixture(scope="module")
def played(tmp_path_factory: pytest.TempPathFactory) -> Played:
    """The demo, played once."""
    folder = tmp_path_factory.mktemp("demo")
    page, out, opened = folder / "batch.html", io.StringIO(), list[str]()

    def seen(uri: str) -> bool:
        opened.append(uri)
        return True

    with pytest.MonkeyPatch.context() as patch, redirect_stdout(out):
        patch.setattr(webbrowser, "open", seen)
        words = ["demo", "--journal-dir", str(folder), "--page", str(page), "--open"]
        assert main(words) == Exit.DONE
    record = next(folder.glob("*.jsonl"))
    run = read_run(record)
    return Played(
        out=" ".join(out.getvalue().split()),
        page=page.read_text(encoding="utf-8").replace("\u00a0", " "),
        record=record,
        run=run,
        asked={one.id: one for one in questions(run)},
        opened=opened,
        top_up_g=advised_g(run),
    )


def test_the_story_goes_from_the_plan_to_the_finish(played: Played) -> None:
    told = [
        "Plan: hollow egg and 48 candied-peel sticks, dark chocolate, done by 15:00",
        "to be done by 15:00 nine times in ten",
        "27.0 °C and 72 % at 850 m: dew point 21.5 °C",
        "Melt: bowl to 48.0 °C; ready in",
        "It asks: Add the last 43 g of finely chopped seed.",
        'You answer "done" after 6 min: somebody was at the door.',
        "Ready, at",
        "It asks: Smear a little on paper",
        'You answer "clean" after 5 min.',
        "It thickens:",
        "The run holds it 0.3 K warmer.",
        "It advises: It thickens, and may be held no warmer: stir in",
        f"You topped up with {played.top_up_g} g of melted chocolate at 40.0 °C and told it so",
        'You answer "finished"',
        "Finished; heat is off.",
        "The smear set clean: the batch was in temper.",
    ]
    assert [words for words in told if words not in played.out] == []
    assert sorted(told, key=played.out.find) == told


def test_what_is_told_stands_in_the_record(played: Played) -> None:
    run, asked = played.run, played.asked
    assert asked["late-seed"].took_s == pytest.approx(360.0, abs=3.0)
    assert asked["set-test"].choice == "clean"
    assert asked["set-test"].took_s == pytest.approx(300.0, abs=3.0)
    warmer = [
        note.t_s
        for note in run.events
        if note.name == TEMPER_JUDGED and "warmer, for it thickens" in str(note.facts["why"])
    ]
    topped = [note for note in run.events if note.name == EventName.DEED_ANNOUNCED]
    advised = [note for note in run.events if note.name == EventName.ADVICE_OFFERED]
    assert 60 < played.top_up_g < 300  # a few per cent of 1.24 kg, and what its bowl bears
    assert [note.facts["deed"] for note in topped] == [f"topped-up {played.top_up_g} g at 40.0 C"]
    assert asked["set-test"].took_s is not None
    tested_s = asked["set-test"].at_s + asked["set-test"].took_s
    assert tested_s < warmer[0] - 60.0 < advised[0].t_s < topped[0].t_s < asked["finish"].at_s
    assert len(advised) == 1  # and nothing is asked for that the cook leaves undone
    assert not [note for note in run.events if note.name == EventName.TRIP_LATCHED]
    assert run.closing is not None
    assert run.closing.truth is not None
    assert run.closing.truth.verdict is Verdict.IN_TEMPER


def test_the_bowl_waits_safely_while_nobody_answers(played: Played) -> None:
    late = played.asked["late-seed"]
    waited = [
        sample
        for sample in played.run.samples
        if late.at_s + 200.0 <= sample.t_s < late.at_s + 355.0
    ]
    assert len(waited) > 30
    assert all(31.5 < sample.bowl_c < 32.6 for sample in waited)  # its target, not colder
    assert all(sample.stirrer_rpm > 0.0 for sample in waited)


def test_the_page_tells_the_batch_and_what_to_do_in_this_room(played: Played) -> None:
    page = played.page
    assert "Made of it: a hollow egg and 48 candied-peel sticks." in page
    assert "The smear set clean: the batch was in temper." in page
    assert "after 6 min" in page
    assert f"you topped up with {played.top_up_g} g of melted chocolate at 40.0 °C" in page
    assert "it thickened, so the machine held the bowl 0.3 degrees warmer" in page
    assert "the machine advised: It thickens, and may be held no warmer" in page
    assert "0.3 degrees warmer as it thickened, never more than 0.9 degrees off that" in page
    assert "(just after the top-up at 14:2" in page
    assert "<strong>dark</strong> at once" in page
    assert "In the lowest bar green means in temper." in page
    assert "crystal that makes chocolate shine and snap" in page
    assert "a room of 27.0 °C at 72 %" in page
    assert "find a cooler place" in page
    # 1.24 kg and the top-up, less 184 g of egg and 256 g on sticks; to ten grams.
    left_kg = round((1240 + played.top_up_g - 184 - 256) / 1000, 2)
    assert f"<dd>{mass_text(left_kg)}</dd>" in page
    noted = read_notes(played.record)
    assert (noted.room_c, noted.humidity) == (27.0, 0.72)


def test_the_page_is_opened_where_that_is_asked_for(played: Played) -> None:
    assert played.opened == [(played.record.parent / "batch.html").as_uri()]
    assert "Open the page" not in played.out


def test_without_a_browser_the_page_is_left_to_be_opened(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(webbrowser, "open", lambda _: False)
    assert shown(tmp_path / "batch.html", is_open=True).startswith("No browser could be started")
    assert "or add --open" in shown(tmp_path / "batch.html", is_open=False)


def test_a_page_by_an_odd_name_is_refused_before_anything_is_played(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["demo", "--journal-dir", str(tmp_path), "--page", "page.pdf"]) == Exit.USAGE
    assert "ends in .html" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []
