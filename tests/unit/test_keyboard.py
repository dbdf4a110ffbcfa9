"""The keyboard as a panel."""

import io
import threading
from collections.abc import Callable, Iterator

import pytest

from controller.commands.keyboard import HELP, KEPT, Keyboard, request_of
from controller.core.announcement import HOW
from controller.core.profile import Choice
from controller.ports import Request, Source, Verb, announced
from tests.helpers.scene import question

SOON_S = 20.0


class Typed(io.StringIO):
    """Lines that a person typed, handed out one at a time by `script`."""

    script: Callable[[], Iterator[str]]

    lines: Iterator[str] | None = None

    def readline(self, size: int | None = -1, /) -> str:  # type: ignore[override] # noqa: ARG002 - its base in typeshed says bytes
        """Hand the next one to whoever listens; nothing once all are typed."""
        self.lines = self.lines or self.script()
        return next(self.lines, "")


def typing(script: Callable[[], Iterator[str]]) -> Typed:
    typed = Typed()
    typed.script = script
    return typed


def taken(text: str) -> tuple[tuple[Request, ...], str]:
    """The requests of all lines and what was shown."""
    ended = threading.Event()

    def script() -> Iterator[str]:
        yield from text.splitlines(keepends=True)
        ended.set()

    shown = io.StringIO()
    keyboard = Keyboard(typing(script), shown)
    assert ended.wait(SOON_S)
    requests = keyboard.take(0.0, question())
    assert keyboard.take(1.0, question()) == ()
    return requests, shown.getvalue()


@pytest.mark.parametrize(
    ("line", "verb"),
    [
        ("pause", Verb.PAUSE),
        ("resume", Verb.RESUME),
        ("stop", Verb.STOP),
        ("STOP", Verb.STOP),
        ("Stop", Verb.STOP),
        ("acknowledge", Verb.ACKNOWLEDGE),
    ],
)
def test_a_word_is_a_request_of_a_person_at_the_machine(line: str, verb: Verb) -> None:
    assert request_of(line, None) == Request(verb=verb, source=Source.LOCAL)
    assert request_of(line, question()) == Request(verb=verb, source=Source.LOCAL)


def test_an_answer_s_word_answers_the_question_that_is_open() -> None:
    expected = Request(verb=Verb.ANSWER, ask_id="look", choice="longer")
    assert request_of("longer", question()) == expected


@pytest.mark.parametrize("line", ["", "start", "longer", "stop now", "quit"])
def test_anything_else_means_nothing(line: str) -> None:
    assert request_of(line, None) is None


def test_what_somebody_has_just_done_is_announced() -> None:
    assert request_of("Announce added 200 g", None) == Request(
        verb=Verb.ANNOUNCE, source=Source.LOCAL, announcement=announced("added 200 g")
    )
    requests, shown = taken("announce something\n")
    assert requests == ()
    assert shown == f"To announce, type {HOW}.\n"


def test_no_answer_s_word_can_stand_in_the_way_of_a_stop() -> None:
    sly = question(choices=(Choice(word="stop", adds_energy=False),))
    assert request_of("stop", sly) == Request(verb=Verb.STOP)


def test_lines_are_taken_in_order_and_once() -> None:
    requests, shown = taken("pause\n  resume  \ndone\n")
    assert [request.verb for request in requests] == [Verb.PAUSE, Verb.RESUME, Verb.ANSWER]
    assert shown == ""


def test_what_is_not_understood_is_answered_with_help() -> None:
    requests, shown = taken("go\nstop\n\n")
    assert [request.verb for request in requests] == [Verb.STOP]
    assert shown == f"{HELP}\n" * 2


def test_a_slip_in_what_is_announced_is_named() -> None:
    requests, shown = taken("announce added 200 kg\nannounce added\n")
    assert requests == ()
    assert shown.splitlines()[0].endswith("did you mean 200 g?")
    assert shown.splitlines()[1].startswith("To announce, type announce added 200 g")


def test_a_flood_of_lines_is_bounded_and_the_newest_count() -> None:
    requests, _ = taken("pause\n" * 500 + "stop\n")
    assert len(requests) == KEPT
    assert requests[-1].verb is Verb.STOP


def test_the_loop_is_never_held_up_by_a_person_who_types_nothing() -> None:
    gate = threading.Event()

    def script() -> Iterator[str]:
        gate.wait(SOON_S)
        yield from ()

    assert Keyboard(typing(script), io.StringIO()).take(0.0, None) == ()
    gate.set()


class Terminal(Typed):
    """A terminal, at which Ctrl-D ends a line and not the person."""

    def isatty(self) -> bool:
        """Say yes."""
        return True


def test_ctrl_d_at_a_terminal_does_not_end_the_listening() -> None:
    ended = threading.Event()

    def script() -> Iterator[str]:
        yield ""
        yield "stop\n"
        ended.set()
        typed.close()
        yield ""

    typed = Terminal()
    typed.script = script
    keyboard = Keyboard(typed, io.StringIO())
    assert ended.wait(SOON_S)
    assert [request.verb for request in keyboard.take(0.0, None)] == [Verb.STOP]


def test_whether_it_may_be_left_is_asked_at_the_keyboard() -> None:
    assert request_of("Leave 20 min", None) == Request(verb=Verb.LEAVE, for_s=1200.0)
    assert request_of("leave 9 h", None) is None
