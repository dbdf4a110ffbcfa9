"""Any run comes back as it was told, and damage never passes for a record."""

import math
import tempfile
from collections.abc import Sequence
from functools import cache
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from controller.core.profile import Verdict
from controller.core.state import Event, EventName, Mode, Progress, Regulation, State
from controller.errors import RecordError
from controller.journal.reader import read_run
from controller.journal.records import Run, Sample
from controller.journal.writer import Journal
from controller.ports import Moment, Truth
from tests.helpers.batch import TRUTH, a_header, a_moment, an_event, still_clock

PHASES = [plan.name for plan in a_header().phases]
ANY = st.floats(allow_nan=True, allow_infinity=True)
TEXT = st.text(st.characters(codec=None), max_size=12)  # lone surrogates among them
FACTS = st.dictionaries(TEXT, st.one_of(TEXT, ANY, st.booleans()), max_size=3)
EVENTS = st.lists(st.builds(Event, name=st.sampled_from(EventName), facts=FACTS), max_size=3).map(
    tuple
)
STATES = st.builds(
    State,
    run_s=st.floats(0.0, 1e6),
    mode=st.sampled_from(Mode),
    bath_c=ANY,
    bowl_c=ANY,
    progress=st.builds(
        Progress,
        phase=st.integers(0, len(PHASES) - 1),
        verdict=st.sampled_from(Verdict),
    ),
    regulation=st.builds(Regulation, bowl_setpoint_c=ANY, bath_setpoint_c=ANY, duty=ANY),
    heat_j=ANY,
)
MOMENTS = st.lists(
    st.builds(
        Moment,
        now_s=ANY,
        state=STATES,
        heater_on=st.booleans(),
        stirrer_rpm=ANY,
        shaft_rpm=st.none() | ANY,
        load_w=st.none() | ANY,
        events=EVENTS,
    ),
    max_size=6,
)
TRUTHS = st.none() | st.builds(
    Truth,
    form_v=ANY,
    unstable=ANY,
    bowl_c=ANY,
    bath_c=ANY,
    energy_j=ANY,
    verdict=st.sampled_from(Verdict),
)


def written(
    moments: Sequence[Moment], truth: Truth | None, outcome: str, signal: str = ""
) -> bytes:
    """The bytes of a finished run in which every tick is sampled."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "run.jsonl"
        journal = Journal(path, header=a_header(), clock_s=still_clock, sample_every_s=-1e9)
        for moment in moments:
            journal.tell(moment)
        journal.finish(truth, outcome, signal)
        assert journal.failure is None
        return path.read_bytes()


def read_back(data: bytes) -> Run:
    """The run in these bytes."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "run.jsonl"
        path.write_bytes(data)
        return read_run(path)


def same(read: float | None, told: float | None, digits: int) -> bool:
    """Whether `read` is `told` as the journal rounds it; no number comes back as none."""
    if told is None or not math.isfinite(told):
        return read is None or math.isnan(read)
    return read == float(f"{told:.{digits}f}")


def assert_same(sample: Sample, moment: Moment) -> None:
    """Compare all that a sample keeps."""
    state = moment.state
    assert same(sample.t_s, state.run_s, 3)
    assert sample.mode is state.mode
    assert sample.phase == PHASES[state.progress.phase]
    assert same(sample.bath_c, state.bath_c, 4)
    assert same(sample.bowl_c, state.bowl_c, 4)
    assert same(sample.bowl_setpoint_c, state.regulation.bowl_setpoint_c, 4)
    assert same(sample.bath_setpoint_c, state.regulation.bath_setpoint_c, 4)
    assert same(sample.duty, state.regulation.duty, 4)
    assert sample.heater_on is moment.heater_on
    assert same(sample.stirrer_rpm, moment.stirrer_rpm, 3)
    assert same(sample.shaft_rpm, moment.shaft_rpm, 3)
    assert same(sample.load_w, moment.load_w, 4)
    assert same(sample.heat_j, state.heat_j, 3)
    assert sample.verdict is state.progress.verdict


@settings(deadline=None)  # it syncs to a real disk, which others use too
@given(moments=MOMENTS, truth=TRUTHS, outcome=TEXT, signal=st.sampled_from(["", "SIGTERM"]))
def test_any_run_comes_back_as_it_was_told(
    moments: list[Moment], truth: Truth | None, outcome: str, signal: str
) -> None:
    run = read_back(written(moments, truth, outcome, signal))
    assert not run.torn
    assert run.header == a_header()
    assert len(run.samples) == len(moments)
    for sample, moment in zip(run.samples, moments, strict=True):
        assert_same(sample, moment)
    told = [(event, moment.state.run_s) for moment in moments for event in moment.events]
    assert [note.name for note in run.events] == [event.name for event, _ in told]
    assert all(
        note.facts.keys() == event.facts.keys()
        for note, (event, _) in zip(run.events, told, strict=True)
    )
    assert run.closing is not None
    assert run.closing.outcome == outcome
    assert run.closing.signal == signal
    assert (run.closing.truth is None) == (truth is None)
    if truth is not None and run.closing.truth is not None:
        assert same(run.closing.truth.energy_j, truth.energy_j, 4)


@settings(deadline=None)  # it syncs to a real disk, which others use too
@given(moments=MOMENTS)
def test_the_same_moments_give_the_same_bytes(moments: list[Moment]) -> None:
    assert written(moments, TRUTH, "complete") == written(moments, TRUTH, "complete")


@cache
def short_run() -> bytes:
    """A run of five lines."""
    event = an_event(EventName.TRIP_LATCHED, cause="level-lost", what="Tief °C", bowl_c=31.25)
    moments = (a_moment(0.0), a_moment(1.0, events=(event,), heater_on=True))
    return written(moments, TRUTH, "aborted")


def is_prefix(run: Run, whole: Run) -> bool:
    """Whether all that `run` holds is the beginning of `whole`."""
    return (
        run.header == whole.header
        and run.samples == whole.samples[: len(run.samples)]
        and run.events == whole.events[: len(run.events)]
        and run.closing in {None, whole.closing}
    )


def test_a_file_cut_at_any_byte_yields_the_whole_lines_before_the_cut() -> None:
    data = short_run()
    whole = read_back(data)
    header_end = data.index(b"\n") + 1
    for cut in range(header_end, len(data)):
        run = read_back(data[:cut])
        assert is_prefix(run, whole)
        lines = data[header_end:cut].count(b"\n")
        assert len(run.samples) + len(run.events) + (run.closing is not None) == lines
        assert run.torn == (data[cut - 1 : cut] != b"\n")


@settings(max_examples=400, deadline=None)
@given(data=st.data())
def test_any_flipped_bit_is_noticed(data: st.DataObject) -> None:
    good = short_run()
    bit = data.draw(st.integers(0, 8 * len(good) - 1))
    bad = bytearray(good)
    bad[bit // 8] ^= 1 << bit % 8
    whole = read_back(good)
    try:
        run = read_back(bytes(bad))
    except RecordError:
        assert bit // 8 <= good.index(b"\n")
    else:
        assert run.torn
        assert run.closing is None
        assert is_prefix(run, whole)


@settings(deadline=None)
@given(junk=st.binary(max_size=200))
def test_junk_after_a_broken_off_run_is_never_taken_for_a_record(junk: bytes) -> None:
    data = short_run()
    broken_off = data[: data.rindex(b"\n", 0, len(data) - 1) + 1]
    run = read_back(broken_off + junk)
    assert run.torn == bool(junk)
    assert len(run.samples) == 2
