"""Whole runs tick by tick: what people ask, what the watch sees, when the stirrer turns."""

import math
from typing import Any

import pytest

from controller.core.estimate import Belief
from controller.core.evidence import HeatMemory, Memory, ProbeMemory
from controller.core.profile import Action, LateAction, StopStirrer, Verdict, When
from controller.core.recovery import Beginning
from controller.core.signals import Reading, Source, Verb, missing
from controller.core.state import (
    Alarm,
    EventName,
    Mode,
    Regulation,
    State,
    Watch,
)
from controller.core.tick import initial_state, tick
from tests.helpers.records import replace
from tests.helpers.scene import (
    STILL,
    Rig,
    answers,
    asks,
    heating,
    machine,
    names,
    phase,
    profile,
    question,
    readings,
    state,
)

NAN = math.nan


def keeping(**changes: Any) -> Rig:  # noqa: ANN401 - any field of the rig
    """A rig whose profile keeps stirring after the end."""
    return heating(profile=replace(STILL, stop_stirrer=StopStirrer.KEEP), bowl_c=38.0, **changes)


# --- people ---------------------------------------------------------------------------------------


def test_a_pause_holds_the_bowl_at_its_safe_temperature_and_keeps_stirring() -> None:
    rig = Rig(profile=STILL, bath_c=42.0, bowl_c=39.0).start().run(5)
    rig.step(asks(Verb.PAUSE))
    assert rig.is_in(Mode.PAUSING)
    assert rig.state.regulation.bowl_setpoint_c == 36.0
    rig.step()
    assert rig.is_in(Mode.PAUSED)
    phase_s = rig.state.progress.phase_s
    rig.run(3000)
    assert rig.state.bowl_c == pytest.approx(36.0, abs=0.5)
    assert rig.state.stirrer_rpm == 30.0
    assert rig.state.progress.phase_s == phase_s
    assert rig.causes == []


def test_a_pause_is_resumed_at_the_machine_and_the_phase_goes_on() -> None:
    rig = heating()
    rig.step(asks(Verb.PAUSE, Source.LINK))
    rig.run(3)
    rig.step(asks(Verb.RESUME, Source.LINK))
    assert rig.is_in(Mode.PAUSED)
    rig.step(asks(Verb.RESUME))
    assert rig.is_in(Mode.RESUMING)
    assert rig.state.regulation.bowl_setpoint_c == 40.0
    rig.step()
    assert rig.is_in(Mode.RUNNING)
    assert len(rig.facts(EventName.PHASE_ENTERED)) == 1


def test_a_pause_never_trips_for_a_late_phase() -> None:
    of = profile(phase(late_after_s=20.0, late_action=LateAction.TRIP))
    rig = heating(profile=of)
    rig.step(asks(Verb.PAUSE))
    rig.run(60)
    assert rig.causes == []


def test_a_late_phase_whose_action_is_a_trip_trips() -> None:
    of = profile(phase(late_after_s=20.0, late_action=LateAction.TRIP))
    rig = heating(profile=of).run(30)
    assert rig.causes == ["phase-late"]
    assert rig.heater_off


@pytest.mark.parametrize("source", Source)
def test_a_stop_cuts_heat_in_the_same_tick_and_ends(source: Source) -> None:
    rig = heating()
    rig.step(asks(Verb.STOP, source))
    assert rig.is_in(Mode.STOPPING)
    assert rig.heater_off
    assert rig.state.regulation.duty == 0.0
    rig.step()
    assert rig.is_in(Mode.STOPPED)


def test_a_second_stop_is_no_error() -> None:
    rig = heating()
    rig.step(asks(Verb.STOP))
    rig.step(asks(Verb.STOP))
    assert rig.facts(EventName.REQUEST_REFUSED) == []
    assert rig.is_in(Mode.STOPPED)


def test_a_run_that_was_stopped_asks_nothing_any_more() -> None:
    of = profile(phase(questions=(question(action=Action.SWAP_WATER, share=0.5, water_c=15.0),)))
    rig = heating(profile=of)
    assert names(tuple(rig.events)).count(EventName.QUESTION_ASKED) == 1
    rig.step(asks(Verb.STOP))
    rig.run(1)
    assert rig.state.progress.ask is None
    assert not rig.state.watch.memory.touched
    rig.step(answers("done"))
    assert rig.facts(EventName.REQUEST_REFUSED)[-1]["reason"] == "nothing is asked"


def test_an_acknowledgement_marks_every_trip_once() -> None:
    rig = heating()
    for _ in range(11):
        rig.step(bath=missing(), bowl=missing())
    events = rig.step(asks(Verb.ACKNOWLEDGE, Source.LINK))
    assert [trip.alarm for trip in rig.state.trips] == [Alarm.ACKNOWLEDGED] * 2
    assert events[0].name is EventName.TRIP_ACKNOWLEDGED
    assert events[0].facts == {"by": Source.LINK}
    assert EventName.TRIP_ACKNOWLEDGED not in names(rig.step(asks(Verb.ACKNOWLEDGE)))


def test_an_acknowledgement_without_a_trip_says_nothing() -> None:
    assert heating().step(asks(Verb.ACKNOWLEDGE)) == ()


@pytest.mark.parametrize(
    ("action", "touched"),
    [
        (Action.SWAP_WATER, True),
        (Action.ADD_SEED, True),
        (Action.SET_TEST, False),
        (Action.NONE, False),
    ],
)
def test_the_watch_is_told_when_the_cook_changed_bath_or_bowl(
    action: Action, *, touched: bool
) -> None:
    rig = heating(
        profile=profile(phase(questions=(question(action=action, share=0.5, water_c=15.0),)))
    )
    rig.step(answers("done"))
    assert rig.state.watch.memory.touched is touched
    rig.step()
    assert not rig.state.watch.memory.touched


def test_the_watch_is_not_told_while_the_question_is_still_open() -> None:
    rig = heating(
        profile=profile(
            phase(questions=(question(action=Action.SWAP_WATER, share=0.5, water_c=15.0),))
        )
    )
    for _ in range(5):
        rig.step(answers("perhaps"))
        assert not rig.state.watch.memory.touched


def test_a_question_stays_open_through_a_pause() -> None:
    rig = heating(profile=profile(phase(questions=(question(unanswered_s=20.0),))))
    rig.step(asks(Verb.PAUSE))
    asked_s = rig.state.progress.asked_s
    rig.run(60)
    assert rig.is_in(Mode.PAUSED)
    assert rig.state.progress.ask == question(unanswered_s=20.0)
    assert rig.state.progress.asked_s == asked_s


def test_the_watch_is_told_even_if_the_answer_ends_the_phase() -> None:
    last = question(action=Action.SWAP_WATER, share=0.5, water_c=15.0, when=When.DWELLED)
    of = profile(phase(questions=(last,)), phase("hold"))
    rig = Rig(profile=of, bath_c=40.0, bowl_c=40.0, is_live=False).start().run(20)
    rig.step(answers("done"))
    assert rig.state.progress.phase == 1
    assert rig.state.watch.memory.touched


def unconfirmed() -> HeatMemory:
    """Heat that nothing has confirmed yet, in a warm element."""
    return HeatMemory(lagged=0.5, anchor_c=40.0, given_s=99.0, stuck_hits=2, now_s=100.0)


@pytest.mark.parametrize(
    ("touched", "before_c", "given_s"),
    [(False, 40.0, 99.5), (True, 40.0, 0.0), (False, 30.0, 0.0)],  # the last one: a believed jump
)
def test_what_was_counted_begins_anew_when_somebody_touched_the_bath(
    *, touched: bool, before_c: float, given_s: float
) -> None:
    memory = Memory(
        bath=ProbeMemory(value_c=before_c, code_c=40.0, rejected=2),
        bowl=ProbeMemory(value_c=40.0),
        heat=unconfirmed(),
        touched=touched,
    )
    after, _, _ = tick(state(watch=Watch(memory=memory)), STILL, machine(), readings(), 1.0)
    assert after.watch.memory.heat.given_s == pytest.approx(given_s, abs=0.05)
    assert after.watch.memory.heat.stuck_hits == (0 if given_s == 0.0 else 2)


# --- the whole run --------------------------------------------------------------------------------


def test_a_small_run_goes_through_its_phases_and_completes() -> None:
    rig = Rig(profile=profile(phase(), phase("again", bowl_target_c=41.0)))
    rig.start().run(9000, until=lambda r: r.state.mode is Mode.COMPLETE)
    assert rig.is_in(Mode.COMPLETE)
    assert [facts["phase"] for facts in rig.facts(EventName.PHASE_ENTERED)] == ["melt", "again"]
    assert rig.causes == []
    assert rig.heater_off
    assert rig.bowl_c == pytest.approx(41.0, abs=0.6)


def test_a_rate_limit_is_followed() -> None:
    of = profile(phase(rate_limit_k_per_min=1.0))
    rig = Rig(profile=of, bath_c=25.0, bowl_c=25.0).start().run(60)
    assert rig.state.regulation.bowl_setpoint_c == pytest.approx(26.0)


def test_a_dead_element_trips_and_a_welded_relay_trips() -> None:
    dead = Rig(profile=STILL, bath_c=38.0, bowl_c=38.0, element_works=False).start()
    dead.run(400, until=lambda r: bool(r.state.trips))
    assert dead.causes == ["heat-without-effect"]
    welded = Rig(profile=profile(phase(bowl_target_c=22.0)), is_welded=True)
    welded.run(400, until=lambda r: bool(r.state.trips))
    assert welded.causes == ["relay-stuck-on"]
    assert welded.bath_c < 30.0


def test_a_run_left_alone_for_a_day_trips() -> None:
    given = state(run_s=86_400.0)
    given, _, _ = tick(given, STILL, machine(), readings(), 1.0)
    assert given.trips == ()
    given, commands, _ = tick(given, STILL, machine(), readings(), 1.0)
    assert [trip.cause for trip in given.trips] == ["run-too-long"]
    assert not commands.heater_on


@pytest.mark.parametrize("name", ["bath", "bowl"])
def test_without_good_temperatures_no_duty_is_asked_and_the_cascade_is_kept(name: str) -> None:
    rig = heating()
    lost: dict[str, Any] = {name: missing()}
    before = rig.state.regulation
    rig.step(**lost)
    assert rig.state.regulation == replace(before, duty=0.0)
    after = rig.state.regulation
    rig.step(**lost)
    assert rig.state.regulation is after


def test_no_value_that_is_not_a_number_reaches_the_regulator(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    rig = heating()
    seen: list[float] = []

    def spy(given: State, belief: Belief, **facts: object) -> Regulation:
        seen.extend(value for value in facts.values() if isinstance(value, float))
        seen.extend((given.bath_c, given.bowl_c, *belief.mean))
        return given.regulation

    monkeypatch.setattr("controller.core.tick.regulate", spy)
    for bad in (missing(), Reading(NAN), Reading(math.inf), Reading(-math.inf)):
        rig.step(bath=bad)
        rig.step(bowl=bad)
    rig.step(dt_s=NAN)
    assert len(seen) == 3 + 2 + 14  # once: the late tick's readings were good
    assert all(math.isfinite(value) for value in seen)


# --- the stirrer ----------------------------------------------------------------------------------


def rpm_at(rig: Rig, bowl_c: float) -> float:
    rig.bowl_c = bowl_c
    rig.step()
    return rig.state.stirrer_rpm


def test_the_stirrer_turns_only_in_soft_chocolate_with_a_kelvin_of_hysteresis() -> None:
    rig = heating()
    ways = [(33.0, 0.0), (33.75, 0.0), (34.5, 30.0), (33.25, 30.0), (33.0, 30.0), (32.0, 0.0)]
    assert [(c, rpm_at(rig, c)) for c, _ in ways] == ways


def test_the_stirrer_stays_as_it_is_without_a_bowl_reading() -> None:
    rig = heating()
    rig.step(bowl=missing())
    assert rig.state.stirrer_rpm == 0.0
    assert rpm_at(rig, 32.5) == 0.0
    for bowl_c in (34.5, 36.0):
        rpm_at(rig, bowl_c)
    rig.step(bowl=missing())
    assert rig.state.stirrer_rpm == 30.0


def test_the_time_of_stirring_is_counted_for_the_shaft_s_grace() -> None:
    rig = heating(bowl_c=38.0)
    before = rig.state.watch.memory.stirring_s
    rig.step()
    assert rig.state.watch.memory.stirring_s == before + 1.0
    rig.step(asks(Verb.STOP))
    assert rig.state.watch.memory.stirring_s == 0.0


def test_a_stop_stops_the_stirrer_where_the_profile_says_off() -> None:
    rig = heating(bowl_c=38.0)
    assert rig.state.stirrer_rpm == 30.0
    rig.step(asks(Verb.STOP))
    assert rig.state.stirrer_rpm == 0.0


def test_a_stopped_batch_is_kept_soft_until_it_is_too_cold_for_stirring() -> None:
    rig = keeping()
    rig.step(asks(Verb.STOP))
    rig.run(5)
    assert (rig.state.mode, rig.state.stirrer_rpm) == (Mode.STOPPED, 30.0)
    assert rig.heater_off
    assert [rpm_at(rig, c) for c in (35.5, 33.25, 32.5, 38.0)] == [30.0, 30.0, 0.0, 0.0]


def test_a_stopped_batch_is_stirred_for_half_an_hour_at_most() -> None:
    rig = keeping()
    rig.step(asks(Verb.STOP))
    rig.run(1801)
    assert rig.state.stirrer_rpm == 30.0
    rig.run(2)
    assert rig.state.stirrer_rpm == 0.0


def test_a_tripped_batch_is_kept_soft_too() -> None:
    rig = keeping()
    for _ in range(12):
        rig.step(bath=missing())
    assert (rig.state.mode, rig.state.stirrer_rpm) == (Mode.ABORTED, 30.0)


def test_a_stirrer_that_does_not_turn_is_switched_off_with_the_trip() -> None:
    rig = keeping(machine=machine())
    rig.machine = machine(has_shaft=True)
    for _ in range(3):
        assert rig.state.stirrer_rpm == 30.0
        rig.step(shaft=Reading(0.0))
    assert rig.causes == ["stirrer-stopped"]
    assert rig.state.stirrer_rpm == 0.0
    assert rig.heater_off


def test_a_finished_batch_is_stirred_no_more() -> None:
    of = profile(phase(), stop_stirrer=StopStirrer.KEEP)
    rig = Rig(profile=of, bath_c=40.0, bowl_c=40.0, is_live=False).start()
    rig.run(20, until=lambda r: r.state.mode is Mode.COMPLETE)
    assert rig.is_in(Mode.COMPLETE)
    assert rig.state.stirrer_rpm == 0.0


def test_a_run_that_is_gone_on_with_begins_in_its_phase_with_what_is_already_done() -> None:
    of = profile(phase(name="melt"), phase(name="cool", questions=(question(id="swap"),)))
    beginning = Beginning(
        phase=1,
        dwelled_s=40.0,
        answered=frozenset({"swap"}),
        verdict=Verdict.IN_TEMPER,
        stir_from_c=39.0,
    )
    rig = Rig(profile=of, bath_c=30.0, bowl_c=38.5, state=initial_state(beginning)).start()
    progress = rig.state.progress
    assert [fact["phase"] for fact in rig.facts(EventName.PHASE_ENTERED)] == ["cool"]
    assert progress.phase == 1
    assert progress.dwelled_s == 40.0
    assert progress.verdict is Verdict.IN_TEMPER
    rig.step()
    assert rig.state.progress.ask is None
    # Below the beginning's own limit nothing is stirred, though the phase's would allow it.
    assert rig.state.stirrer_rpm == 0.0


def test_what_a_beginning_adds_ends_with_its_phase() -> None:
    of = profile(phase(name="a", settle_s=0.0, dwell_s=0.0), phase(name="b"))
    begun = initial_state(Beginning(stir_from_c=90.0))
    rig = Rig(profile=of, bath_c=40.0, bowl_c=40.0, state=begun)
    rig.start().run(10, lambda r: r.state.progress.phase == 1)
    assert rig.state.progress.stir_from_c == -math.inf
