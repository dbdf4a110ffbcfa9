"""`bainward rescue` as a cook types it: answers, questions back and slips."""

from pathlib import Path

import pytest

from controller.commands.main import main
from controller.errors import Exit


def said(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    """What it prints where all is well."""
    assert main(["rescue", *words]) == Exit.DONE
    return capsys.readouterr().out


def refused(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    """What it says to a slip."""
    assert main(["rescue", *words]) == Exit.USAGE
    return capsys.readouterr().err


def test_it_says_what_to_do_and_why_without_a_run(capsys: pytest.CaptureFixture[str]) -> None:
    told = ("--at", "38 C", "--for", "15 min", "--batch", "1.5 kg", "--tap", "12 C")
    text = said(capsys, "temper-lost", *told)
    assert "Do this: Add seed (" in text
    assert "\n  1. " in text
    assert "for cold water at 12.0 °C, and" in text
    assert "Then make a set test" in text
    assert "\nWhy: " in text
    assert "Nobody said otherwise" not in text


def test_what_nobody_said_is_said_to_be_assumed(capsys: pytest.CaptureFixture[str]) -> None:
    text = said(capsys, "too-warm", "--chocolate", "milk")
    assert "Nobody said otherwise, so taken for 33.0 °C (--at), 10 min (--for)." in text


def test_temperatures_are_in_fahrenheit_where_that_is_wished(
    capsys: pytest.CaptureFixture[str],
) -> None:
    text = said(capsys, "too-warm", "--at", "100 F", "--for", "20 min", "--units", "F")
    assert "100.0 °F" in text
    assert "°C" not in text


@pytest.mark.parametrize("word", ["water", "scorched"])
def test_of_what_is_ruined_only_ganache_is_left(
    capsys: pytest.CaptureFixture[str], word: str
) -> None:
    # A little water makes chocolate seize for good (McGee, On Food and Cooking, 2004).
    text = said(capsys, word)
    assert "Nothing brings this batch back" in text
    assert "ganache" in text
    assert "Do this" not in text


@pytest.mark.parametrize(
    ("words", "hint"),
    [
        (("too-warm", "--at", "36 F"), "did you mean 36 C?"),
        (("too-warm", "--at", "97 C"), "did you mean 97 F?"),
        (("too-warm", "--at", "36"), 'has no unit; write "36 C"'),
        (("too-warm", "--for=-12 min"), "did you mean 12 min?"),
        (("too-warm", "--for", "900 min"), "did you mean 900 s?"),
        (("seed-early", "--amount", "150 kg"), "did you mean 150 g?"),
        (("seed-early", "--batch", "1500 kg"), "did you mean 1500 g?"),
        (("seed-early", "--amount", "4000 g", "--batch", "1 kg"), "mind g and kg"),
        (("too-thick", "--at", "36 C"), "has no use for --at; it takes none"),
        (("too-warm", "--amount", "3 g"), "no use for --amount; it takes --at, --for"),
        (("too-wram",), "did you mean too-warm?"),
        (("qqq",), "known are too-warm,"),
        (("too-warm", "--chocolate", "ruby"), "write dark, milk or white"),
        (("too-warm", "--without", "sed"), "write seed, melt or both"),
    ],
)
def test_a_slip_is_named(
    capsys: pytest.CaptureFixture[str], words: tuple[str, ...], hint: str
) -> None:
    assert hint in refused(capsys, *words)


def test_what_was_hotter_than_it_ever_should_be_may_have_scorched(
    capsys: pytest.CaptureFixture[str],
) -> None:
    # Never above 50 °C: milk proteins grain (McGee, On Food and Cooking, 2004).
    hot = ("--chocolate", "milk", "--for", "5 min", "--at")
    assert "see bainward rescue scorched" in said(capsys, "too-warm", *hot, "55 C")
    assert "scorched" not in said(capsys, "too-warm", *hot, "45 C")


def test_without_mishap_and_without_a_run_it_says_what_to_write(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    text = refused(capsys, "--folder", str(tmp_path))
    assert "There is no run" in text
    assert "bainward rescue --help lists it" in text
