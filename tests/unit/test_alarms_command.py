"""The command `alarms`: every cause in the list, and each with all that a person needs of it."""

import re

import pytest

from controller.commands.alarming import WIDTH, about, told_of_latch
from controller.commands.main import main
from controller.core.interlock_rows import Effect
from controller.core.interlocks import INTERLOCKS, PRIORITIES
from controller.core.reasons import call_off, why
from controller.core.self_rows import SELF_ROWS
from controller.errors import Exit
from controller.guard.decision import Cause
from controller.guard.resets import RULES, STRICTEST
from tests.helpers.wording import JARGON

GUARDS = {str(cause) for cause in Cause if cause is not Cause.NONE}
KNOWN = {*PRIORITIES, *GUARDS, *(str(row.cause) for row in SELF_ROWS)}


def printed(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    assert main(["alarms", *words]) == Exit.DONE
    return capsys.readouterr().out


ENTRY = re.compile(r"^  [a-z]")


def test_the_list_has_every_cause_with_what_it_does(capsys: pytest.CaptureFixture[str]) -> None:
    lines = [line.split() for line in printed(capsys).splitlines() if ENTRY.match(line)]
    assert {words[0] for words in lines} == KNOWN
    assert [" ".join(words[1:4]) for words in lines if words[0] == "tick-late"] == ["ends the run"]
    assert [" ".join(words[1:4]) for words in lines if words[0] == "clocks-disagree"] == [
        "holds heat back"
    ]


def test_the_most_pressing_come_first(capsys: pytest.CaptureFixture[str]) -> None:
    out = printed(capsys)
    places = [out.index(f"\n{word} priority") for word in ("high", "medium", "low")]
    assert places == sorted(places)
    assert out.index("level-lost") < places[1] < out.index("bowl-unlike-bath") < places[2]


def test_the_list_says_of_each_cause_what_to_do_now(capsys: pytest.CaptureFixture[str]) -> None:
    out = printed(capsys)
    text = " ".join(out.split())
    for cause in KNOWN - {"controller-tripped"}:
        (action, *others) = [line for line in about(cause) if line.startswith("  Do now")]
        assert any(" ".join(one.split())[len("Do now ") :] in text for one in (action, *others))
    assert (
        "level-lost ends the run Unplug, let the heater cool, fill the bath to its mark; " in text
    )
    # Of several rows the gravest speaks: what only holds heat back stands under the cause itself.
    assert "heat-without-effect ends the run Unplug; see to water (let a dry heater" in text
    assert max(map(len, out.splitlines())) <= WIDTH


@pytest.mark.parametrize("word", sorted(KNOWN))
def test_each_cause_says_what_to_do_and_how_it_ends(word: str) -> None:
    head, *lines = "\n".join(about(word)).splitlines()
    text = " ".join(" ".join(lines).split())
    assert head.startswith(f"{word}: ")
    assert "Do now" in text
    assert why(word) in text
    assert call_off(word) in text
    trips = any(row.effect is Effect.TRIP for row in INTERLOCKS if row.cause == word)
    assert ("Cleared" in text) is (word in RULES)
    assert ("Cleared" in text) >= trips
    assert all(len(line) <= WIDTH for line in lines)
    assert JARGON.search(text.replace(word, "")) is None


def test_what_only_keeps_a_run_from_starting_has_the_priority_of_its_row() -> None:
    assert about("computer-busy")[0] == "computer-busy: low priority, act when there is time."
    assert about("lease-lapsed")[0] == "lease-lapsed: high priority, act now."


def test_what_also_warns_in_mid_run_is_not_said_to_come_before_any_heat_only() -> None:
    assert "it ends no run but at the start" in " ".join(" ".join(about("heater-unseen")).split())


def test_all_rows_of_a_cause_are_shown() -> None:
    text = " ".join(" ".join(about("heat-without-effect")).split())
    for row in INTERLOCKS:
        assert (row.compares in text) is (row.cause == "heat-without-effect")


@pytest.mark.parametrize("words", [("level", "lost"), ("Level lost",), ("level-lost",)])
def test_a_cause_may_be_typed_as_a_screen_shows_it(
    words: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    assert printed(capsys, *words).startswith("level-lost: high priority")


def test_a_word_that_is_none_is_refused_with_the_nearest(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["alarms", "levellost"]) == Exit.USAGE
    assert "no cause 'levellost': do you mean level-lost?" in capsys.readouterr().err
    assert main(["alarms", "%"]) == Exit.USAGE
    assert "`bainward alarms` lists them." in capsys.readouterr().err


def test_who_clears_a_trip_of_the_controller_reads_what_that_trip_wants() -> None:
    text = "\n".join(told_of_latch(Cause.CONTROLLER_TRIPPED, "level-lost"))
    assert "Seen: a run tripped (level-lost)." in text
    assert "Do first: Unplug, let the heater cool, fill the bath to its mark; " in text
    assert f"Call the batch off? {call_off('level-lost')}" in text
    assert f"Must be true: {RULES['level-lost'].must}" in text


def test_who_clears_a_trip_reads_nothing_of_what_only_warned() -> None:
    text = "\n".join(told_of_latch(Cause.CONTROLLER_TRIPPED, "bath-probe-jumping"))
    assert "Do first: Unplug; dry the bath probe's plug" in text
    assert "Do nothing" not in text


def test_a_trip_of_a_newer_controller_points_to_its_record() -> None:
    text = "\n".join(told_of_latch(Cause.CONTROLLER_TRIPPED, "a-new-word"))
    assert (
        "Do first: Do what the run said (`bainward alarms` says it, too). Then end any run." in text
    )


def test_who_clears_a_latch_reads_all_that_must_be_true_and_the_first_cause_first() -> None:
    also = ("relay-stuck-on", "bath-over-cap", "a-new-word")
    lines = told_of_latch(Cause.CONTROLLER_TRIPPED, "tick-late", also)
    assert lines[0] == "Seen: a run tripped (tick-late)."
    besides = [line for line in lines if line.startswith("Besides: ")]
    assert [line.split(".")[0] for line in besides] == [f"Besides: {one}" for one in also]
    assert "Do first: Unplug now" in besides[0]
    assert "Do first: Unplug; let the bath cool" in besides[1]
    musts = [line.removeprefix("Must be true: ") for line in lines if line.startswith("Must")]
    rules = ("tick-late", "relay-stuck-on", "bath-over-cap")
    assert musts == [*(RULES[one].must for one in rules), STRICTEST.must]


def test_who_clears_a_latch_of_the_guard_is_not_told_to_clear_it_first() -> None:
    for cause in set(Cause) - {Cause.NONE}:
        assert "rearm" not in "".join(told_of_latch(cause, ""))
