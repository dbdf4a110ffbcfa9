"""What a run's record keeps of the temper estimate, and how a cut run goes on from it."""

import math
from pathlib import Path

import pytest

from controller.core.batches import TemperState
from controller.core.kept_temper import KeptTemper, facts_of, restored
from controller.core.recovery import Decision, decide
from controller.core.recovery_rows import Cut, Now
from controller.core.tempering import Temper, Unseen
from controller.core.words import headline
from controller.journal.cut import CutRun, cut_of
from controller.journal.judging import EVERY_S, Judging
from controller.journal.reader import read_run
from controller.journal.records import TEMPER_JUDGED, Identity, Note, Run
from controller.journal.writer import Journal
from controller.link.tree import tree
from controller.report.summary import summarise, summary_text
from tests.helpers.batch import a_header, a_machine, a_moment, a_profile, a_question, still_clock
from tests.helpers.moments import moment, state
from tests.helpers.moments import profile as told_profile
from tests.helpers.records import replace
from tests.helpers.tempers import COOL, HOLD, Batch


@pytest.fixture(scope="module")
def tempered() -> Batch:
    """A batch in the middle of being in temper."""
    batch = Batch().melted()
    batch.go(28.0, 8.0, phase=COOL)
    for step in range(1, 11):
        batch.solid = 0.002 * step
        batch.go(31.8, 1.0, phase=HOLD)
    batch.go(31.8, 5.0)
    return batch


def recorded(path: Path, *told: tuple[float, TemperState], phase: int = 1) -> Run:
    """The record of a run with these estimates."""
    journal = Journal(path, header=a_header(), clock_s=still_clock)
    for run_s, temper in told:
        given = a_moment(run_s)
        progress = replace(given.state.progress, phase=phase)
        journal.tell(
            replace(
                given,
                state=replace(
                    given.state, temper=temper, progress=progress, bowl_c=30.0 + 0.01 * run_s
                ),
            )
        )
    journal.finish(None, "stopped")
    return read_run(path)


def test_an_estimate_is_noted_each_minute_and_whenever_its_verdict_changes(
    tempered: Batch,
) -> None:
    judging, good = Judging(), tempered.temper
    over = replace(good, verdict=Temper.OVER)
    assert judging.is_due(good, 1, 100.0)
    assert not judging.is_due(good, 1, 100.0 + EVERY_S)
    assert not judging.is_due(replace(good), 1, 99.0 + EVERY_S)
    assert judging.is_due(replace(good), 1, 100.0 + EVERY_S)
    assert judging.is_due(over, 1, 101.0 + EVERY_S)


def test_nothing_is_noted_while_it_melts_nor_of_what_has_no_temper(tempered: Batch) -> None:
    assert not Judging().is_due(tempered.temper, 0, 100.0)
    assert not Judging().is_due(TemperState(), 1, 100.0)


def test_the_summary_has_the_last_estimate_and_how_sure_it_was(
    tmp_path: Path, tempered: Batch
) -> None:
    over = replace(tempered.temper, verdict=Temper.OVER, confidence=0.912, why="It is thick.")
    run = recorded(tmp_path / "run.jsonl", (10.0, tempered.temper), (50.0, over))
    assert [note.name for note in run.events].count(TEMPER_JUDGED) == 2
    judged = summarise(run).judged
    assert judged is not None
    assert (judged.verdict, judged.confidence, judged.said_s) == (Temper.OVER, 0.912, 50.0)
    assert "91% sure, 0:00:50: It is thick." in summary_text(summarise(run))


def test_a_record_without_an_estimate_has_none(tmp_path: Path) -> None:
    run = recorded(tmp_path / "run.jsonl", (10.0, TemperState()))
    assert summarise(run).judged is None
    assert "Estimate" not in summary_text(summarise(run))


def test_what_is_kept_brings_the_estimate_back(tempered: Batch) -> None:
    before = tempered.temper
    kept = KeptTemper(facts=facts_of(before), bowl_c=31.8, age_s=0.0)
    again = restored(kept, 0.0)
    assert again is not None
    batch = Batch(temper=again, phase=HOLD, has_load=False)
    after = batch.go(31.8, 0.5)
    assert after.verdict is Temper.IN_TEMPER
    assert after.form_v[1] == pytest.approx(before.form_v[1], rel=0.2)
    assert after.form_v[2] == pytest.approx(before.form_v[2], rel=0.25)
    assert after.form_v[0] < 0.95 * after.form_v[1] < 0.9 * after.form_v[2]
    assert after.melt.level == pytest.approx(before.melt.level)
    assert after.melt.at_rpm == before.melt.at_rpm


def test_the_gap_goes_on_in_the_estimate(tempered: Batch) -> None:
    kept = KeptTemper(facts=facts_of(tempered.temper), bowl_c=38.0, age_s=0.0)
    grown = []
    for age_s in (0.0, 600.0):
        again = restored(replace(kept, age_s=age_s), 0.0)
        assert again is not None
        grown.append(Batch(temper=again, phase=HOLD, has_load=False).go(31.8, 0.5).form_v[1])
    assert grown[1] < 0.7 * grown[0]


@pytest.mark.parametrize(
    "changes",
    [
        {"unseen": Unseen.BLIND.value},
        {"form_v_percent": math.nan},
        {"melt_level": "much"},
        {"sites_share": True},
    ],
)
def test_a_record_with_too_little_brings_nothing_back(
    changes: dict[str, str | float | bool], tempered: Batch
) -> None:
    facts = facts_of(tempered.temper) | changes
    assert restored(KeptTemper(facts=facts, bowl_c=31.8, age_s=0.0), 0.0) is None
    del facts["unseen"]
    assert restored(KeptTemper(facts=facts, bowl_c=31.8, age_s=0.0), 0.0) is None


def decided(temper: KeptTemper | None, gap_s: float | None, phase: int = HOLD) -> Decision:
    """What is offered for a run that was cut while it held, or while it cooled."""
    was_c, is_c = (31.5, 31.0) if phase == HOLD else (34.0, 33.8)
    cut = Cut(phase=phase, bath_c=was_c, bowl_c=was_c, hottest_c=was_c, temper=temper)
    now = Now(bath_c=is_c, bowl_c=is_c, gap_s=gap_s, boots=1)
    return decide(cut, now, a_profile(), a_machine())


def test_a_run_goes_on_with_its_estimate_over_a_gap_that_is_known_and_no_other(
    tempered: Batch,
) -> None:
    kept = KeptTemper(facts=facts_of(tempered.temper), bowl_c=31.8, age_s=3.0)
    known = decided(kept, 240.0).beginning
    assert known.temper is not None
    assert known.temper.at_s == -243.0
    assert decided(kept, None).beginning.temper is None
    assert decided(kept, 120.0, COOL).beginning.temper is not None
    unknown = decided(kept, None, COOL)
    assert unknown.beginning.phase == COOL
    assert unknown.beginning.temper is None
    assert decided(None, 240.0).beginning.temper is None


def test_a_cut_record_gives_what_was_last_noted_and_how_old_it_is(
    tmp_path: Path, tempered: Batch
) -> None:
    run = recorded(tmp_path / "run.jsonl", (10.0, tempered.temper), (34.0, tempered.temper))
    header = replace(run.header, profile_made_of="p", machine_made_of="m")
    identity = Identity(
        run_id="next",
        began_utc="",
        version=header.version,
        profile_made_of="p",
        machine_made_of="m",
    )
    found = cut_of(CutRun(runs=(replace(run, header=header),)), a_profile(), identity)
    assert found.temper is not None
    assert found.temper.age_s == 24.0
    assert found.temper.bowl_c == 30.1  # as it was noted
    assert found.temper.facts["verdict"] == "in-temper"


def test_the_headline_says_how_sure_it_is_and_the_set_test_is_said_without(
    tempered: Batch,
) -> None:
    given = state(phase=1, reached=True, temper=replace(tempered.temper, confidence=0.924))
    assert "in temper (92 % sure)" in headline(given, told_profile())
    for nothing in (TemperState(), replace(tempered.temper, verdict=Temper.UNKNOWN)):
        assert "sure" not in headline(replace(given, temper=nothing), told_profile())


def test_the_tree_shows_verdict_confidence_and_why(tempered: Batch) -> None:
    rows = {row.path: row for row in tree(told_profile(), run_id="r")}
    given = moment(state(temper=replace(tempered.temper, confidence=0.924)))
    assert rows["temper/verdict"].value(given) == "in-temper"
    assert rows["temper/confidence"].value(given) == "92"
    assert rows["temper/why"].value(given) == tempered.temper.why
    assert rows["temper/set-test"].value(given) == "none"


def test_milk_is_brought_back_on_its_own_scale(tempered: Batch) -> None:
    kept = KeptTemper(facts=facts_of(tempered.temper), bowl_c=30.0, age_s=3.0)
    again = restored(kept, 1.5)
    assert again is not None
    assert again.dark_c == 31.5


def test_what_was_answered_before_the_run_went_back_to_a_phase_is_asked_again(
    tmp_path: Path, tempered: Batch
) -> None:
    run = recorded(tmp_path / "run.jsonl", (10.0, tempered.temper), (34.0, tempered.temper))
    plain = a_profile()
    ask = a_question()
    phase = replace(plain.phases[1], questions=(ask,))
    profile = replace(plain, phases=(plain.phases[0], phase, *plain.phases[2:]))
    note = run.events[0]

    def entered(at_s: float, name: str = phase.name) -> Note:
        return replace(note, t_s=at_s, name="phase_entered", phase=name, facts={"phase": name})

    facts: dict[str, str | float | bool] = {"id": ask.id, "choice": ask.choices[0].word}
    answer = replace(note, t_s=20.0, name="question_answered", phase=phase.name, facts=facts)
    header = replace(run.header, profile_made_of="p", machine_made_of="m")
    samples = tuple(replace(one, phase=phase.name) for one in run.samples)
    made_of = {"profile_made_of": "p", "machine_made_of": "m"}
    identity = Identity(run_id="next", began_utc="", version=header.version, **made_of)

    def answered(*runs: tuple[Note, ...]) -> frozenset[str]:
        cut = CutRun(
            runs=tuple(replace(run, header=header, samples=samples, events=one) for one in runs)
        )
        return cut_of(cut, profile, identity).answered

    start = entered(0.0, "start")
    assert answered((start, entered(5.0), answer)) == {ask.id}
    assert answered((start, entered(5.0), answer, entered(30.0))) == frozenset()
    # A run that was cut in the phase and gone on with ...
    assert answered((start, entered(5.0), answer), (entered(0.0),)) == {ask.id}
    # ... or in a later one, from which it went back.
    assert answered((start, entered(5.0), answer), (start, entered(8.0))) == frozenset()
