"""What `bainward try` says of faults."""

import os
import sys

import pytest

from controller.commands.faulting import (
    check_broker,
    fault_list,
    fault_text,
    shown_faults,
    untold,
)
from controller.commands.main import main
from controller.commands.options import parser
from controller.core.state import EventName
from controller.errors import UsageError
from controller.ports import Kind
from controller.trials.faults import FaultScript, parse_fault
from controller.wiring import Bench, BenchFault
from hardware.bench.attach import attach
from tests.helpers.batch import a_moment, an_event


def test_every_fault_is_listed_with_its_sentence_and_its_usual_size() -> None:
    lines = fault_list().splitlines()
    assert len(lines) == len(BenchFault)
    for fault, line in zip(BenchFault, lines, strict=True):
        assert line.startswith(str(fault))
        assert line.endswith(f"  {fault.says}")
        assert (fault.size is None) == (line.split("  ")[0] == str(fault))


def test_each_word_of_the_list_can_be_written_as_it_stands() -> None:
    for line in fault_list().splitlines():
        plan = parse_fault(line.split("  ")[0])
        usual = None if plan.fault.size is None else plan.fault.size.usual
        assert plan.size == usual


def test_the_list_goes_to_standard_output_and_needs_no_profile(
    capsys: pytest.CaptureFixture[str],
) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["try", "--list-faults"])
    assert not ended.value.code
    assert capsys.readouterr() == (fault_list(), "")


def test_a_reader_who_has_seen_enough_is_no_error(monkeypatch: pytest.MonkeyPatch) -> None:
    reads, writes = os.pipe()
    os.close(reads)
    with os.fdopen(writes, "w", encoding="utf-8") as pipe:
        monkeypatch.setattr(sys, "stdout", pipe)
        with pytest.raises(SystemExit) as ended:
            main(["try", "--list-faults"])
    assert not ended.value.code


@pytest.mark.parametrize(
    ("spec", "said"),
    [
        ("relay-welded", "relay-welded from the start: The heater's switch stays closed."),
        ("lid-off@hold+10min", "lid-off in hold after 10 min: "),
        ("bath-probe-drift:1.5K@melt/20min", "bath-probe-drift (1.5K) in melt, for 20 min: It "),
        ("heater-half@melt+90s/1h", "heater-half (50%) in melt after 1 min 30 s, for 1 h: The"),
    ],
)
def test_what_will_break_is_said_in_one_line(spec: str, said: str) -> None:
    assert fault_text(parse_fault(spec)).startswith(said)


def test_faults_may_be_repeated_and_none_is_usual() -> None:
    assert parser().parse_args(["try", "dark"]).fault == []
    words = ["try", "dark", "--fault", "lid-off", "--fault", "answer-never"]
    assert parser().parse_args(words).fault == ["lid-off", "answer-never"]


def test_a_broker_that_is_not_ours_can_not_be_taken_away() -> None:
    plans = [parse_fault("heater-dead"), parse_fault("broker-away@melt")]
    check_broker(plans, is_ours=True)
    check_broker(plans[:1], is_ours=False)
    with pytest.raises(UsageError, match="broker-away stops the broker that try starts itself"):
        check_broker(plans, is_ours=False)


def a_bench() -> Bench:
    """A bench to break."""
    return attach(
        machine="reference",
        seed=1,
        kind=Kind.DARK,
        batch_kg=1.5,
        seed_share=0.0,
        fitted=frozenset(),
    )


RAISED = an_event(EventName.ALARM_RAISED, cause="level-lost", priority="low")


def test_a_fault_that_never_came_is_named() -> None:
    script = FaultScript([parse_fault("heater-dead"), parse_fault("lid-off@hold+10h")], a_bench())
    script.tell(a_moment(0.0))
    assert untold([script]) == (
        "The run was over before this fault came: lid-off in hold after 10 h: The lid is off.\n"
    )
    assert untold([]) == ""


def test_a_fault_is_shown_when_it_comes_and_again_at_the_end_if_nothing_told() -> None:
    script, said = FaultScript([parse_fault("lid-off@melt+10s")], a_bench()), list[str]()
    (shown,) = shown_faults([script], lambda text, run_s: said.append(f"{run_s:.0f} {text}"))
    melting = an_event(EventName.PHASE_ENTERED, phase="melt")
    for run_s, told in ((0.0, [melting]), (9.0, []), (10.0, [RAISED]), (11.0, [])):
        moment = a_moment(run_s, events=tuple(told))
        script.tell(moment)
        shown.tell(moment)
    assert said == ["10 broken on the bench: lid-off in melt after 10 s: The lid is off."]
    assert untold([shown]) == (
        "No alarm and no trip came after this fault: lid-off in melt after 10 s: The lid is off.\n"
    )


@pytest.mark.parametrize("name", [EventName.ALARM_RAISED, EventName.TRIP_LATCHED])
def test_of_a_fault_that_was_told_nothing_is_said_at_the_end(name: EventName) -> None:
    script = FaultScript([parse_fault("lid-off")], a_bench())
    (shown,) = shown_faults([script], lambda _text, _run_s: None)
    for moment in (a_moment(0.0), a_moment(1.0, events=(an_event(name, cause="level-lost"),))):
        script.tell(moment)
        shown.tell(moment)
    assert untold([shown]) == ""
