"""The batch page: whole, escaped, self-contained, and readable by everybody."""

import re
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path

import pytest

from controller.book.asked import questions
from controller.book.curve import NARROW, WIDE, Scene, curve
from controller.book.finishing import Ended, Room, steps, text
from controller.book.label import label_text
from controller.book.notes import Bloom, Gloss, Notes, Remark, SetTest
from controller.book.page import label_page, page
from controller.book.story import sentences, tell
from controller.book.style import STYLE
from controller.commands.main import main
from controller.core.profile import Kind, Verdict
from controller.errors import Exit
from controller.journal.reader import read_run
from controller.journal.records import Note, Run
from tests.helpers.batch import a_header, a_profile, write_batch

VOID = {"meta", "br"}
HOSTILE = '<script>alert("1")</script> & \u2028'


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> Run:
    """A batch as read back from its record."""
    path = tmp_path_factory.mktemp("page") / "run.jsonl"
    write_batch(path)
    return read_run(path)


class Reader(HTMLParser):
    """Tags in their order; fails where they don't close each other."""

    def __init__(self, html: str) -> None:
        """Read it all."""
        super().__init__()
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.feed(html)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Remember it."""
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Remember it; nothing to close."""
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        """See that it closes the last one."""
        assert self.open.pop() == tag


def judged(at_s: float, verdict: str, confidence: float = 0.9) -> Note:
    """What the estimate of temper said."""
    facts: dict[str, str | float | bool] = {
        "verdict": verdict,
        "confidence": confidence,
        "why": "Because.",
    }
    return Note(seq=1, t_s=at_s, name="temper_judged", phase="hold", facts=facts)


def test_every_tag_closes_and_every_id_is_its_own(run: Run) -> None:
    tags = Reader(page(tell(run, Notes()))).tags
    ids = [attrs["id"] for _, attrs in tags if "id" in attrs]
    assert len(ids) == len(set(ids)) == 4


def test_nothing_is_fetched_from_anywhere(run: Run) -> None:
    html = page(tell(run, Notes()))
    assert not re.search(r"(?i)https?:|\bsrc=|\bhref=|url\(|@import|<script|<link", html)
    assert "default-src 'none'" in html


def test_whatever_was_written_is_escaped(run: Run) -> None:
    header = replace(
        run.header, profile_title=HOSTILE, machine_name=HOSTILE, run_id=HOSTILE, version=HOSTILE
    )
    note = Note(seq=1, t_s=9.0, name="deed_announced", phase="cool", facts={"deed": HOSTILE})
    hostile = replace(run, header=header, events=(*run.events, note, judged(9000.0, HOSTILE)))
    remark = Remark(at_utc="2031-02-04", text=HOSTILE)
    told = tell(hostile, Notes(made=HOSTILE, chocolate=HOSTILE, remarks=(remark,)))
    for html in (page(told), label_page(told)):
        assert "<script" not in html
        assert html.count("&lt;script&gt;") >= 2
        Reader(html)


def test_headings_come_in_their_order(run: Run) -> None:
    levels = [int(tag[1]) for tag, _ in Reader(page(tell(run, Notes()))).tags if tag in "h1h2h3"]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))


def test_each_drawing_is_told_in_words_to_who_cannot_see_it(run: Run) -> None:
    tags = Reader(page(tell(run, Notes()))).tags
    drawings = [attrs for tag, attrs in tags if tag == "svg" and "aria-hidden" not in attrs]
    assert [one["role"] for one in drawings] == ["img", "img"]
    html = page(tell(run, Notes()))
    assert html.count("Phases: melt from 0:00:") == 2


def luminance(colour: str) -> float:
    """Relative luminance, WCAG 2.2."""
    wide = colour if len(colour) == 7 else "#" + "".join(2 * sign for sign in colour[1:])
    parts = [int(wide[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
    linear = [
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    ]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio, WCAG 2.2."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("scheme", [0, 1, 2], ids=["light", "dark", "print"])
def test_words_and_lines_stand_out_on_every_ground(scheme: int) -> None:
    block = STYLE.split(":root{")[scheme + 1].split("}")[0]
    colours = dict(re.findall(r"--(\w+):(#[0-9a-f]+)", block))
    for ground in ("paper", "shade", "card"):
        # WCAG 2.2: 4.5 for words (1.4.3), 3 for parts of a drawing (1.4.11).
        assert contrast(colours["ink"], colours[ground]) >= 7.0
        assert contrast(colours["quiet"], colours[ground]) >= 4.5
        assert contrast(colours["bath"], colours[ground]) >= 3.0
        assert contrast(colours["bowl"], colours[ground]) >= 3.0
    assert contrast(colours["ink"], colours["good"]) >= 4.5
    assert contrast(colours["ink"], colours["plain"]) >= 4.5


def test_plain_sentences_come_first(run: Run) -> None:
    told = list(sentences(tell(run, Notes(gloss=Gloss.DULL))))
    assert told[0] == "The set test was clean: the batch was in temper."
    assert "The pieces are dull." in told
    html = page(tell(run, Notes()))
    assert html.index(told[0]) < html.index("<svg")


def test_the_note_on_a_set_test_has_the_last_word(run: Run) -> None:
    told = list(sentences(tell(run, Notes(set_test=SetTest.NOT_SET))))
    assert told[0] == "The smear did not set: the batch was not in temper."


def test_what_was_only_melted_is_not_said_to_lack_a_test(run: Run) -> None:
    assert run.closing is not None
    closing = replace(run.closing, outcome="done")
    samples = tuple(replace(one, verdict=Verdict.NONE) for one in run.samples)
    melted = replace(run, closing=closing, samples=samples, events=())
    assert next(sentences(tell(melted, Notes()))).startswith("Nothing was to be tempered")
    stopped = replace(melted, closing=replace(closing, outcome="stopped"))
    assert next(sentences(tell(stopped, Notes()))).startswith("No set test was made")


def test_a_run_that_broke_off_before_it_began_has_a_page(run: Run) -> None:
    cut = replace(run, samples=(), events=(), closing=None)
    html = page(tell(cut, Notes()))
    assert "The record breaks off" in html
    assert "<svg" not in html
    Reader(html)


def test_a_bench_s_run_is_no_batch_to_eat(run: Run) -> None:
    said = page(tell(run, Notes()))
    assert "no chocolate was made" in said
    assert f"bainward book note {run.header.run_id} --remark TEXT --tries" in said
    assert run.closing is not None
    real = replace(run, closing=replace(run.closing, truth=None))
    said = page(tell(real, Notes()))
    assert "no chocolate was made" not in said
    assert "--tries" not in said


def test_the_estimate_of_temper_is_told_and_drawn_where_the_record_has_it(run: Run) -> None:
    assert "reckon" not in page(tell(run, Notes()))
    known = replace(
        run, events=(*run.events, judged(3000.0, "not-yet"), judged(6500.0, "in-temper"))
    )
    html = page(tell(known, Notes()))
    assert "took it for in temper (90\u00a0% sure); the set test is the judge." in html
    assert html.count(">in temper</text>") >= 1
    assert html.count("<p>Because.</p>") == 1
    unsure = replace(run, events=(*run.events, judged(6500.0, "unknown")))
    assert "the machine could not tell" in page(tell(unsure, Notes()))


def test_the_questions_are_numbered_as_on_the_curve(run: Run) -> None:
    told = tell(run, Notes())
    scene = Scene(
        run=run, phases=told.summary.phases, asked=told.asked, fahrenheit=False, summary=""
    )
    for paper in (WIDE, NARROW):
        assert curve(scene, paper).count('class="ring"') == len(told.asked) > 0


def test_a_question_put_anew_while_it_is_open_counts_once(run: Run) -> None:
    first = next(note for note in run.events if note.name == "question_asked")
    again = replace(first, t_s=first.t_s + 5.0, facts={**first.facts, "text": "Swap 2 kg."})
    events = tuple(two for one in run.events for two in ((one, again) if one is first else (one,)))
    asked = questions(replace(run, events=events))
    assert len(asked) == len(questions(run))
    assert asked[0].text == "Swap 2 kg."
    assert asked[0].at_s == first.t_s


def test_a_test_answered_too_soon_is_trusted_less(run: Run) -> None:
    for took_s, is_soon in ((60.0, True), (400.0, False)):
        asked = Note(
            seq=1,
            t_s=6000.0,
            name="question_asked",
            phase="hold",
            facts={"id": "t", "text": "Set?"},
        )
        answer = replace(
            asked,
            t_s=6000.0 + took_s,
            name="question_answered",
            facts={
                "id": "t",
                "choice": "clean",
                "by": "local",
                "action": "set-test",
                "soon": is_soon,
            },
        )
        html = page(tell(replace(run, events=(asked, answer)), Notes()))
        assert "The smear set clean" in html
        assert ("sooner than a smear needs" in html) is is_soon


def test_what_was_noted_is_ticked_and_the_rest_left_to_a_pencil(run: Run) -> None:
    html = page(tell(run, Notes(gloss=Gloss.GLOSSY, bloom=Bloom.SPECKS)))
    assert html.count("✓") == 2
    assert html.count('<div class="line">') == 3


def test_fahrenheit_is_shown_where_it_is_wanted(run: Run) -> None:
    html = page(tell(run, Notes(), fahrenheit=True))
    assert "88.7\u00a0°F" in html  # 31.5 °C
    assert 'y="' in html
    assert ">°F</text>" in html


def test_the_label_says_kind_date_remelts_and_allergens(run: Run) -> None:
    notes = Notes(contains=("nuts",), traces=("milk",), left_kg=0.3, remelts=2)
    words = label_text(tell(run, notes))
    for part in ("Dark chocolate", "3 February 2031", "300 g", "twice", "nuts", "traces of: milk"):
        assert part in words
    assert "Contains: nothing was noted; see the bag" in label_text(tell(run, Notes()))
    Reader(label_page(tell(run, notes)))


def test_a_label_of_milk_chocolate_names_milk_though_nobody_noted_it(run: Run) -> None:
    unnoted = tell(run, Notes(chocolate="milk"))
    assert "Contains: milk; see the bag for more" in label_text(unnoted)
    assert "Allergens: milk; see the bag for more." in page(unnoted)
    noted = tell(run, Notes(chocolate="milk", contains=("nuts",)))
    assert "Contains: milk, nuts\n" in label_text(noted)


def test_what_to_do_comes_in_the_order_of_doing() -> None:
    names = [step.name for step in steps("dark", Room(room_c=20.0), Ended())]
    assert names == ["Empty", "Store", "Set and unmould", "Out of the fridge", "Clean"]
    assert "down the drain" in text("dark", Room(room_c=20.0), Ended())
    assert [step.name for step in steps("water", Room(room_c=20.0), Ended())] == ["Dry"]
    assert max(map(len, text("milk", Room(room_c=20.0), Ended()).splitlines())) <= 78


def test_after_a_trip_the_machine_is_unplugged_first_and_what_was_never_worked_is_kept() -> None:
    room = Room(room_c=20.0)
    tripped = Ended(is_tripped=True, was_worked=False)
    first, keep, *rest = steps("dark", room, tripped)
    assert first.text.startswith("Unplug the machine before you touch")
    assert "a new run to melt" in keep.text
    assert [step.name for step in rest] == ["Store", "Clean"]
    assert steps("dark", room, Ended(is_tripped=True))[1:] == steps("dark", room, Ended())
    assert [one.name for one in steps("water", room, tripped)] == ["First", "Dry"]


def test_pieces_in_a_cold_room_need_not_wait() -> None:
    assert "no time for a bar" in " ".join(text("dark", Room(room_c=9.0), Ended()).split())


def said(room: Room) -> str:
    """What to do in that room, on one line."""
    return " ".join(text("dark", room, Ended()).split())


def test_the_wait_out_of_the_fridge_is_of_the_room_s_own_air() -> None:
    # By hand: 27 °C at 72 % has its dew point at 21.5 °C (Magnus, Alduchov & Eskridge 1996), dry
    # from 23.5; lag 1300 * 1590 * 0.01 / 2 / 4 = 2583.75 s, times ln(21 / 3.5) = 1.79: 77 min.
    damp = said(Room(room_c=27.0, humidity=0.72))
    assert "in a room of 27.0 °C at 72 % about 1 h 17 min for a bar of 10 mm" in damp
    assert "a guess" not in damp
    assert "whatever is cooler than 23.5 °C gets wet: cover it" in damp
    assert "At 27.0 °C, as it is here, they hardly do: find a cooler place" in damp


def test_where_nobody_said_how_damp_it_is_the_guess_is_called_one() -> None:
    guessed = said(Room(room_c=20.0))
    assert "at 60 %, a guess, as nobody said how damp it is, about 36 min" in guessed
    assert "gets wet" not in guessed
    assert "find a cooler place" not in guessed
    assert "find a cooler place" not in said(Room(room_c=21.5, humidity=0.5))


def test_in_air_at_its_dew_point_nothing_is_promised_to_dry() -> None:
    assert "unwrap pieces in drier air only" in said(Room(room_c=27.0, humidity=0.95))


def test_a_page_is_of_the_room_that_was_noted(run: Run) -> None:
    assert "27.0\u00a0°C at 72\u00a0%" in page(tell(run, Notes(room_c=27.0, humidity=0.72)))
    assert "24.0\u00a0°C at 50\u00a0%" in page(
        tell(run, Notes(room_c=27.0)), Room(room_c=24.0, humidity=0.5)
    )


def test_a_page_of_water_asks_for_no_gloss(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    write_batch(path, a_header(a_profile(kind=Kind.WATER)))
    html = page(tell(read_run(path), Notes()))
    assert "Gloss" not in html
    assert "left over" not in html


def test_the_command_writes_page_and_label(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write_batch(tmp_path / "run-1.jsonl")
    words = ["book", "--folder", str(tmp_path)]
    out = tmp_path / "out.html"
    assert main([*words, "page", "last", "--out", str(out), "--room", "70 F"]) == Exit.DONE
    Reader(out.read_text(encoding="utf-8"))
    assert "Page: " in capsys.readouterr().out
    assert main([*words, "label", "last", "--out", str(out)]) == Exit.DONE
    assert "left over" in out.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("words", "hint"),
    [
        (["--out", "page.pdf"], "ends in .html"),
        (["--room", "70 C"], "did you mean 70 F"),
        (["--room", "-21 C"], "did you mean 21 C"),
    ],
)
def test_a_page_that_can_t_be_meant_is_refused(
    words: list[str], hint: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write_batch(tmp_path / "run-1.jsonl")
    joined = [f"{words[0]}={words[1]}"]
    assert main(["book", "--folder", str(tmp_path), "page", "last", *joined]) == Exit.USAGE
    assert hint in capsys.readouterr().err
