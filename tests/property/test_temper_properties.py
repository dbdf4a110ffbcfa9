"""What holds of the temper estimate whatever probes, load and people say."""

import math

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from controller.core.batches import COUNT, TemperState
from controller.core.profile import Action, Verdict
from controller.core.signals import Fault, Reading, Readings
from controller.core.state import Progress, State
from controller.core.temper import judge_temper
from controller.core.tempering import Temper
from controller.core.thermal import BOWL, DRIFT, TEMP_MAX_C, TEMP_MIN_C
from tests.helpers.records import replace
from tests.helpers.scene import question
from tests.helpers.tempers import TEMPERED, Batch

ALL = settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True
)
SEED = question(action=Action.ADD_SEED, share=0.2)
loads = st.one_of(
    st.none(),
    st.builds(Reading, st.floats(0.05, 60.0)),
    st.builds(Reading, st.sampled_from([0.0, -1.0, 1e-300, 1e300, math.inf, -math.inf, math.nan])),
    st.just(Reading(math.nan, 0.0, Fault.DEVICE)),
)
moments = st.tuples(
    st.floats(TEMP_MIN_C, TEMP_MAX_C),
    st.floats(-0.1, 0.1),  # heat in no model, K/s
    loads,
    st.sampled_from([0.25, 1.0, 10.0, 30.0, 600.0, 90_000.0]),  # until the next
    st.sampled_from([0.0, 0.0, 30.0, 60.0]),  # stirrer
    st.integers(0, 3),  # phase
    st.sampled_from(list(Verdict)),
    st.sampled_from([None, None, SEED]),
    st.sampled_from([0.0, 0.0, 0.0, 0.01, 0.5, 3.0]),  # came in
    st.sampled_from([0.0, 0.0, 5.0, 500.0]),  # blind for
)
courses = st.lists(moments, min_size=1, max_size=12)
Course = list[tuple[float, float, Reading | None, float, float, int, Verdict, None, float, float]]


def lived(course: Course) -> list[TemperState]:
    """Every estimate of a course."""
    batch = Batch()
    batch.tick()
    found = [batch.temper]
    assert batch.belief is not None
    run_s, in_bowl, solid = batch.run_s, 1.0, 0.0
    for bowl_c, drift, load, span_s, rpm, phase, test, ask, came, blind_s in course:
        run_s, in_bowl = run_s + span_s, in_bowl + came
        solid = 0.3 if came and phase % 2 else 0.0
        mean = list(batch.belief.mean)
        mean[BOWL], mean[DRIFT] = bowl_c, drift
        belief = replace(
            batch.belief,
            mean=tuple(mean),
            in_bowl=in_bowl,
            solid=solid,
            blind_s=blind_s,
            is_stirred=rpm > 0.0,
            has_melted=True,
        )
        state = State(
            run_s=run_s,
            bowl_c=bowl_c if not blind_s else math.nan,
            belief=belief,
            temper=found[-1],
            stirrer_rpm=rpm,
            progress=Progress(phase=phase, verdict=test, ask=ask),
        )
        readings = Readings(bath=Reading(bowl_c), bowl=Reading(bowl_c), load=load)
        found.append(judge_temper(state, TEMPERED, batch.machine, readings))
    return found


@ALL
@given(courses)
def test_whatever_is_read_it_stays_finite_and_bounded(course: Course) -> None:
    for temper in lived(course):
        assert 0.0 <= temper.confidence <= 1.0
        assert len(temper.bank) == len(temper.weights) == COUNT
        assert math.isclose(sum(temper.weights), 1.0, rel_tol=1e-9)
        assert all(0.0 <= weight <= 1.0 for weight in temper.weights)
        assert all(0.0 <= value <= 1.0 for one in temper.bank for value in one)
        assert math.isfinite(temper.melt.level + temper.melt.slope)
        assert min(temper.melt.var_level, temper.melt.var_slope) >= 0.0
        assert temper.why


@ALL
@given(courses)
def test_unknown_is_never_sure_and_a_verdict_always_has_its_numbers(course: Course) -> None:
    for temper in lived(course):
        if temper.verdict is Temper.UNKNOWN:
            assert temper.confidence < 0.65
        else:
            low, middle, high = temper.form_v
            assert 0.0 <= low <= middle <= high <= 1.0
            assert temper.confidence >= 0.65


@ALL
@given(courses)
def test_the_same_course_gives_the_same_estimate(course: Course) -> None:
    assert repr(lived(course)) == repr(lived(course))
