"""Two faults at a time for real: on copies of runs, and as runs of their own."""

import math
from pathlib import Path

import pytest

from controller.commands.main import main
from controller.errors import Exit
from controller.files.profile_file import load_profile
from controller.trials import Trial, run_trial
from controller.trials.ordeal import found_of, try_machine
from controller.trials.ordeal_draws import drawn_fittings, drawn_pairs
from controller.trials.ordeal_summary import Tried, replay_text
from controller.wiring import BY_WORD, machine_meant

MACHINE = "drawn-3-2"
FAULTS = ("bath-probe-slow", "stirrer-stopped", "bowl-probe-open", "bath-probe-drift")


def test_a_copy_with_two_faults_sees_what_a_run_of_its_own_with_both_sees() -> None:
    fitted = drawn_fittings(3, 2)
    found = found_of(try_machine(MACHINE, "dark", FAULTS, count=8, in_pairs=True))
    assert len(found) == 8
    both = [one for one in found if one.second and not math.isnan(one.trip_s)]
    assert len(both) > 2
    for one in both:
        text = replay_text(
            Tried(machine=MACHINE, fittings=frozenset(fitted), found=one), "dark"
        ).split()
        specs = tuple(word for at, word in enumerate(text) if text[at - 1] == "--fault")
        alone = run_trial(Trial(profile="dark", machine=MACHINE, fitted=fitted, faults=specs))
        (phase,) = [each for each in alone.phases if each.name == one.phase]
        assert len(specs) == 2
        assert alone.trips[0].cause == one.cause
        assert alone.trips[0].at_s == pytest.approx(phase.start_s + one.after_s + one.trip_s)


def test_the_second_comes_while_the_run_goes_on_or_not_at_all() -> None:
    found = found_of(try_machine(MACHINE, "dark", FAULTS, count=24, in_pairs=True))
    drawn = drawn_pairs(
        3,
        2,
        load_profile("dark", machine_meant(None).machine),
        24,
        [BY_WORD[word] for word in FAULTS],
    )
    later_s = {
        (str(one.fault), one.phase, one.after_s): one.second.later_s
        for one in drawn
        if one.second is not None
    }
    alone = 0
    for one in found:
        due_s = later_s[one.fault, one.phase, one.after_s]
        was_over = one.trip_s <= due_s
        alone += was_over
        assert bool(one.second) is not was_over
    assert 0 < alone < len(found)


def test_the_command_tries_pairs_and_says_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["--pairs", "--machines", "1", "--each", "3", "--table", str(tmp_path / "t.csv")]
    assert main(["ordeal", "water-trial", *words]) == Exit.DONE
    said = capsys.readouterr().out
    assert "3 pairs of faults on 1 machines, water-trial\nIn " in said
    assert "Relay welded" not in said  # those figures are of a relay alone


@pytest.mark.parametrize(
    ("words", "name"),
    [
        (["--pairs"], "water-trial-1-pairs-1x1"),
        (["--rough"], "water-trial-1-rough-1"),
        (["--each", "2", "--first", "3"], "water-trial-1-1x2-from-3"),
        (["--fault", "lid-off", "--fault", "water-low"], "water-trial-1-1x1-lid-off-water-low"),
    ],
)
def test_without_a_name_each_kind_of_ordeal_has_a_table_of_its_own(
    words: list[str], name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    main(["ordeal", "water-trial", "--machines", "1", "--each", "1", *words])
    folder = tmp_path / "bainward" / "ordeals"
    assert [one.name for one in folder.iterdir()] == [f"{name}.csv"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--rough"], "--rough breaks nothing, and --pairs breaks two at a time: give one."),
        (["--fault", "lid-off"], "--pairs needs two faults"),
        (["--fault", "lid-off", "--fault", "lid-off"], "--pairs needs two faults"),
        (["--fault", "lid-off", "--fault", "amount-wrong"], "--pairs needs two faults"),
    ],
)
def test_pairs_that_cant_be_drawn_are_refused_in_one_sentence(
    words: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["ordeal", "dark", "--pairs", *words]) == Exit.USAGE
    assert said in capsys.readouterr().err
