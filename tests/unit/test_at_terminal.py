"""Questions and lines at a terminal."""

import io

import pytest

from controller.commands.at_terminal import AtTerminal
from controller.errors import StoppedError


class Typed(io.StringIO):
    """What somebody types at a terminal."""

    def isatty(self) -> bool:
        """It is one."""
        return True


def typed(monkeypatch: pytest.MonkeyPatch, text: str) -> AtTerminal:
    """Somebody who types that."""
    monkeypatch.setattr("sys.stdin", Typed(text))
    return AtTerminal()


@pytest.mark.parametrize(
    ("text", "word"), [("yes\n", "yes"), ("n\n", "no"), (" NO \n", "no"), ("maybe\n\ny\n", "yes")]
)
def test_a_question_is_asked_until_it_is_answered(
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    text: str,
    word: str,
) -> None:
    assert typed(monkeypatch, text).ask("Done?") == word
    said = capsys.readouterr().out
    assert said.count("Done? [yes/no] ") == text.count("\n")
    assert ("Write one of yes, no." in said) is ("maybe" in text)


def test_what_may_be_meant_twice_is_asked_again(monkeypatch: pytest.MonkeyPatch) -> None:
    person = typed(monkeypatch, "s\nst\nstop\n")
    assert person.ask("And now?", ("stay", "stop")) == "stop"


def test_an_end_of_the_input_and_a_missing_terminal_leave_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    with pytest.raises(StoppedError, match="the same command goes on"):
        typed(monkeypatch, "").ask("Done?")
    monkeypatch.setattr("sys.stdin", io.StringIO("yes\n"))
    with pytest.raises(StoppedError, match=r"wants a person at a terminal.*Done\?"):
        AtTerminal().ask("Done?")


def test_a_live_line_is_written_over_at_a_terminal_and_kept_elsewhere(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    person = AtTerminal()
    person.show("20 °C")
    person.say("Rests.")
    assert capsys.readouterr().out == "20 °C\nRests.\n"
    screen = Typed()
    monkeypatch.setattr("sys.stdout", screen)
    person.show("20 °C")
    person.show("21 °C")
    person.say("Rests.")
    assert screen.getvalue() == "\r\x1b[K20 °C\r\x1b[K21 °C\nRests.\n"
