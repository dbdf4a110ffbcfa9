"""What came of a run, from its journal alone."""

from pathlib import Path

import pytest

from controller.core.profile import Kind, Verdict
from controller.core.reasons import call_off, why
from controller.core.state import EventName, Mode
from controller.journal.reader import read_run
from controller.journal.records import Note, Run
from controller.ports import Moment
from controller.report.summary import Summary, summarise, summary_text
from tests.helpers.batch import (
    LEGS,
    TRUTH,
    WaitingJournal,
    a_header,
    a_moment,
    a_profile,
    an_event,
    still_clock,
    write_batch,
)
from tests.helpers.records import replace

MELT, COOL, REWARM, HOLD = range(4)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Where the journal is."""
    return tmp_path / "run.jsonl"


@pytest.fixture
def batch(path: Path) -> Run:
    """The made-up batch, read back."""
    write_batch(path)
    return read_run(path)


def summary_of(
    path: Path, *moments: Moment, legs: tuple[tuple[str, float, int], ...] = LEGS
) -> Summary:
    """The summary of a broken-off run of these moments, each sampled."""
    header = a_header(a_profile(legs))
    journal = WaitingJournal(path, header=header, clock_s=still_clock, sample_every_s=0.0)
    for moment in moments:
        journal.tell(moment)
    return summarise(read_run(path))


def reached(run_s: float, phase: int) -> Moment:
    """A tick in which the target was reached, right on it."""
    event = an_event(EventName.TARGET_REACHED)
    return a_moment(run_s, phase=phase, bowl_c=LEGS[phase][1], events=(event,))


def test_phases_have_their_starts_and_durations(batch: Run) -> None:
    phases = summarise(batch).phases
    assert [phase.name for phase in phases] == ["melt", "cool", "rewarm", "hold"]
    assert [phase.start_s for phase in phases] == [0.0, 3000.0, 5400.0, 6300.0]
    assert [phase.duration_s for phase in phases] == [3000.0, 2400.0, 900.0, 1800.0]
    assert [phase.target_c for phase in phases] == [46.0, 27.0, 31.5, 31.5]


def test_a_finished_machine_does_not_lengthen_the_last_phase(path: Path) -> None:
    summary = summary_of(
        path,
        a_moment(0.0),
        a_moment(10.0),
        a_moment(11.0, mode=Mode.COMPLETE),
        a_moment(500.0, mode=Mode.COMPLETE),
    )
    assert [phase.duration_s for phase in summary.phases] == [11.0]
    assert summary.lasted_s == 11.0


def test_ready_is_when_the_last_phase_reached_its_target(batch: Run) -> None:
    summary = summarise(batch)
    assert summary.ready_s == 6360.0
    assert summary.ready_utc == "2031-02-03T11:46:00+00:00"


def test_reaching_the_target_of_an_earlier_phase_is_not_ready(path: Path) -> None:
    both = (an_event(EventName.TARGET_REACHED), an_event(EventName.PHASE_ENTERED))
    summary = summary_of(path, a_moment(0.0, phase=REWARM), a_moment(1.0, phase=HOLD, events=both))
    assert summary.ready_s is None
    assert summary.ready_utc is None


def test_the_first_time_the_target_was_reached_counts(path: Path) -> None:
    assert summary_of(path, reached(5.0, HOLD), reached(9.0, HOLD)).ready_s == 5.0


def test_a_wall_time_that_is_none_gives_no_ready_time(batch: Run) -> None:
    run = replace(batch, header=replace(batch.header, began_utc="yesterday"))
    assert summarise(run).ready_utc is None
    assert "begun yesterday" in summary_text(summarise(run))


def test_overshoot_is_over_the_working_target_from_rewarm_on(path: Path) -> None:
    summary = summary_of(
        path,
        a_moment(0.0, phase=MELT, bowl_c=40.0),
        a_moment(1.0, phase=MELT, bowl_c=46.25),
        a_moment(2.0, phase=COOL, bowl_c=46.5),
        a_moment(3.0, phase=REWARM, bowl_c=27.0),
        a_moment(4.0, phase=REWARM, bowl_c=31.75),
        a_moment(5.0, phase=HOLD, bowl_c=31.6),
    )
    assert summary.melt_overshoot_k == pytest.approx(0.25)
    assert summary.working_overshoot_k == pytest.approx(0.25)


def test_coming_down_to_the_working_temperature_is_no_overshoot(path: Path) -> None:
    summary = summary_of(
        path,
        a_moment(0.0, phase=0, bowl_c=45.0),
        a_moment(1.0, phase=1, bowl_c=34.0),
        a_moment(2.0, phase=1, bowl_c=31.4),
        a_moment(3.0, phase=1, bowl_c=31.7),
        legs=(LEGS[MELT], LEGS[HOLD]),
    )
    assert summary.working_overshoot_k == pytest.approx(0.2)
    assert summary.melt_overshoot_k == 0.0


def test_a_run_that_never_got_warm_again_has_no_overshoot(path: Path) -> None:
    assert summary_of(path, a_moment(0.0, bowl_c=40.0)).working_overshoot_k is None


def test_the_hold_band_begins_when_ready_and_leaves_out_pauses(path: Path) -> None:
    summary = summary_of(
        path,
        a_moment(0.0, phase=HOLD, bowl_c=30.0),
        reached(1.0, HOLD),
        a_moment(2.0, phase=HOLD, bowl_c=31.4),
        a_moment(3.0, phase=HOLD, bowl_c=31.7),
        a_moment(4.0, phase=HOLD, bowl_c=float("nan")),
        a_moment(5.0, phase=HOLD, bowl_c=32.5, mode=Mode.PAUSED),
    )
    assert summary.hold_band is not None
    assert summary.hold_band.min_k == pytest.approx(-0.1)
    assert summary.hold_band.max_k == pytest.approx(0.2)
    assert summary.hold_band.rms_k == pytest.approx((0.05 / 3) ** 0.5)


def test_a_warm_step_is_neither_overshoot_nor_deviation_and_a_way_back_is_no_hold(
    path: Path,
) -> None:
    def warm(moment: Moment) -> Moment:
        asked = replace(moment.state.regulation, bowl_setpoint_c=31.8)
        return replace(moment, state=replace(moment.state, regulation=asked))

    summary = summary_of(
        path,
        a_moment(0.0, phase=HOLD, bowl_c=31.4),
        reached(1.0, HOLD),
        warm(a_moment(2.0, phase=HOLD, bowl_c=31.5)),
        warm(a_moment(60.0, phase=HOLD, bowl_c=31.9)),
        a_moment(70.0, phase=MELT, bowl_c=46.0),  # a cook had it melted again
    )
    assert summary.working_overshoot_k == pytest.approx(0.1)
    assert summary.warmed_k == pytest.approx(0.3)
    assert summary.hold_band is not None
    assert (summary.hold_band.min_k, summary.hold_band.max_k) == pytest.approx((0.0, 0.1))


def test_a_hold_without_one_good_reading_has_no_band(path: Path) -> None:
    ready = a_moment(1.0, phase=HOLD, bowl_c=float("nan"), events=reached(1.0, HOLD).events)
    assert summary_of(path, ready).hold_band is None


def test_trips_are_listed_with_cause_what_and_action(path: Path) -> None:
    facts = {"cause": "level-lost", "what": "The water is low.", "action": "Fill it up."}
    trip = an_event(EventName.TRIP_LATCHED, **facts)
    bare = an_event(EventName.TRIP_LATCHED)
    summary = summary_of(path, a_moment(0.0), a_moment(62.0, events=(trip, bare)))
    first, second = summary.trips
    assert (first.at_s, first.cause) == (62.0, "level-lost")
    assert (second.cause, second.what, second.action) == ("", "", "")
    text = summary_text(summary)
    assert (
        "Trip       0:01:02 level lost\n           The water is low.\n"
        f"           {why('level-lost')}\n           Fill it up.\n"
        f"           Call the batch off? {call_off('level-lost')}\n" in text
    )
    assert "none" not in text


def test_a_trip_is_explained_as_its_record_has_it(path: Path) -> None:
    facts = {"cause": "level-lost", "what": "Low.", "why": "It glows.", "action": "Fill it."}
    summary = summary_of(path, a_moment(0.0, events=(an_event(EventName.TRIP_LATCHED, **facts),)))
    assert [trip.why for trip in summary.trips] == ["It glows."]
    assert "           Low.\n           It glows.\n           Fill it.\n" in summary_text(summary)


def test_heat_is_counted_in_kilowatt_hours_and_switches_as_the_journal_counted(
    batch: Run,
) -> None:
    summary = summarise(batch)
    assert summary.heat_asked_kwh == pytest.approx(810_000 / 3.6e6)
    assert summary.energy_kwh == pytest.approx(0.5)
    assert summary.switches == 1620


def test_the_crystals_come_from_the_bench_alone(batch: Run) -> None:
    crystals = summarise(batch).crystals
    assert crystals is not None
    assert crystals.form_v_percent == pytest.approx(1.23)
    assert crystals.verdict is Verdict.IN_TEMPER
    assert batch.closing is not None
    summary = summarise(replace(batch, closing=replace(batch.closing, truth=None)))
    assert summary.crystals is None
    assert summary.energy_kwh is None
    assert "Crystals" not in summary_text(summary)
    assert "kWh used" not in summary_text(summary)


def test_a_run_that_broke_off_at_once_has_a_summary(path: Path) -> None:
    summary = summary_of(path)
    assert summary.phases == ()
    assert summary.outcome is None
    text = summary_text(summary)
    assert "broke off: the record has no end, after 0 s" in text
    assert "Trips      none in what is left of the record\n" in text
    assert "Ready      never" in text
    assert "Overshoot  not known" in text
    assert "Hold       never held at 31.5 °C" in text
    assert "Set test   not made" in text


def test_a_torn_record_says_so(batch: Run) -> None:
    assert "damaged line" in summary_text(summarise(replace(batch, torn=True)))
    assert "damaged line" not in summary_text(summarise(batch))


def test_water_has_no_crystals_and_no_set_test(path: Path) -> None:
    header = a_header(a_profile(kind=Kind.WATER))
    journal = WaitingJournal(path, header=header, clock_s=still_clock)
    journal.tell(a_moment(0.0))
    journal.finish(TRUTH, "complete")
    text = summary_text(summarise(read_run(path)))
    assert "Set test" not in text
    assert "Crystals" not in text


def test_the_text_reads_well(batch: Run) -> None:
    assert summary_text(summarise(batch)) == (
        "Run        run-1, begun 2031-02-03 10:00 UTC\n"
        "Profile    Made-up batch\n"
        "Machine    kitchen, 1.25 kg in the bowl\n"
        "Outcome    complete, after 2 h 15 min\n"
        "\n"
        "Phase      began at    lasted        bowl to\n"
        "melt       0:00:00     50 min        46.0 °C\n"
        "cool       0:50:00     40 min        27.0 °C\n"
        "rewarm     1:30:00     15 min        31.5 °C\n"
        "hold       1:45:00     30 min        31.5 °C\n"
        "\n"
        "Ready      after 1 h 46 min, at 2031-02-03 11:46 UTC\n"
        "Overshoot  melt 0.00 K, working temperature 0.10 K\n"
        "Hold       -0.10 K to +0.10 K around 31.5 °C, 0.07 K root mean square\n"
        "Set test   in temper\n"
        "Crystals   in temper: 1.23 % of the fat in form V, 0.00 % unstable"
        " (only a bench can know)\n"
        "Heat       0.225 kWh asked for, 0.500 kWh used; the relay switched 1620 times\n"
        "Trips      none\n"
    )


@pytest.mark.parametrize(
    ("is_bench", "said"),
    [
        (True, "in temper; answered sooner than a smear takes to set, as a bench can\n"),
        (False, "in temper; answered sooner than a smear takes to set\n"),
    ],
)
def test_a_set_test_that_was_answered_too_soon_is_marked(
    batch: Run, is_bench: bool, said: str
) -> None:
    assert not summarise(batch).is_test_soon
    facts: dict[str, str | float | bool] = {"action": "set-test", "soon": True}
    soon = Note(seq=9999, t_s=6400.0, name="question_answered", phase="hold", facts=facts)
    summary = summarise(replace(batch, events=(*batch.events, soon)))
    assert summary.crystals is not None
    shown = summary if is_bench else replace(summary, crystals=None)
    assert f"Set test   {said}" in summary_text(shown)


def test_an_outcome_that_the_set_test_does_not_explain_says_what_does(batch: Run) -> None:
    summary = replace(summarise(batch), outcome="not-in-temper")
    why = "Outcome    not in temper, after 2 h 15 min; the set test was good, and what became"
    assert why in summary_text(summary)
    assert "the set test was" not in summary_text(replace(summary, verdict=Verdict.NOT_IN_TEMPER))


def test_the_text_speaks_fahrenheit_for_temperatures_and_spans(batch: Run) -> None:
    text = summary_text(summarise(batch), fahrenheit=True)
    # By the definition of the scale: 46 °C is 114.8 °F, a span of 0.1 K is 0.18 °F.
    assert "114.8 °F" in text
    assert "-0.18 °F to +0.18 °F around 88.7 °F" in text
    assert "°C" not in text
    assert " K" not in text
