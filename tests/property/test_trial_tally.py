"""A trial's count and the summary of the same run's record say the same, whatever the run does."""

import math
import tempfile
from dataclasses import dataclass
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from controller.core.profile import Verdict
from controller.core.state import Event, EventName, Mode
from controller.errors import Exit
from controller.journal.reader import read_run
from controller.journal.writer import Journal
from controller.ports import Moment, Truth
from controller.report.shapes import Summary
from controller.report.summary import summarise
from controller.trials.outcome import Outcome
from controller.trials.tally import Tally
from tests.helpers.batch import LEGS, a_header, a_moment, a_profile, an_event, still_clock
from tests.helpers.records import replace

LIVE = (Mode.RUNNING, Mode.PAUSING, Mode.PAUSED, Mode.RESUMING, Mode.STOPPING, Mode.ABORTING)
ENDS = (Mode.STOPPED, Mode.ABORTED, Mode.COMPLETE)
TRUTH = Truth(
    form_v=0.02, unstable=0.0, bowl_c=31.5, bath_c=32.0, energy_j=9e5, verdict=Verdict.IN_TEMPER
)
EVENTS = (
    an_event(EventName.TARGET_REACHED),
    an_event(EventName.TRIP_LATCHED, cause="level-lost", what="Low.", action="Fill."),
    an_event(EventName.QUESTION_ASKED, id="swap", text="Swap it."),
    an_event(EventName.DWELL_ENDED),
)


@dataclass
class Still:
    """True temperatures that nothing moves."""

    bath_c: float = 50.0
    content_c: float = 40.0


@st.composite
def runs(draw: st.DrawFn) -> list[Moment]:
    """A run of any length: phases in order, any mode and bowl temperature, events now and then."""
    moments: list[Moment] = []
    phase, run_s = 0, 0.0
    for _ in range(draw(st.integers(0, 30))):
        run_s += draw(st.sampled_from((1.0, 1.0, 1.0, 0.25, 7.0, 400.0)))
        events: list[Event] = draw(st.lists(st.sampled_from(EVENTS), max_size=2))
        if phase < len(LEGS) - 1 and draw(st.integers(0, 7)) == 0:
            phase += 1
            events.append(EVENTS[0])  # before it or after it, so of this phase or of the last
            place = draw(st.integers(0, len(events)))
            events.insert(place, an_event(EventName.PHASE_ENTERED, phase=LEGS[phase][0]))
        off_k = draw(st.sampled_from((math.nan, -3.0, -0.25, 0.0, 0.0625, 0.3, 2.0)))
        shown = a_moment(
            run_s,
            phase=phase,
            bowl_c=LEGS[phase][1] + off_k,
            mode=draw(st.sampled_from(LIVE)),
            heater_on=draw(st.booleans()),
            events=tuple(events),
        )
        asked_k = draw(st.sampled_from((0.0, 0.0, 0.1, 0.30003, 0.6, -1.0, math.nan)))
        asked = replace(shown.state.regulation, bowl_setpoint_c=LEGS[phase][1] + asked_k)
        moments.append(replace(shown, state=replace(shown.state, regulation=asked)))
    if moments:
        ended = an_event(EventName.MODE_CHANGED, before="running", after="ended")
        mode = draw(st.sampled_from(ENDS))
        lasted = [a_moment(run_s + n, phase=phase, mode=mode) for n in range(1, 9)]
        moments += [replace(lasted[0], events=(ended,)), *lasted[1:]]
    return moments


def both(moments: list[Moment]) -> tuple[Outcome, Summary]:
    """What the tally says of them, and what the summary of their record says."""
    tally = Tally(a_profile(), Still())
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "run.jsonl"
        journal = Journal(path, header=a_header(), clock_s=still_clock, patience_s=60.0)
        for moment in moments:
            journal.tell(moment)
            tally.tell(moment)
        journal.finish(TRUTH, "done")
        return tally.outcome(Exit.DONE, TRUTH), summarise(read_run(path))


def same(mine: float, theirs: float | None) -> bool:
    """Whether two figures are the same number, or both none at all."""
    return math.isnan(mine) if theirs is None else math.isclose(mine, theirs, abs_tol=1e-12)


@settings(max_examples=60, deadline=None)
@given(runs())
def test_the_tally_of_a_run_is_the_summary_of_its_record(moments: list[Moment]) -> None:
    outcome, summary = both(moments)
    band = summary.hold_band

    assert [(p.name, p.start_s, p.duration_s) for p in outcome.phases] == [
        (p.name, p.start_s, p.duration_s) for p in summary.phases
    ]
    assert same(outcome.melt_overshoot_k, summary.melt_overshoot_k)
    assert same(outcome.working_overshoot_k, summary.working_overshoot_k)
    assert same(outcome.hold_min_k, None if band is None else band.min_k)
    assert same(outcome.hold_max_k, None if band is None else band.max_k)
    assert same(outcome.hold_rms_k, None if band is None else band.rms_k)
    assert same(outcome.ready_s, summary.ready_s)
    assert outcome.lasted_s == summary.lasted_s
    assert [(t.cause, t.at_s) for t in outcome.trips] == [(t.cause, t.at_s) for t in summary.trips]
    assert outcome.switches == summary.switches
    assert same(outcome.energy_kwh, summary.energy_kwh)
