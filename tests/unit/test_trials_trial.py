"""A trial: the same run that `bainward try` makes, counted instead of written down."""

import math
import pickle
from pathlib import Path

import pytest

from controller.core.profile import LateAction
from controller.errors import Exit, MachineFileError, ProfileError, UsageError
from controller.files.machine_file import load_machine_file
from controller.files.profile_file import load_profile
from controller.journal.reader import read_run
from controller.ports import Moment, Verdict
from controller.report.summary import summarise
from controller.trials import Outcome, Trial, run_trial
from tests.helpers.records import replace

WATER = Trial(profile="water-trial")


@pytest.fixture(scope="module")
def dark() -> Outcome:
    """A whole batch of dark chocolate."""
    return run_trial(Trial(profile="dark"))


@pytest.fixture(scope="module")
def water() -> Outcome:
    """A whole commissioning run."""
    return run_trial(WATER)


def given_up() -> Trial:
    """A batch that is stopped within a minute, since its melt may not last."""
    profile = load_profile("dark", load_machine_file(None).machine)
    melt = replace(profile.phases[0], late_after_s=60.0, late_action=LateAction.STOP)
    return Trial(profile=replace(profile, phases=(melt, *profile.phases[1:])))


class Listener:
    """A teller that keeps the last moment."""

    def __init__(self) -> None:
        """Nothing heard."""
        self.last: Moment | None = None
        self.told = 0

    def tell(self, moment: Moment) -> None:
        """Keep it."""
        self.last = moment
        self.told += 1


def test_a_batch_goes_through_its_phases_and_its_questions(dark: Outcome) -> None:
    assert dark.exit is Exit.DONE
    assert [phase.name for phase in dark.phases] == ["melt", "cool", "rewarm", "hold"]
    assert dark.questions == ("swap-water", "set-test", "finish")
    assert dark.trips == ()
    assert dark.causes == ()
    assert dark.is_in_temper
    assert dark.phase("hold").start_s < dark.ready_s < dark.lasted_s


def test_the_peaks_are_of_the_plant_and_not_of_the_thermometers(dark: Outcome) -> None:
    # Melt holds the bowl at 50 °C within 0.5 K, and asks at most 56 °C of the bath.
    assert 49.5 < dark.bowl_max_c < 50.5
    assert 53.0 < dark.bath_max_c < 57.0
    assert round(dark.bowl_max_c / 0.0625) * 0.0625 != dark.bowl_max_c  # no step of a thermometer


def test_a_written_trial_is_counted_as_its_record_is_summarised(tmp_path: Path) -> None:
    outcome = run_trial(Trial(profile="dark-seeded", machine="brisk"), journal=tmp_path / "r.jsonl")
    run = read_run(tmp_path / "r.jsonl")
    summary = summarise(run)

    assert summary.outcome == outcome.exit.word
    assert [(p.name, p.start_s, p.duration_s) for p in outcome.phases] == [
        (p.name, p.start_s, p.duration_s) for p in summary.phases
    ]
    assert outcome.melt_overshoot_k == summary.melt_overshoot_k
    assert outcome.working_overshoot_k == summary.working_overshoot_k
    assert summary.hold_band is not None
    assert outcome.hold_min_k == summary.hold_band.min_k
    assert outcome.hold_max_k == summary.hold_band.max_k
    assert outcome.hold_rms_k == pytest.approx(summary.hold_band.rms_k, rel=1e-9)
    assert (outcome.ready_s, outcome.lasted_s) == (summary.ready_s, summary.lasted_s)
    assert outcome.switches == summary.switches
    assert outcome.energy_kwh == pytest.approx(summary.energy_kwh, rel=1e-9)
    asked = [note.facts["id"] for note in run.events if note.name == "question_asked"]
    assert asked == ["kind", *outcome.questions]  # the first is no profile's own
    assert run.closing is not None
    assert run.closing.truth is not None
    assert run.closing.truth.verdict is outcome.truth.verdict
    # A record keeps four decimals.
    assert run.closing.truth.form_v == pytest.approx(outcome.truth.form_v, abs=5e-5)


def test_a_tripped_trial_is_counted_as_its_record_is_summarised(tmp_path: Path) -> None:
    trial = replace(WATER, faults=("level-lost@warm+5min",))
    outcome = run_trial(trial, journal=tmp_path / "r.jsonl")
    summary = summarise(read_run(tmp_path / "r.jsonl"))

    assert outcome.exit is Exit.TRIPPED
    assert outcome.causes == ("level-lost",)
    assert [(trip.cause, trip.at_s) for trip in outcome.trips] == [
        (trip.cause, trip.at_s) for trip in summary.trips
    ]
    assert 300.0 < outcome.trips[0].at_s < 310.0
    assert outcome.lasted_s == summary.lasted_s
    assert outcome.row()["trip"] == "level-lost"
    assert outcome.row()["trip_s"] == outcome.trips[0].at_s
    assert math.isnan(outcome.ready_s)


def test_heat_that_is_held_back_for_a_while_is_counted_in_seconds(water: Outcome) -> None:
    trial = replace(WATER, faults=("bath-probe-open@warm+5min/10s",))
    outcome = run_trial(trial)
    assert outcome.exit is Exit.DONE
    assert 9.0 <= outcome.withheld_s - water.withheld_s <= 15.0


def test_a_thermometer_that_is_off_hides_no_true_peak(water: Outcome) -> None:
    hot = run_trial(replace(WATER, faults=("bowl-probe-offset:-0.5K",)))
    assert hot.exit is Exit.DONE
    assert hot.bowl_max_c - water.bowl_max_c == pytest.approx(0.5, abs=0.15)
    assert hot.working_overshoot_k < 0.3  # by what was read


def test_the_same_trial_gives_the_same_row_and_the_same_bytes(
    water: Outcome, tmp_path: Path
) -> None:
    one = run_trial(WATER, journal=tmp_path / "one.jsonl")
    two = run_trial(WATER, journal=tmp_path / "two.jsonl")
    other = run_trial(replace(WATER, seed=2))

    assert repr(one.row()) == repr(two.row()) == repr(water.row())
    assert (tmp_path / "one.jsonl").read_bytes() == (tmp_path / "two.jsonl").read_bytes()
    assert repr(other.row()) != repr(water.row())


def test_a_trial_writes_nothing_unless_asked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    run_trial(WATER)
    assert list(tmp_path.iterdir()) == []


def test_tellers_are_told_of_each_tick() -> None:
    listener = Listener()
    outcome = run_trial(given_up(), tellers=(listener,))
    assert listener.last is not None
    assert outcome.exit is Exit.STOPPED
    assert listener.told == listener.last.state.run_s >= outcome.lasted_s  # once a second


def test_a_profile_may_be_given_as_such_or_by_its_path(water: Outcome) -> None:
    machine = load_machine_file(None).machine
    as_such = run_trial(Trial(profile=load_profile("water-trial", machine)))
    by_path = run_trial(Trial(profile=Path("profiles/water-trial.toml")))
    assert repr(water.row()) == repr(as_such.row()) == repr(by_path.row())


def test_a_cook_who_takes_longer_makes_the_run_longer(water: Outcome) -> None:
    slow = run_trial(Trial(profile="water-trial", answer_after_s=400.0))
    assert slow.lasted_s > water.lasted_s


def test_a_warm_room_wants_less_heat(water: Outcome) -> None:
    warm = run_trial(Trial(profile="water-trial", room_c=28.0))
    assert warm.energy_kwh < water.energy_kwh  # at 20 °C


def test_a_run_that_takes_too_long_is_given_up() -> None:
    outcome = run_trial(Trial(profile="dark", give_up_after_s=600.0))
    assert outcome.exit is Exit.STOPPED
    assert 600.0 <= outcome.lasted_s <= 602.0
    assert outcome.trips == ()


def test_the_other_crystal_law_gives_another_batch(dark: Outcome) -> None:
    other = run_trial(Trial(profile="dark", law="nuclei"))
    assert other.truth.form_v != dark.truth.form_v
    with pytest.raises(MachineFileError, match='no crystal law "magic"'):
        run_trial(Trial(profile="dark", law="magic"))


def test_a_drawn_machine_is_run_by_what_its_owner_wrote_down() -> None:
    first, again = (run_trial(Trial(profile="water-trial", machine="drawn-1-3")) for _ in range(2))
    other = run_trial(Trial(profile="water-trial", machine="drawn-1-1"))
    assert first.exit is Exit.DONE
    assert repr(first.row()) == repr(again.row())
    assert repr(first.row()) != repr(other.row())


def test_what_is_not_fitted_is_not_read() -> None:
    bare, full = Listener(), Listener()
    run_trial(replace(given_up(), fitted=()), tellers=(bare,))
    run_trial(replace(given_up(), fitted=("shaft", "load", "lid", "stop")), tellers=(full,))
    assert bare.last is not None
    assert full.last is not None
    assert (bare.last.shaft_rpm, bare.last.load_w) == (None, None)
    assert (bare.last.lid, bare.last.has_stop) == (None, False)
    assert None not in (full.last.shaft_rpm, full.last.load_w, full.last.lid)
    assert full.last.has_stop


def test_a_trial_goes_to_another_process_and_its_outcome_comes_back(water: Outcome) -> None:
    assert pickle.loads(pickle.dumps(WATER)) == WATER  # noqa: S301 - our own bytes
    back = pickle.loads(pickle.dumps(water))  # noqa: S301 - the same
    assert repr(back) == repr(water)


def test_what_can_t_be_tried_is_refused_in_one_sentence() -> None:
    with pytest.raises(ProfileError, match="There is no profile"):
        run_trial(Trial(profile="drak"))
    with pytest.raises(MachineFileError, match='no machine "brisc"; did you mean brisk'):
        run_trial(Trial(profile="dark", machine="brisc"))
    with pytest.raises(UsageError, match="fitted with 'horn'; name some of level, shaft, load"):
        run_trial(Trial(profile="dark", fitted=("horn",)))
    with pytest.raises(MachineFileError, match="room is at 90"):
        run_trial(Trial(profile="dark", room_c=90.0))
    with pytest.raises(UsageError, match=r"write faults=\('relay-open',\), with its comma"):
        run_trial(Trial(profile="dark", faults="relay-open"))  # type: ignore[arg-type] # as people do
    with pytest.raises(UsageError, match=r"write fitted=\('level',\), with its comma"):
        run_trial(Trial(profile="dark", fitted="level"))  # type: ignore[arg-type] # the same
    for never_s in (-1.0, math.nan):
        with pytest.raises(UsageError, match=r"can't have answer_after_s=.*; write seconds"):
            run_trial(Trial(profile="dark", answer_after_s=never_s))
        with pytest.raises(UsageError, match=r"can't have give_up_after_s=.*; write seconds"):
            run_trial(Trial(profile="dark", give_up_after_s=never_s))
    real = Path("tests/board/kitchen.toml")
    with pytest.raises(UsageError, match="A trial simulates, and machine"):
        run_trial(Trial(profile="dark", machine=real))


def test_a_phase_that_never_began_has_no_time_and_no_comparison_with_it_holds(
    dark: Outcome,
) -> None:
    with pytest.raises(KeyError, match="no phase 'bake', only melt, cool, rewarm, hold"):
        dark.phase("bake")
    stopped = run_trial(given_up())
    assert "rewarm" not in [phase.name for phase in stopped.phases]
    never = stopped.phase("rewarm")
    assert math.isnan(never.start_s)
    assert not never.duration_s <= math.inf
    assert math.isnan(stopped.ready_s)
    assert math.isnan(stopped.hold_rms_k)


def test_a_row_has_the_same_columns_however_the_trial_ends(dark: Outcome) -> None:
    stopped = run_trial(given_up())
    assert list(stopped.row()) == list(dark.row())
    assert dark.row()["exit"] == "done"
    assert dark.row()["verdict"] == Verdict.IN_TEMPER.value
    assert dark.row()["phase_melt_s"] == dark.phase("melt").duration_s
    assert math.isnan(float(stopped.row()["phase_hold_s"]))


def test_the_text_leaves_out_what_did_not_happen(dark: Outcome) -> None:
    lines = dark.text().splitlines()
    assert "exit                 done" in lines
    assert not any(line.startswith("trip") for line in lines)
    assert not any("nan" in line for line in lines)


def test_a_run_that_is_cut_off_before_its_first_tick_has_no_peaks() -> None:
    row = run_trial(Trial(profile="dark", faults=("power-cut",))).row()
    assert math.isnan(float(row["bath_max_c"]))
    assert math.isnan(float(row["bowl_max_c"]))
