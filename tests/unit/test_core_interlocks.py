"""The table of interlocks: each row shown safe, shown unsafe, and never safe by silence."""

import math

import pytest

from controller.core.detector_rows import DETECTOR_ROWS
from controller.core.evidence import Evidence
from controller.core.heater_rows import HEATER_ROWS
from controller.core.interlocks import INTERLOCKS, Cause, Interlock, Judgement
from controller.core.self_rows import WARNINGS
from controller.core.signals import Fault, Permit, Reading, missing
from controller.core.start_rows import START_ROWS
from tests.helpers.judged import OWN, look
from tests.helpers.records import replace
from tests.helpers.scene import evidence, probe

NAN = math.nan
NEVER = math.inf

GONE = probe(NAN, raw_c=NAN, fault=Fault.NO_ANSWER, is_plausible=False)
NO_NUMBER = probe(NAN, raw_c=NAN, is_plausible=False)
ENDLESS = probe(NAN, raw_c=math.inf, is_plausible=False)
STALE = probe(NAN, raw_c=40.0, age_s=5.1, is_plausible=False)
AGELESS = probe(NAN, raw_c=40.0, age_s=NAN, is_plausible=False)
TOO_HOT = probe(NAN, raw_c=85.0, is_plausible=False)
TOO_COLD = probe(NAN, raw_c=-5.1, is_plausible=False)
DOUBTED = probe(NAN, raw_c=55.0)  # plausible, but a jump not yet believed
JUMPY = probe(40.0, jumps=11)


def said(latched: str, age_s: float = 0.0) -> Permit:
    return Permit(latched=latched, age_s=age_s, bath_c=45.0)


def only(cause: Cause, trip_after_s: float) -> Interlock:
    rows = [row for row in BASIC if row.cause is cause and row.trip_after_s(OWN) == trip_after_s]
    assert len(rows) == 1
    return rows[0]


# cause, trips after s, evidence that must fail the row, evidence at the very edge of safe
ROWS: tuple[tuple[Cause, float, tuple[Evidence, ...], tuple[Evidence, ...]], ...] = (
    (
        Cause.RELAY_STUCK_ON,
        0.0,
        (evidence(stuck_hits=3), evidence(stuck_hits=4)),
        (evidence(stuck_hits=2),),
    ),
    (
        Cause.BATH_OVER_LIMIT,
        2.0,
        (evidence(bath=probe(55.01)), evidence(bath_cut_c=NAN)),
        (evidence(bath=probe(55.0)),),
    ),
    (
        Cause.BOWL_OVER_LIMIT,
        2.0,
        (evidence(bowl=probe(58.01)), evidence(bowl_limit_c=NAN)),
        (evidence(bowl=probe(58.0)),),
    ),
    (
        Cause.BOWL_TOO_WARM,
        NEVER,
        (evidence(bowl_ahead_c=40.76), evidence(bowl_ahead_c=NAN), evidence(bowl_most_c=NAN)),
        (evidence(bowl_ahead_c=40.75), evidence(bowl_ahead_c=99.0, bowl_most_c=math.inf)),
    ),
    (Cause.BATH_PROBE_MISSING, 10.0, (evidence(bath=GONE),), ()),
    (
        Cause.BATH_PROBE_NOT_A_NUMBER,
        10.0,
        (evidence(bath=NO_NUMBER), evidence(bath=ENDLESS)),
        (),
    ),
    (
        Cause.BATH_PROBE_STALE,
        10.0,
        (evidence(bath=STALE), evidence(bath=AGELESS)),
        (evidence(bath=probe(40.0, age_s=5.0)),),
    ),
    (
        Cause.BATH_PROBE_OUT_OF_RANGE,
        5.0,
        (evidence(bath=TOO_HOT), evidence(bath=TOO_COLD)),
        (evidence(bath=probe(-5.0)), evidence(bath=probe(84.9), bath_cut_c=85.0)),
    ),
    (Cause.BATH_PROBE_JUMPING, NEVER, (evidence(bath=DOUBTED),), ()),
    (
        Cause.BATH_PROBE_JUMPING,
        0.0,
        (evidence(bath=JUMPY),),
        (evidence(bath=probe(40.0, jumps=10)),),
    ),
    (
        Cause.BATH_PROBE_FROZEN,
        0.0,
        (
            evidence(bath=probe(40.0, unchanged_s=46.0), frozen_model_k=1.1),
            evidence(bath=probe(40.0, unchanged_s=46.0), frozen_model_k=-1.1),
            evidence(bath=probe(40.0, unchanged_s=46.0, step_k=0.4), frozen_model_k=1.21),
            evidence(bath=probe(40.0, unchanged_s=46.0, step_k=3.0), frozen_model_k=1.51),
            evidence(bath=probe(40.0, unchanged_s=46.0, step_k=0.1), frozen_model_k=1.1),
            evidence(bath=probe(40.0, unchanged_s=481.0), heat_since_change_s=5.1),
            evidence(bath=probe(40.0, unchanged_s=46.0), frozen_model_k=NAN),
            evidence(bath=probe(40.0, unchanged_s=NAN), frozen_model_k=1.1),
            evidence(bath=probe(40.0, unchanged_s=481.0), heat_since_change_s=NAN),
        ),
        (
            evidence(bath=probe(40.0, unchanged_s=45.0), frozen_model_k=1.1),
            evidence(bath=probe(40.0, unchanged_s=46.0), frozen_model_k=1.0),
            evidence(bath=probe(40.0, unchanged_s=46.0, step_k=0.4), frozen_model_k=-1.19),
            evidence(bath=probe(40.0, unchanged_s=46.0, step_k=3.0), frozen_model_k=1.49),
            evidence(bath=probe(40.0, unchanged_s=480.0), heat_since_change_s=5.1),
            evidence(bath=probe(40.0, unchanged_s=481.0), heat_since_change_s=5.0),
        ),
    ),
    (Cause.BOWL_PROBE_MISSING, 10.0, (evidence(bowl=GONE),), ()),
    (
        Cause.BOWL_PROBE_NOT_A_NUMBER,
        10.0,
        (evidence(bowl=NO_NUMBER), evidence(bowl=ENDLESS)),
        (),
    ),
    (
        Cause.BOWL_PROBE_STALE,
        10.0,
        (evidence(bowl=STALE), evidence(bowl=AGELESS)),
        (evidence(bowl=probe(40.0, age_s=5.0)),),
    ),
    (
        Cause.BOWL_PROBE_OUT_OF_RANGE,
        5.0,
        (evidence(bowl=TOO_HOT), evidence(bowl=TOO_COLD)),
        (evidence(bowl=probe(-5.0)), evidence(bowl=probe(84.9), bowl_limit_c=85.0)),
    ),
    (Cause.BOWL_PROBE_JUMPING, NEVER, (evidence(bowl=DOUBTED),), ()),
    (
        Cause.BOWL_PROBE_JUMPING,
        0.0,
        (evidence(bowl=JUMPY),),
        (evidence(bowl=probe(40.0, jumps=10)),),
    ),
    (
        Cause.BOWL_PROBE_FROZEN,
        0.0,
        (
            evidence(bowl=probe(40.0, unchanged_s=901.0), bowl_heat_since_change_s=5.1),
            evidence(bowl=probe(40.0, unchanged_s=121.0), bowl_model_k=2.1),
            evidence(bowl=probe(40.0, unchanged_s=121.0), bowl_model_k=-2.1),
            evidence(bowl=probe(40.0, unchanged_s=121.0), bowl_model_k=NAN),
            evidence(bowl=probe(40.0, unchanged_s=901.0), bowl_heat_since_change_s=NAN),
            evidence(bowl=probe(40.0, unchanged_s=NAN), bowl_heat_since_change_s=5.1),
            evidence(bowl=probe(40.0, unchanged_s=NAN), bowl_model_k=2.1),
            evidence(bowl=probe(40.0, unchanged_s=901.0), bowl_lead_k=0.51),
            evidence(bowl=probe(40.0, unchanged_s=901.0), bowl_lead_k=-0.51),
            evidence(bowl=probe(40.0, unchanged_s=901.0), bowl_lead_k=NAN),
            evidence(bowl=probe(40.0, unchanged_s=NAN), bowl_lead_k=0.51),
            evidence(bowl=probe(40.0, unchanged_s=901.0, step_k=0.2), bowl_lead_k=0.61),
        ),
        (
            evidence(bowl=probe(40.0, unchanged_s=900.0), bowl_heat_since_change_s=5.1),
            evidence(bowl=probe(40.0, unchanged_s=901.0), bowl_heat_since_change_s=5.0),
            evidence(bowl=probe(40.0, unchanged_s=120.0), bowl_model_k=2.1),
            evidence(bowl=probe(40.0, unchanged_s=121.0), bowl_model_k=-2.0),
            evidence(bowl=probe(40.0, unchanged_s=901.0), bowl_lead_k=0.5),
            evidence(bowl=probe(40.0, unchanged_s=900.0), bowl_lead_k=9.0),
            evidence(bowl=probe(40.0, unchanged_s=901.0, step_k=0.2), bowl_lead_k=-0.6),
        ),
    ),
    (
        Cause.HEAT_WITHOUT_EFFECT,
        NEVER,
        (evidence(held_back_s=0.0), evidence(held_back_s=59.9)),
        (evidence(held_back_s=-1.0),),
    ),
    (
        Cause.HEAT_WITHOUT_EFFECT,
        0.0,
        (evidence(held_back_s=60.0), evidence(held_back_s=NAN)),
        (),  # less withholds by the row before
    ),
    (
        Cause.LEVEL_LOST,
        2.0,
        (
            evidence(level=None),
            evidence(level=missing()),
            evidence(level=Reading(NAN)),
            evidence(level=Reading(0.0)),
            evidence(level=Reading(1.0, age_s=5.1)),
            evidence(level=Reading(1.0, age_s=NAN)),
            evidence(level=Reading(1.0, fault=Fault.DEVICE)),
        ),
        (evidence(level=Reading(1.0, age_s=5.0)),),
    ),
    (
        Cause.STIRRER_STOPPED,
        2.0,
        (
            evidence(shaft=None),
            evidence(shaft=missing()),
            evidence(shaft=Reading(NAN)),
            evidence(shaft=Reading(8.9)),
            evidence(shaft=Reading(30.0, age_s=5.1)),
            evidence(shaft=Reading(30.0, fault=Fault.DEVICE)),
            evidence(shaft=Reading(0.0), stirring_s=NAN),
            evidence(shaft=Reading(0.0), stirring_s=5.1),
            evidence(shaft=Reading(0.0), wanted_rpm=NAN),
            evidence(shaft=Reading(0.0), wanted_rpm=0.5),
        ),
        (
            evidence(shaft=Reading(9.0)),
            evidence(shaft=Reading(0.0), stirring_s=5.0),
            evidence(shaft=Reading(0.0), wanted_rpm=0.0),
            evidence(shaft=missing(), wanted_rpm=0.0),
        ),
    ),
    (
        Cause.TICK_LATE,
        NEVER,
        (evidence(late_s=1.01), evidence(late_s=NAN), evidence(late_s=math.inf)),
        (evidence(late_s=1.0),),
    ),
    (Cause.TICK_LATE, 0.0, (evidence(late_ticks=3),), (evidence(late_ticks=2),)),
    (Cause.PHASE_LATE, 0.0, (evidence(phase_is_overdue=True),), ()),
    (
        Cause.CLOCKS_DISAGREE,
        NEVER,
        (
            evidence(clock_ahead_s=1.81),
            evidence(clock_ahead_s=-1.81),
            evidence(clock_ahead_s=NAN),
        ),
        (evidence(clock_ahead_s=1.8), evidence(clock_ahead_s=-1.8)),
    ),
    (Cause.LIMITS_CHANGED, 0.0, (evidence(limits_intact=False),), ()),
    (
        Cause.GUARD_LATCHED,
        0.0,
        (evidence(permit=None), evidence(permit=said("bath-over-cap"))),
        (evidence(permit=said("none")),),
    ),
    (
        Cause.GUARD_SILENT,
        10.0,
        (
            evidence(permit=said("none", 3.1)),
            evidence(permit=said("none", NAN)),
            evidence(permit=said("none", math.inf)),
        ),
        (evidence(permit=said("none", 3.0)),),
    ),
    (
        Cause.GUARD_PROBE_MISSING,
        60.0,
        (evidence(permit=None), evidence(permit=replace(said("none"), bath_c=NAN))),
        (evidence(permit=said("none")),),
    ),
    (
        Cause.BATCH_SETTING,
        NEVER,
        (evidence(set_share=0.061), evidence(set_share=NAN)),
        (evidence(set_share=0.06),),
    ),
    (
        Cause.RUN_TOO_LONG,
        0.0,
        (evidence(run_s=86_401.0), evidence(run_s=NAN)),
        (evidence(run_s=86_400.0),),
    ),
)

# Those that hold sensors against each other: test_core_detector_rows.py; and ourselves:
# test_core_self_rows.py; and the heater: test_core_heater_sight.py.
BASIC = [
    row for row in INTERLOCKS if row not in (*DETECTOR_ROWS, *WARNINGS, *HEATER_ROWS, *START_ROWS)
]
UNSAFE = [(cause, after, case) for cause, after, cases, _ in ROWS for case in cases]
EDGES = [(cause, after, case) for cause, after, _, cases in ROWS for case in cases]


def test_this_table_names_every_row_of_the_table_of_interlocks() -> None:
    ours = [(cause, after) for cause, after, _, _ in ROWS]
    assert sorted(ours) == sorted((row.cause, row.trip_after_s(OWN)) for row in BASIC)
    assert {row.cause for row in INTERLOCKS} == set(Cause) - {Cause.COMPUTER_BUSY}  # start only


@pytest.mark.parametrize("row", INTERLOCKS, ids=lambda row: str(row.cause))
def test_sound_evidence_passes_every_row(row: Interlock) -> None:
    assert row.safe(evidence())


def test_sound_evidence_withholds_nothing() -> None:
    given = evidence()
    assert look(given) == Judgement(
        unsafe_s=(0.0,) * len(INTERLOCKS),
        withheld=(),
        new_trips=(),
        sound=(given.heater, given.seen, given.vitals),
    )


@pytest.mark.parametrize(("cause", "after_s", "case"), UNSAFE)
def test_unsafe_evidence_withholds_heat_in_the_same_tick_unless_it_is_advice(
    cause: Cause, after_s: float, case: Evidence
) -> None:
    assert not only(cause, after_s).safe(case)
    assert (cause in look(case).withheld) is (cause is not Cause.BATCH_SETTING)


@pytest.mark.parametrize(("cause", "after_s", "case"), EDGES)
def test_evidence_at_the_edge_is_still_safe(cause: Cause, after_s: float, case: Evidence) -> None:
    assert only(cause, after_s).safe(case)
    assert look(case).withheld == ()


@pytest.mark.parametrize(("cause", "after_s", "case"), UNSAFE)
def test_a_trip_comes_exactly_after_its_delay(cause: Cause, after_s: float, case: Evidence) -> None:
    row = INTERLOCKS.index(only(cause, after_s))
    others = frozenset(str(one) for one in Cause if one is not cause)
    unsafe_s: tuple[float, ...] = ()
    tripped_at = NEVER
    for second in range(70):
        seen = look(case, unsafe_s, latched=others)
        unsafe_s = seen.unsafe_s
        if seen.new_trips:
            tripped_at = min(tripped_at, second)
    assert tripped_at == after_s
    assert unsafe_s[row] == pytest.approx(69.0)


def test_the_delay_of_a_lost_probe_is_the_profile_s() -> None:
    row = only(Cause.BOWL_PROBE_MISSING, 10.0)
    assert row.trip_after_s(replace(OWN, lost_probe_wait_s=27.0)) == 27.0


@pytest.mark.parametrize(
    ("case", "number"),
    [
        (evidence(stuck_hits=3, bath=probe(47.26)), "47.3 °C"),
        (evidence(bath=probe(56.27)), "56.3 °C"),
        (evidence(bath=probe(56.27)), "55.0 °C"),
        (evidence(bowl=probe(59.1)), "59.1 °C"),
        (evidence(bowl=probe(59.1)), "58.0 °C"),
        (evidence(bath=GONE), "does not answer"),
        (evidence(bath=STALE), "5 s"),
        (evidence(bowl=TOO_HOT), "85.0 °C"),
        (evidence(bowl=DOUBTED), "55.0 °C"),
        (evidence(bath=JUMPY), "3 K"),
        (evidence(bath=probe(40.0, unchanged_s=50.0), frozen_model_k=2.0), "50 s"),
        (
            evidence(bath=probe(40.0, unchanged_s=50.0, step_k=0.5), frozen_model_k=2.0),
            "cooled; its steps of 0.5 K are coarse",
        ),
        (
            evidence(bath=probe(40.0, unchanged_s=50.0, step_k=0.1), frozen_model_k=2.0),
            "heated or cooled.",
        ),
        (evidence(bowl=probe(40.0, unchanged_s=960.0), bowl_heat_since_change_s=9.0), "16 min"),
        (evidence(unverified_s=140.0, held_back_s=6.0), "140 s"),
        (evidence(unverified_s=141.0, held_back_s=60.0), "141 s"),
        (evidence(shaft=Reading(0.0)), "30 rpm"),
        (evidence(late_s=4.2), "4.2 s"),
        (evidence(late_ticks=3), "3 times"),
        (evidence(phase_is_overdue=True), "10 min"),
        (evidence(run_s=90_000.0), "25 h"),
    ],
)
def test_what_was_seen_is_said_with_its_number(case: Evidence, number: str) -> None:
    assert any(number in row.what(case) for row in INTERLOCKS if not row.safe(case))


@pytest.mark.parametrize(("cause", "after_s", "case"), UNSAFE)
def test_every_trip_is_one_sentence_and_says_what_to_do(
    cause: Cause, after_s: float, case: Evidence
) -> None:
    row = only(cause, after_s)
    assert row.what(case).endswith(".")
    assert row.action.endswith(".")
    assert "nan" not in row.action


@pytest.mark.parametrize("cause", [Cause.RELAY_STUCK_ON, Cause.BATH_OVER_LIMIT])
def test_a_heater_out_of_hand_means_unplug(cause: Cause) -> None:
    assert all("nplug" in row.action for row in INTERLOCKS if row.cause is cause)


def test_a_probe_that_says_nothing_is_not_called_frozen() -> None:
    lost = replace(GONE, unchanged_s=60.0)
    assert look(evidence(bath=lost, frozen_model_k=2.0)).withheld == (Cause.BATH_PROBE_MISSING,)
    lost = replace(GONE, unchanged_s=960.0)
    seen = look(evidence(bowl=lost, bowl_heat_since_change_s=9.0))
    assert seen.withheld == (Cause.BOWL_PROBE_MISSING,)
