"""Made-up moments and whole runs for tests of whoever is told of them.

Responsible for plausible curves by formula; not for physics (hardware/bench).
"""

import math
from collections.abc import Iterator
from pathlib import Path

from controller.core.machine import Machine
from controller.core.profile import (
    Choice,
    Kind,
    LateAction,
    Phase,
    PowerBack,
    Profile,
    Question,
    StopStirrer,
    Verdict,
    When,
)
from controller.core.state import (
    Event,
    EventName,
    Mode,
    Progress,
    Regulation,
    State,
    Trip,
)
from controller.journal.records import Header, Identity, header_of
from controller.journal.writer import Journal
from controller.ports import Moment, Truth
from tests.helpers.records import replace

# Where each phase of the made-up batch begins and how long it lasts, s; own invention.
LEGS = (("melt", 46.0, 3000), ("cool", 27.0, 2400), ("rewarm", 31.5, 900), ("hold", 31.5, 1800))
LAG_S = 500.0
WOBBLE_K = 0.1
DRAIN_S = 60.0  # never reached unless something is wrong
LASTS_S = sum(leg[2] for leg in LEGS)
TRUTH = Truth(
    form_v=0.0123, unstable=0.0, bowl_c=31.5, bath_c=32.1, energy_j=1.8e6, verdict=Verdict.IN_TEMPER
)


def a_question(ask_id: str = "swap") -> Question:
    """A question with two answers."""
    return Question(
        id=ask_id,
        text="Swap 1.5 kg of the water for cold water.",
        when=When.START,
        bowl_c=None,
        choices=(
            Choice(word="done", adds_energy=False),
            Choice(word="no water", adds_energy=False),
        ),
        unanswered_s=None,
        unanswered=None,
    )


def a_phase(name: str, target_c: float) -> Phase:
    """A phase to `target_c`."""
    return Phase(
        name=name,
        bowl_target_c=target_c,
        tolerance_k=0.3,
        settle_s=60.0,
        dwell_s=300.0,
        rate_limit_k_per_min=None,
        bath_ceiling_c=target_c + 5.0,
        bath_cut_c=target_c + 8.0,
        stirrer_rpm=30.0,
        stir_from_c=26.0,
        pause_at_c=target_c,
        late_after_s=7200.0,
        late_action=LateAction.WARN,
        questions=(),
    )


def a_profile(legs: tuple[tuple[str, float, int], ...] = LEGS, kind: Kind = Kind.DARK) -> Profile:
    """A profile of `legs`: name, target and length of each phase."""
    return Profile(
        name="made-up",
        title="Made-up batch",
        kind=kind,
        source="invented for tests",
        bowl_never_above_c=55.0,
        bath_never_above_c=60.0,
        phases=tuple(a_phase(name, target_c) for name, target_c, _ in legs),
        stop_stirrer=StopStirrer.OFF,
        power_back=PowerBack.ASK,
        lost_probe_wait_s=30.0,
    )


def a_machine(name: str = "kitchen") -> Machine:
    """A machine of ordinary size."""
    return Machine(
        name=name,
        period_s=1.0,
        bath_max_c=65.0,
        bowl_max_c=55.0,
        water_kg=4.0,
        vessel_j_per_k=900.0,
        batch_kg=1.25,
        heater_w=500.0,
        loss_w_per_k=2.5,
        room_c=22.0,
        min_on_s=2.0,
        min_off_s=2.0,
        bath_offset_k=0.0,
        bowl_offset_k=0.0,
        has_level=False,
        has_shaft=True,
        has_load=True,
    )


def an_identity(run_id: str = "run-1", began_utc: str = "2031-02-03T10:00:00+00:00") -> Identity:
    """Who the run is."""
    return Identity(run_id=run_id, began_utc=began_utc, version="0.1.0", profile_made_of="ab12")


def a_header(
    profile: Profile | None = None,
    machine: Machine | None = None,
    identity: Identity | None = None,
) -> Header:
    """The header of a made-up run."""
    return header_of(profile or a_profile(), machine or a_machine(), identity or an_identity())


def a_moment(
    run_s: float,
    *,
    phase: int = 0,
    bowl_c: float = 31.5,
    mode: Mode = Mode.RUNNING,
    heater_on: bool = False,
    events: tuple[Event, ...] = (),
    ask: Question | None = None,
    verdict: Verdict = Verdict.NONE,
) -> Moment:
    """One tick's end."""
    return Moment(
        now_s=1000.0 + run_s,
        state=State(
            run_s=run_s,
            mode=mode,
            bath_c=bowl_c + 0.75,
            bowl_c=bowl_c,
            progress=Progress(phase=phase, ask=ask, verdict=verdict),
            regulation=Regulation(
                bowl_setpoint_c=LEGS[phase][1], bath_setpoint_c=33.25, duty=0.125
            ),
            heat_j=100.0 * run_s,
        ),
        heater_on=heater_on,
        stirrer_rpm=30.0,
        shaft_rpm=29.5,
        load_w=1.5,
        events=events,
    )


def in_trouble(
    moment: Moment, *, trips: tuple[Trip, ...] = (), withheld: tuple[str, ...] = ()
) -> Moment:
    """The same tick's end, with heat off for these reasons."""
    return replace(moment, state=replace(moment.state, trips=trips, withheld=withheld))


def an_event(name: EventName, **facts: str | float | bool) -> Event:
    """An event with facts."""
    return Event(name=name, facts=facts)


def a_batch() -> Iterator[Moment]:
    """A batch in four phases, ticked at 1 Hz, with a water swap and a set test."""
    start_s, from_c = 0, 22.0
    for index, (name, target_c, lasts_s) in enumerate(LEGS):
        for phase_s in range(lasts_s):
            fall = math.exp(-phase_s / LAG_S)
            bowl_c = target_c + (from_c - target_c) * fall
            if name == "hold":
                bowl_c = target_c + WOBBLE_K * math.sin(phase_s / 100.0)
            yield _batch_moment(index, start_s + phase_s, phase_s, bowl_c)
        start_s, from_c = start_s + lasts_s, target_c
    yield a_moment(
        float(start_s),
        phase=len(LEGS) - 1,
        mode=Mode.COMPLETE,
        verdict=Verdict.IN_TEMPER,
        events=(an_event(EventName.MODE_CHANGED, before="running", after="complete"),),
    )


def _batch_moment(index: int, run_s: int, phase_s: int, bowl_c: float) -> Moment:
    name, target_c, _ = LEGS[index]
    events = {
        ("cool", 5): (an_event(EventName.QUESTION_ASKED, id="swap", text="Swap the water."),),
        ("cool", 65): (an_event(EventName.QUESTION_ANSWERED, id="swap", choice="done"),),
        ("hold", 60): (an_event(EventName.TARGET_REACHED, phase="hold"),),
        ("hold", 400): (an_event(EventName.QUESTION_ASKED, id="test", text="Make a set test."),),
        ("hold", 900): (an_event(EventName.QUESTION_ANSWERED, id="test", choice="set"),),
    }.get((name, phase_s), ())
    if phase_s == 0:
        events = (an_event(EventName.PHASE_ENTERED, phase=name, bowl_target_c=target_c),)
    tested = name == "hold" and phase_s >= 900
    return a_moment(
        float(run_s),
        phase=index,
        bowl_c=bowl_c,
        heater_on=run_s % 10 < 3,
        events=events,
        ask=a_question() if name == "cool" and 5 <= phase_s < 65 else None,
        verdict=Verdict.IN_TEMPER if tested else Verdict.NONE,
    )


def still_clock() -> float:
    """A process clock that stands still."""
    return 0.0


class WaitingJournal(Journal):
    """A journal that is told and waits until the file holds it: for tests that look at once."""

    def tell(self, moment: Moment) -> None:
        """Note the tick and wait for the file."""
        super().tell(moment)
        assert self.drain(DRAIN_S)


def write_batch(path: Path, header: Header | None = None) -> None:
    """The whole batch, in a journal that ended in order."""
    journal = Journal(path, header=header or a_header(), clock_s=still_clock)
    for moment in a_batch():
        journal.tell(moment)
    journal.finish(TRUTH, "complete")


class HandClock:
    """A process clock moved by hand."""

    def __init__(self) -> None:
        """Begin at an odd moment."""
        self.now_s = 7.0

    def __call__(self) -> float:
        """Give the time."""
        return self.now_s
