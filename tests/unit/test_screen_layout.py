"""What stands on the terminal in each state, in any size, and that old is never shown as new."""

from dataclasses import replace
from datetime import UTC, timedelta, timezone
from typing import Any

import pytest

from controller.core.batches import TemperState
from controller.core.interlock_rows import Priority
from controller.core.outlook import Outlook
from controller.core.signals import Reading
from controller.core.state import Mode, Notice, Switches
from controller.core.tempering import Temper
from controller.screen.layout import Frame, Line, clipped, plain, printable, screen, what_counts
from controller.view.board import Standing, View
from controller.view.facts import Facts, facts_of
from controller.view.story import Tone
from tests.helpers.moments import SET_TEST, TRIP, moment, state
from tests.helpers.topics import told

HOW = "To answer: at the keyboard."
FRAME = Frame(name="kitchen", columns=80, rows=24, fahrenheit=None, how=HOW, zone=UTC)
LID = Notice(
    cause="lid-open",
    priority=Priority.MEDIUM,
    at_s=0.0,
    seen_s=0.0,
    what="The lid is open.",
    action="Close it.",
    is_advice=False,
)
SOON = Outlook(early_s=3000.0, likely_s=3600.0, late_s=4200.0)


def view(standing: Standing = Standing.LIVE, age_s: float | None = 1.0, **changes: Any) -> View:  # noqa: ANN401 - any field of the state
    facts = facts_of(told(moment(state(**changes))))
    return View(facts=facts, standing=standing, age_s=age_s, samples=())


def temper(verdict: Temper, **more: Any) -> TemperState:  # noqa: ANN401 - any field
    return TemperState(verdict=verdict, confidence=0.92, why="So says the load.", **more)


def lines(given: View, frame: Frame = FRAME) -> list[str]:
    return [line.text for line in screen(given, frame)]


def text(given: View, frame: Frame = FRAME) -> str:
    return "\n".join(lines(given, frame))


def test_a_melt_is_shown_with_its_values_the_first_question_on_top() -> None:
    assert lines(view(outlook=SOON)) == [
        "kitchen, night-dark" + " " * 57 + "live",
        "",
        "MELTING",
        "Melting: 43.2 °C, on the way to 50.0 °C; ready in 58 min (48 to 68)",
        "",
        "Bowl    43.2 °C, to be 50.0 °C",
        "Ready   in 58 min, at 07:00 (06:50 to 07:10)",
        "Bath    55.0 °C, to be 56.5 °C, heat 73 %",
        "Phase   [melt] > hold, since 1 min",
        "Stirrer 30 rpm",
        "",
        "q leaves; the run goes on without this screen.",
    ]


@pytest.mark.parametrize(
    ("given", "word", "tone"),
    [
        (view(mode=Mode.IDLE), "IDLE", Tone.CALM),
        (view(), "MELTING", Tone.CALM),
        (view(ask=SET_TEST), "YOUR TURN", Tone.ASKS),
        (view(phase=1, temper=temper(Temper.IN_TEMPER)), "READY", Tone.GOOD),
        (view(phase=1, temper=temper(Temper.OVER)), "THICKENING", Tone.CARE),
        (view(notices=(LID,), withheld=("lid-open",)), "ALARM", Tone.ALARM),
        (view(trips=(TRIP,), mode=Mode.ABORTED), "TRIPPED", Tone.ALARM),
        (view(Standing.OLD, 14.0), "NOT LIVE", Tone.OLD),
        (view(Standing.NO_BROKER, 14.0), "NO BROKER", Tone.OLD),
    ],
)
def test_each_state_has_its_word_and_tone(given: View, word: str, tone: Tone) -> None:
    shown = [line for line in screen(given, FRAME) if line.text]
    assert shown[1] == Line(word, tone, bold=True)
    assert shown[2].tone is tone


def test_an_open_lid_and_a_stop_button_are_where_a_cook_looks() -> None:
    off = View(
        facts=facts_of(told(moment(lid=Reading(0.0)))),
        standing=Standing.LIVE,
        age_s=1.0,
        samples=(),
    )
    shown = [line for line in screen(off, FRAME) if line.text]
    assert shown[3] == Line("The lid is off: put it back on when your hands are out.", Tone.CARE)
    assert plain(off, FRAME).endswith(
        " 50.0 °C. The lid is off: put it back on when your hands are out."
    )
    assert what_counts(off) != what_counts(view())
    pressed = text(view(mode=Mode.STOPPED, switches=Switches(is_pressed=True)))
    assert "STOP BUTTON\nThe stop button is pressed: heat and stirrer are off." in pressed
    assert "Bowl    43.2 °C\n" in pressed  # and is not meant to be anything
    assert "Bath    55.0 °C, heat is off\n" in pressed


def test_a_question_stands_with_its_answers_and_how_to_give_one() -> None:
    said = text(view(ask=SET_TEST))
    assert said.count(SET_TEST.text) == 1
    assert "Answer: yes, no, warm-on (leads to heat)\nTo answer: at the keyboard." in said


def test_a_question_under_an_alarm_stands_below_it() -> None:
    said = text(view(ask=SET_TEST, notices=(LID,), withheld=("lid-open",)))
    assert said.index("Close it.") < said.index(f"It asks: {SET_TEST.text}")


def test_an_alarm_under_a_question_stands_below_it() -> None:
    advice = replace_notice(is_advice=True)
    said = text(view(ask=SET_TEST, notices=(advice,)))
    assert said.index(SET_TEST.text) < said.index("Alarm: The lid is open.")


def replace_notice(**changes: Any) -> Notice:  # noqa: ANN401 - any field
    fields = {name: getattr(LID, name) for name in LID.__struct_fields__}
    return Notice(**{**fields, **changes})


@pytest.mark.parametrize("standing", sorted(set(Standing) - {Standing.LIVE}))
def test_nothing_that_is_old_can_be_taken_for_new(standing: Standing) -> None:
    shown = screen(view(standing, 14.0, ask=SET_TEST, outlook=SOON), FRAME)
    assert shown[0].text.endswith("NOT LIVE, 14 s old")
    assert shown[0].tone is Tone.OLD
    values = [line for line in shown if "°C" in line.text]
    assert values or standing is Standing.NO_MACHINE
    for line in values:
        assert line.tone is Tone.OLD
        assert line.text[8:].startswith("was ") or "The last one said" in line.text
    said = "\n".join(line.text for line in shown)
    assert "Answer:" not in said
    assert HOW not in said
    assert "in 58 min" not in said or standing is Standing.OFF  # a countdown of then is none


def test_a_value_that_a_broker_kept_has_an_unknown_age() -> None:
    assert lines(view(Standing.OLD, None))[0].endswith("NOT LIVE, of unknown age")


def test_why_a_broker_is_gone_is_told() -> None:
    frame = replace(FRAME, trouble="Connection \x1b[31mrefused")
    assert "Why: Connection ?[31mrefused." in text(view(Standing.NO_BROKER), frame)


def test_without_any_facts_there_are_no_values() -> None:
    nothing = View(facts=Facts(), standing=Standing.NO_MACHINE, age_s=None, samples=())
    said = text(nothing)
    assert "NO MACHINE" in said
    assert "Bowl" not in said


def test_fahrenheit_goes_through_every_line() -> None:
    said = text(view(outlook=SOON, phase=1, temper=temper(Temper.IN_TEMPER)), in_f())
    assert "Bowl    109.8 °F, to be 122.0 °F" in said
    assert "°C" not in said
    assert "°C" not in text(view(outlook=SOON), in_f())


def in_f() -> Frame:
    return replace(FRAME, fahrenheit=True)


def test_temper_is_told_with_how_sure_it_is_and_for_how_long() -> None:
    kept = temper(Temper.IN_TEMPER, keeps_s=(1800.0, 3000.0, 5400.0), keeps_at_s=125.4)
    said = text(view(phase=1, temper=kept))
    assert "Dip?    Yes." in said
    assert "Temper  in temper, 92 % sure" in said
    assert "Stays   in temper for 50 min, 30 min at least" in said


@pytest.mark.parametrize("rows", range(1, 30))
@pytest.mark.parametrize("columns", [1, 10, 20, 33, 80, 200])
def test_no_size_makes_it_overflow(rows: int, columns: int) -> None:
    frame = replace(FRAME, rows=rows, columns=columns, trouble="so it is")
    for given in (
        view(ask=SET_TEST, notices=(LID,), phase=1, temper=temper(Temper.OVER)),
        view(trips=(TRIP,), mode=Mode.ABORTED),
    ):
        shown = lines(given, frame)
        assert 1 <= len(shown) <= rows
        assert all(len(line) <= columns for line in shown)


def test_a_small_screen_keeps_what_is_asked_and_lets_the_stirrer_go() -> None:
    shown = lines(view(ask=SET_TEST), replace(FRAME, rows=6))
    assert "YOUR TURN" in shown
    assert "Answer: yes, no, warm-on (leads to heat)" in shown
    assert not any(line.startswith("Stirrer") for line in shown)


def test_a_liar_s_words_steer_no_terminal() -> None:
    lie = replace_notice(what="a\x1b]0;b\x07\r\n\u202ec\x9b31m")
    for given in (view(notices=(lie,)), view(notices=(lie,), withheld=("lid-open",))):
        said = text(given) + plain(given, FRAME)
        assert not {"\x1b", "\x07", "\r", "\u202e", "\x9b"} & set(said)
    assert printable("a\x1bb") == "a?b"


def test_a_phase_by_a_liar_s_name_steers_no_terminal_either() -> None:
    plainly = view()
    given = replace(plainly, facts=replace(plainly.facts, phase="\x1b]0;a\x07\u202eb"))
    said = text(given) + plain(given, FRAME)
    assert "?]0;a??b" in said
    assert not {"\x1b", "\x07", "\u202e"} & set(said)


@pytest.mark.parametrize("moment", ["0001-01-01T00:00:00+00:00", "9999-12-31T23:59:59-23:59"])
@pytest.mark.parametrize("hours", [-14, 14])
def test_a_liar_s_moment_ends_nothing(moment: str, hours: int) -> None:
    said = told() | {"run/ready-at": moment, "run/remaining": "3600"}
    given = View(facts=facts_of(said), standing=Standing.LIVE, age_s=1.0, samples=())
    frame = replace(FRAME, zone=timezone(timedelta(hours=hours)))
    assert "Ready   in " in text(given, frame)


def test_what_there_is_no_room_for_is_what_is_missed_least() -> None:
    kept = temper(Temper.IN_TEMPER, keeps_s=(1800.0, 3000.0, 5400.0), keeps_at_s=125.4)
    shown = lines(view(phase=1, temper=kept), replace(FRAME, rows=6))
    assert [line.split()[0] for line in shown[3:]] == ["Bowl", "Dip?", "Stays"]  # not Temper


def test_a_line_is_cut_by_its_columns_not_by_its_signs() -> None:
    assert clipped("abc", 2) == "ab"
    assert clipped("チョコ", 4) == "チョ"
    assert clipped("チョコ", 5) == "チョ"
    assert clipped("e\u0301a", 1) == "e\u0301"


def test_without_a_screen_it_is_one_line() -> None:
    assert plain(view(ask=SET_TEST), FRAME) == f"Your turn: {SET_TEST.text} [yes / no / warm-on]"
    assert plain(view(Standing.NO_BROKER, 3.0), replace(FRAME, trouble="refused")) == (
        "No broker: The broker can't be reached. What is shown is old. Look at the machine "
        "itself. (refused)"
    )
    assert plain(view(), FRAME).startswith("Melting: 43.2 °C")
    assert plain(view(phase=1, temper=temper(Temper.OVER)), FRAME).startswith("Thickening: So")


def test_a_temperature_is_no_change_worth_a_line_and_all_else_is() -> None:
    base = what_counts(view())
    assert what_counts(view(bowl_c=44.0)) == base
    assert what_counts(view(age_s=3.0)) == base
    for other in (
        view(ask=SET_TEST),
        view(phase=1),
        view(mode=Mode.PAUSED),
        view(notices=(LID,)),
        view(Standing.OLD, 9.0),
    ):
        assert what_counts(other) != base
