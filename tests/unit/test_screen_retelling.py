"""The facts from a record are those that the machine itself published at the same moment."""

from itertools import pairwise
from pathlib import Path

import pytest

from controller.core.interlock_rows import Priority
from controller.core.state import EventName, Mode, Notice, Switches
from controller.core.words import button_sentences, headline, notice_sentence, trip_sentence
from controller.files.profile_file import load_profile
from controller.journal.growing import Growing, Record
from controller.journal.records import READY_FORETOLD, Closing, Header, Note, Sample
from controller.ports import Moment
from controller.screen.retelling import OLD_AFTER_S, Retelling
from controller.view.board import Standing
from controller.view.facts import Facts, facts_of
from tests.helpers.batch import WaitingJournal, a_header, a_moment, still_clock
from tests.helpers.moments import TRIP, profile, state
from tests.helpers.records import replace
from tests.helpers.runs import bench_machine, run_on_bench
from tests.helpers.topics import told

SAME = (
    *("profile", "mode", "phase", "phases", "tripped", "set_test", "stirrer_on", "alerts"),
    *("heater_on", "heat_permitted"),
)
NEAR = {"bowl_c": 0.006, "bath_c": 0.006, "duty": 0.001, "elapsed_s": 1.0}


class Witness:
    """Keeps what was told, by run time."""

    def __init__(self) -> None:
        """Nothing told yet."""
        self.moments: dict[float, Moment] = {}

    def tell(self, moment: Moment) -> None:
        """Keep it."""
        self.moments[round(moment.state.run_s, 3)] = moment


def records_of(path: Path) -> tuple[Header, list[Record]]:
    with Growing(path) as growing:
        found: list[Record] = []
        while news := growing.news():
            found += news
        return growing.header, found


def test_a_record_says_what_the_machine_said(tmp_path: Path) -> None:
    """A whole dark batch on the bench, by its record and by its topics."""
    witness = Witness()
    finished = run_on_bench("dark", tmp_path, tellers=(witness,))
    profile = load_profile("dark", bench_machine().machine)
    header, records = records_of(finished.path)
    retelling, seen = Retelling(header), set()
    for record, after in pairwise(records):
        retelling.hear(record)
        is_whole = isinstance(record, Sample) and after.t_s > record.t_s
        if is_whole and (record.seq % 40 == 0 or retelling.facts().asked is not None):
            moment = witness.moments[round(record.t_s, 3)]
            compare(retelling.facts(), facts_of(told(moment, profile)))
            seen |= {retelling.facts().phase, retelling.facts().asked is not None}
    assert seen == {"melt", "cool", "rewarm", "hold", True, False}


def compare(ours: Facts, theirs: Facts) -> None:
    """As the topics say it, but for rounding and for what a record doesn't hold."""
    for name in SAME:
        assert getattr(ours, name) == getattr(theirs, name), name
    for name, slack in NEAR.items():
        assert getattr(ours, name) == pytest.approx(getattr(theirs, name), abs=slack), name
    if ours.asked is None or theirs.asked is None:
        assert ours.asked is theirs.asked
    else:
        assert (ours.asked.text, ours.asked.choices) == (theirs.asked.text, theirs.asked.choices)
        assert ours.headline == theirs.headline
    if ours.temper is not None:
        assert ours.temper is theirs.temper


def heard(*records: Record) -> Retelling:
    retelling = Retelling(a_header())
    for record in (a_sample(), *records):
        retelling.hear(record)
    return retelling


def a_sample(mode: Mode = Mode.RUNNING, t_s: float = 600.0) -> Sample:
    return Sample(
        seq=9,
        t_s=t_s,
        mode=mode,
        phase="melt",
        bath_c=55.0,
        bowl_c=43.21,
        bowl_setpoint_c=float("nan"),
        bath_setpoint_c=56.0,
        duty=0.5,
        heater_on=True,
        stirrer_rpm=30.0,
        shaft_rpm=None,
        load_w=None,
        heat_j=0.0,
        switches=0,
        verdict=a_moment(0.0).state.progress.verdict,
    )


def a_note(name: str, **facts: str | float | bool) -> Note:
    return Note(seq=1, t_s=60.0, name=name, phase="melt", facts=facts)


RAISED = a_note(
    EventName.ALARM_RAISED,
    cause="lid-open",
    priority="medium",
    what="The lid is open.",
    action="Close it.",
    heat_withheld=True,
)


def test_a_trip_is_told_in_the_words_of_the_run() -> None:
    facts = heard(
        a_note(EventName.QUESTION_ASKED, id="a", text="Is it?", choices="yes, no"),
        a_note(EventName.TRIP_LATCHED, cause=TRIP.cause, what=TRIP.what, action=TRIP.action),
    ).facts()
    assert facts.tripped
    assert facts.headline == trip_sentence(TRIP)
    assert [(one.cause, one.text) for one in facts.alerts] == [(TRIP.cause, trip_sentence(TRIP))]
    assert facts.heat_permitted is False
    assert facts.asked is None


def test_an_alarm_stands_until_it_returns() -> None:
    notice = Notice(
        cause="lid-open",
        priority=Priority.MEDIUM,
        at_s=60.0,
        seen_s=60.0,
        what="The lid is open.",
        action="Close it.",
        is_advice=False,
    )
    retelling = heard(RAISED, a_note(EventName.HEAT_WITHHELD, causes="lid-open"))
    facts = retelling.facts()
    assert [one.text for one in facts.alerts] == [notice_sentence(notice)]
    assert facts.headline == f"Melting: 43.2 °C. {notice_sentence(notice)}"
    assert facts.heat_permitted is False
    retelling.hear(a_note(EventName.ALARM_RETURNED, cause="lid-open"))
    retelling.hear(a_note(EventName.HEAT_PERMITTED, causes=""))
    facts = retelling.facts()
    assert facts.alerts == ()
    assert facts.heat_permitted


def test_alarm_and_trip_are_told_with_the_why_of_their_record() -> None:
    alarm = replace(RAISED, facts={**RAISED.facts, "why": "The bath dries."})
    assert heard(alarm).facts().headline == (
        "Melting: 43.2 °C. Heat is held back. The lid is open. The bath dries. Close it."
    )
    told = {"cause": "moon-too-full", "what": "It is full.", "why": "It pulls.", "action": "Wait."}
    (alert,) = heard(a_note(EventName.TRIP_LATCHED, **told)).facts().alerts
    assert alert.text == "Heat is off. It is full. It pulls. Wait."


@pytest.mark.parametrize(
    ("mode", "sentence"),
    [
        (Mode.PAUSED, "Paused: 43.2 °C"),
        (Mode.STOPPED, "Stopped: heat is off."),
        (Mode.COMPLETE, "Finished; no set test was made."),
    ],
)
def test_each_mode_has_the_sentence_of_the_run(mode: Mode, sentence: str) -> None:
    retelling = heard(a_sample(mode))
    assert retelling.facts().headline == sentence


def test_a_stop_by_its_button_is_told_in_the_words_of_the_run() -> None:
    what, action = button_sentences(Switches(is_pressed=True))
    asked = a_note(EventName.QUESTION_ASKED, id="a", text="Is it?", choices="yes, no")
    pressed = a_note(EventName.BUTTON_PRESSED, what=what, action=action)
    facts = heard(asked, pressed, a_sample(Mode.STOPPED)).facts()
    assert (facts.stop_pressed, facts.asked) == (True, None)
    pressed_state = state(mode=Mode.STOPPED, switches=Switches(is_pressed=True))
    assert facts.headline == headline(pressed_state, profile())


def test_a_lid_is_as_its_switch_said_last_and_not_as_somebody_announced() -> None:
    said = [("lid open", "switch"), ("lid closed", "keyboard"), ("lid closed", "switch")]
    retelling = heard()
    assert retelling.facts().lid_open is None
    for (deed, by), is_open in zip(said, (True, True, False), strict=True):
        retelling.hear(a_note(EventName.DEED_ANNOUNCED, deed=deed, by=by))
        assert retelling.facts().lid_open is is_open


def test_the_forecast_counts_down_and_stands_at_its_hour() -> None:
    foretold = {"early_s": 3000.0, "likely_s": 3600.0, "late_s": 4200.0}
    facts = heard(a_note(READY_FORETOLD, **foretold)).facts()
    assert facts.remaining_s == 3000.0
    assert str(facts.ready_at) == "2031-02-03 11:00:00+00:00"
    unknown = heard(a_note(READY_FORETOLD, **dict.fromkeys(foretold, float("nan")))).facts()
    assert (unknown.remaining_s, unknown.ready_at) == (None, None)


def test_before_the_first_sample_only_the_plan_is_known() -> None:
    facts = Retelling(a_header()).facts()
    assert facts.mode is None
    assert facts.phases == ("melt", "cool", "rewarm", "hold")


def test_a_record_that_does_not_grow_is_old_and_one_with_its_end_is_over() -> None:
    retelling = heard()
    assert retelling.view(OLD_AFTER_S).standing is Standing.LIVE
    assert retelling.view(OLD_AFTER_S + 0.1).standing is Standing.OLD
    retelling.hear(Closing(seq=10, t_s=601.0, outcome="complete", truth=None))
    assert retelling.is_over
    assert retelling.view(0.0).standing is Standing.OFF


def test_what_a_record_of_others_lacks_is_not_made_up(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    journal = WaitingJournal(path, header=a_header(), clock_s=still_clock)
    blind = a_moment(0.0)
    journal.tell(replace(blind, state=replace(blind.state, bowl_c=float("nan"))))
    journal.finish(None, "stopped")
    header, records = records_of(path)
    retelling = Retelling(header)
    for record in records:
        retelling.hear(record)
    assert retelling.facts().bowl_c is None
