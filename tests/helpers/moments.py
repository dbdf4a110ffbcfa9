"""Profiles and moments for tests, with every field a test doesn't care about filled in.

Responsible for plausible defaults (own invention); not for any expectation.
"""

from typing import Any

from controller.core.profile import (
    Choice,
    Kind,
    LateAction,
    Phase,
    PowerBack,
    Profile,
    Question,
    StopStirrer,
    Then,
    Verdict,
    When,
)
from controller.core.state import Mode, Progress, Regulation, State, Trip
from controller.ports import Moment
from tests.helpers.records import replace

SET_TEST = Question(
    id="set-test",
    text="Dip a knife tip. Is it firm and shiny after five minutes?",
    when=When.DWELLED,
    bowl_c=None,
    choices=(
        Choice(word="yes", adds_energy=False, verdict=Verdict.IN_TEMPER),
        Choice(word="no", adds_energy=False, verdict=Verdict.NOT_IN_TEMPER, then=Then.STOP),
        Choice(word="warm-on", adds_energy=True),
    ),
    unanswered_s=None,
    unanswered=None,
)

TRIP = Trip(
    cause="level-lost",
    at_s=600.0,
    what="The level switch sees no water over the heater.",
    action="Unplug, let the heater cool, fill the bath to its mark; if it is full, free the "
    "switch's float, check its wire, then start again.",
)


def phase(name: str = "melt", **changes: Any) -> Phase:  # noqa: ANN401 - any field of the dataclass
    """A phase; `changes` replaces any of its fields."""
    given = Phase(
        name=name,
        bowl_target_c=50.0,
        tolerance_k=0.5,
        settle_s=60.0,
        dwell_s=600.0,
        rate_limit_k_per_min=None,
        bath_ceiling_c=58.0,
        bath_cut_c=62.0,
        stirrer_rpm=30.0,
        stir_from_c=34.0,
        pause_at_c=45.0,
        late_after_s=7200.0,
        late_action=LateAction.WARN,
        questions=(),
    )
    return replace(given, **changes)


def profile(*phases: Phase) -> Profile:
    """A profile of these phases, or of a melt and a hold."""
    return Profile(
        name="night-dark",
        title="Dark, for tests",
        kind=Kind.DARK,
        source="own invention",
        bowl_never_above_c=55.0,
        bath_never_above_c=65.0,
        phases=phases or (phase("melt"), phase("hold", bowl_target_c=31.5, dwell_s=0.0)),
        stop_stirrer=StopStirrer.OFF,
        power_back=PowerBack.ASK,
        lost_probe_wait_s=30.0,
    )


def state(**changes: Any) -> State:  # noqa: ANN401 - any field of the dataclass
    """A run at work; `changes` replaces fields of the state or of its progress."""
    ours = {key: changes.pop(key) for key in list(changes) if key in Progress.__struct_fields__}
    given = State(
        run_s=125.4,
        mode=Mode.RUNNING,
        bath_c=55.0,
        bowl_c=43.21,
        progress=replace(Progress(phase_s=61.9), **ours),
        regulation=Regulation(bowl_setpoint_c=50.0, bath_setpoint_c=56.5, duty=0.734),
    )
    return replace(given, **changes)


def moment(given: State | None = None, **changes: Any) -> Moment:  # noqa: ANN401 - any field of the dataclass
    """A finished tick; `changes` replaces any of its fields."""
    plain = Moment(
        now_s=1000.5,
        state=given or state(),
        heater_on=True,
        stirrer_rpm=30.0,
        shaft_rpm=None,
        load_w=None,
        events=(),
    )
    return replace(plain, **changes)
