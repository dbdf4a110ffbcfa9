"""What an ordeal prints."""

import json
import math
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import pytest
from scipy.stats import chi2

from controller.core.profile import Action, Kind
from controller.trials.ordeal_summary import (
    Tried,
    cells,
    faults_text,
    rate_bound,
    replay_text,
    rough_text,
    tried_of,
)
from controller.trials.ordeal_watch import Found
from controller.trials.ordeal_welded import welded_text
from tests.helpers.scene import phase, profile, question

if TYPE_CHECKING:
    from controller.report.table import Row


def a_find(**changes: object) -> Found:
    """A relay that welded in hold and was seen after 70 s."""
    facts: dict[str, object] = {
        "fault": "relay-welded",
        "size": math.nan,
        "phase": "hold",
        "after_s": 30.0,
        "cause": "relay-stuck-on",
        "told_s": 60.0,
        "inhibited_s": 70.0,
        "trip_s": 72.0,
        "said": {"relay-stuck-on": 60.0},
        "bath_max_c": 38.0,
        "bowl_max_c": 33.5,
    }
    changes = {"leg": changes.get("phase", facts["phase"])} | changes  # as in `dark`
    return Found(**(facts | changes))  # type: ignore[arg-type] # as named


def tried(fittings: str = "", /, **changes: object) -> Tried:
    """It, on a machine."""
    fitted = frozenset(fittings.split())
    return Tried(machine="drawn-1-7", fittings=fitted, found=a_find(**changes))


def test_a_row_gives_counts_times_and_peaks() -> None:
    many = [tried(), tried(inhibited_s=10.0, trip_s=math.nan), tried(cause="level-lost")]
    assert cells(many) == (
        *("3", "3", "2"),
        "60",
        *("70", "70", "70"),
        *("72", "72", "72"),
        *("38.0", "33.5", "0"),
    )


def test_a_machine_that_can_see_it_is_told_apart_from_one_that_cant() -> None:
    stopped: dict[str, Any] = {"fault": "stirrer-stopped", "cause": "", "inhibited_s": math.nan}
    text = faults_text([tried(**stopped), tried("shaft", **stopped)], "dark")
    can, hidden = text.split("What they can't")
    assert "stirrer-stopped                1     0     0" in can
    assert "stirrer-stopped                1     0     0" in hidden
    assert "Seen 0 of 1 (0.0%)" in text


def test_a_welded_relay_behind_a_second_switch_is_judged_by_cap_and_chocolate() -> None:
    asked = (question(action=Action.SET_TEST),)
    hold = phase(name="hold", bath_ceiling_c=34.0, bath_cut_c=37.0, questions=asked)
    dark = profile(phase(), hold, kind=Kind.DARK)
    held = tried("second-switch", bath_max_c=37.5, bowl_max_c=33.0)
    worse = tried("second-switch level", bath_max_c=36.0, bowl_max_c=33.2)
    others = [tried(bath_max_c=60.0), tried("second-switch", phase="melt", bath_max_c=60.0)]
    text = welded_text([held, worse, *others], dark)
    assert text == (
        "Relay welded in hold with a second switch, 2 times: bath at most +1.5 K over its cap of "
        "36 °C; chocolate at most 33.2 °C (gone at 33.8 °C), at most 33.1 °C in 1 of 2 (50.0%).\n"
    )
    assert welded_text(others, dark) == ""
    liquid = welded_text([held], profile(phase(), phase(name="hold"), kind=Kind.DARK))
    assert liquid.endswith("; chocolate at most 33.0 °C.\n")


def test_what_is_due_goes_by_what_a_phase_does() -> None:
    dead: dict[str, Any] = {"fault": "heater-dead", "phase": "seed"}
    assert not tried(**dead, leg="cool").is_due
    assert not tried(phase="warm", leg="melt").is_due
    assert tried(phase="warm", leg="hold").is_due


def test_advice_that_something_was_added_is_not_the_word_for_a_thermometer_that_creeps() -> None:
    assert not tried(fault="bowl-probe-drift", cause="bowl-disturbed").is_right
    assert tried(fault="bowl-probe-offset", cause="bowl-disturbed").is_right


HARM: dict[str, Any] = {"harm": "burnt", "harm_s": 59.0}
SET: dict[str, Any] = {"harm": "set", "harm_s": 59.0, "said": {"level-lost": 10.0}}


@pytest.mark.parametrize(
    ("changes", "is_missed"),
    [
        (HARM, True),
        (HARM | {"harm_s": 61.0}, False),
        (HARM | {"harm_s": 61.0, "said": {"level-lost": 60.0}}, True),
        (HARM | {"said": {"level-lost": 20.0, "relay-stuck-on": 72.0}}, True),
        (HARM | {"said": {"relay-stuck-on": 20.0, "level-lost": 10.0}}, False),
        (HARM | {"is_heat_off": True}, False),
        (HARM | {"fault": "water-boiling"}, False),
        (HARM | {"said": {"batch-setting": 20.0}}, True),
        (SET, True),
        (SET | {"said": {"batch-setting": 59.0}}, False),
        (SET | {"said": {"batch-setting": 59.1}}, True),
        (SET | {"said": {"relay-stuck-on": 20.0}}, False),
        ({}, False),
    ],
    ids=[
        "untold",
        "told",
        "told wrongly",
        "told too late",
        "told rightly besides",
        "heat off",
        "by hand",
        "told of another harm",
        "set untold",
        "told that it sets",
        "told that it has set",
        "set and told rightly",
        "no harm",
    ],
)
def test_harm_is_missed_with_heat_on_and_nobody_told_unless_somebody_did_it(
    changes: dict[str, Any], is_missed: bool
) -> None:
    assert tried(**changes).is_missed is is_missed


def test_what_was_missed_can_be_pasted_into_a_shell() -> None:
    text = faults_text([tried(harm="burnt", harm_s=1.0)], "my dark.toml")
    assert "where it could be seen: 1.\n  bainward try 'my dark.toml' --machine drawn-1-7" in text
    one = tried("load level", fault="bath-probe-offset", size=-5.0)
    assert replay_text(one, "dark") == (
        "bainward try dark --machine drawn-1-7 --fitted level,load "
        "--fault bath-probe-offset:-5K@hold+30s"
    )
    assert replay_text(tried(fault="profile-wrong"), "dark").endswith("--fault profile-wrong")


def test_a_row_of_the_table_gives_its_finds_back() -> None:
    found = a_find()
    row: Row = {
        "machine": "drawn-1-7",
        "exit": "done",
        "fittings": "level shaft",
        "found": json.dumps([asdict(found), asdict(found)]),
    }
    (one, _) = tried_of([row])
    assert one.fittings == {"level", "shaft"}
    assert one.found.trip_s == 72.0


@pytest.mark.parametrize("count", [0, 1, 9])
def test_the_bound_on_false_trips_is_that_of_a_poisson_rate(count: int) -> None:
    # Garwood, Biometrika 28:437 (1936), by way of scipy's chi-squared distribution.
    expected = 0.5 * chi2.ppf(0.95, 2 * (count + 1))
    assert rate_bound(count, 1000.0) == pytest.approx(expected / 1000.0, rel=1e-9)
    assert rate_bound(count, 0.0) == math.inf


def test_rough_handling_is_told_in_hours_with_what_tripped_and_how_to_run_it_again() -> None:
    rows: list[Row] = [
        {
            "machine": "drawn-1-1",
            "hours": 1500.0,
            "trip": "",
            "deeds": "",
            "fittings": "",
            "told": "phase-late load-jumped phase-late",
        },
        {
            "machine": "drawn-1-2",
            "hours": 1500.0,
            "trip": "relay-stuck-on",
            "deeds": "lid-off@melt+3s/5min",
            "fittings": "load",
            "told": "relay-stuck-on",
        },
    ]
    text = rough_text(rows, "dark")
    assert text.startswith("3000 h of dark, 2 machines handled roughly: 1 tripped\n")
    assert "fewer than 1.58 false trips in 1000 h\n" in text
    alone = "\nOf them 1 left alone, for 1500 h: 0 tripped, "
    assert f"{alone}3 alarms (2 phase-late, 1 load-jumped)\n  1 relay-stuck-on\n" in text
    assert f"{alone}0 alarms\n" in rough_text([{**rows[0], "told": ""}, rows[1]], "dark")
    assert "--machine drawn-1-2 --fitted load --fault lid-off@melt+3s/5min: relay-" in text
