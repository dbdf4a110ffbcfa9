"""The cooling output: it runs on the way down, never beside heat, and stops in time."""

import math
from typing import Any

import pytest

from controller.core.asking import Cooling
from controller.core.cooler import cooled, cools_k_per_s, driven
from controller.core.estimator import stir
from controller.core.machine import Cooler
from controller.core.profile import Action, Kind
from controller.core.signals import Verb, missing
from controller.core.state import Mode, Progress, Regulation, RelayMemory, State, Trip
from controller.core.thermal import BATH, begin, prior_of
from tests.helpers.records import replace
from tests.helpers.scene import DONE, Rig, asks, machine, phase, profile, question

PUMP = Cooler(carries_w_per_k=70.0, sink_c=15.0, min_on_s=5.0, min_off_s=10.0)
OWN = machine(cooler=PUMP)
TARGET_C = 28.0
FALLING = Regulation(is_falling=True, peak_c_sd=0.05)
LONG_OFF = RelayMemory(held_s=math.inf)


def on_the_way(bath_c: float = 45.0, bowl_c: float = 45.0, **changes: Any) -> State:  # noqa: ANN401 - any field of the state
    """A bowl that falls, both thermometers good, everything off."""
    belief = begin(prior_of(OWN, Kind.DARK, 1.0), bath_c, bowl_c, has_melted=True)
    given = State(
        mode=Mode.RUNNING,
        bath_c=bath_c,
        bowl_c=bowl_c,
        belief=stir(belief, is_stirred=True),
        regulation=FALLING,
        cooling=LONG_OFF,
    )
    return replace(given, **changes)


def runs(state: State) -> bool:
    """Whether it runs in the coming tick."""
    return driven(state, OWN, TARGET_C, 1.0).on


def test_it_runs_while_the_bowl_is_on_its_way_down() -> None:
    assert runs(on_the_way())


TRIP = Trip(cause="x", at_s=0.0, what="x", action="x")


@pytest.mark.parametrize(
    "changes",
    [
        {"regulation": Regulation()},
        {"relay": RelayMemory(on=True)},
        {"withheld": ("late-tick",)},
        {"trips": (TRIP,)},
        {"belief": None},
    ],
    ids=["holding", "heating", "withheld", "tripped", "knowing nothing"],
)
@pytest.mark.parametrize("was_on", [False, True])
def test_it_never_runs(changes: dict[str, Any], *, was_on: bool) -> None:
    memory = RelayMemory(on=was_on, held_s=math.inf)
    assert not runs(on_the_way(**{"cooling": memory, **changes}))


@pytest.mark.parametrize("name", ["bath_c", "bowl_c"])
def test_it_stops_at_once_without_a_good_thermometer(name: str) -> None:
    just_on = RelayMemory(on=True, held_s=0.0)
    assert runs(on_the_way(cooling=just_on))
    assert not runs(on_the_way(cooling=just_on, **{name: math.nan}))


def test_it_stops_where_the_bowl_could_not_be_caught_any_more() -> None:
    assert not runs(on_the_way(bath_c=18.0, bowl_c=33.0))


def test_it_can_not_cool_a_bath_that_is_as_cold_as_what_it_brings() -> None:
    assert not runs(on_the_way(bath_c=15.2, bowl_c=59.0))


def test_its_shortest_times_are_kept_where_nothing_is_unsafe() -> None:
    begun = RelayMemory(on=True, held_s=1.0)
    late = on_the_way(bath_c=18.0, bowl_c=33.0, cooling=begun)
    assert runs(late)
    assert not runs(replace(late, cooling=RelayMemory(on=True, held_s=PUMP.min_on_s)))
    assert not runs(on_the_way(cooling=RelayMemory(held_s=PUMP.min_off_s - 2.0)))
    assert runs(on_the_way(cooling=RelayMemory(held_s=PUMP.min_off_s)))


def test_the_belief_follows_it_and_is_less_sure_of_the_bath() -> None:
    belief = on_the_way().belief
    assert belief is not None
    # 70 W/K over 30 K of lead, on 3 kg of water and nine tenths of a vessel of 500 J/K.
    rate = 70.0 * 30.0 / (3.0 * 4180.0 + 0.9 * 500.0)
    assert cools_k_per_s(belief, PUMP) == pytest.approx(rate)
    after = cooled(belief, PUMP, 2.0)
    assert after.mean[BATH] == pytest.approx(45.0 - 2.0 * rate)
    assert after.spread[BATH][BATH] > belief.spread[BATH][BATH]


def test_no_swap_is_asked_of_a_cook_where_it_does_the_work() -> None:
    swap = question("swap", action=Action.SWAP_WATER, water_c=15.0, choices=(DONE,))
    cool = phase("cool", bowl_target_c=TARGET_C, questions=(swap,))
    belief = on_the_way().belief
    assert Cooling(belief, machine(), cool).put(swap, Progress()) is not None
    assert Cooling(belief, OWN, cool).put(swap, Progress()) is None
    weak = replace(OWN, cooler=replace(PUMP, carries_w_per_k=1.0, sink_c=20.0))
    assert Cooling(belief, weak, cool).put(swap, Progress()) is not None


# In a run

COOL = profile(phase("cool", bowl_target_c=TARGET_C, stir_from_c=26.0, dwell_s=9e9))


def cooling_rig() -> Rig:
    """A run that cools and has a pump which runs."""
    rig = Rig(profile=COOL, machine=OWN, bath_c=45.0, bowl_c=45.0).start().run(60)
    assert is_cooling(rig)
    return rig


def is_cooling(rig: Rig) -> bool:
    """Whether the last tick asked for it."""
    return rig.commands is not None and rig.commands.cooling_on


def test_a_trip_and_a_stop_end_it_at_once() -> None:
    stopped = cooling_rig()
    stopped.step(asks(Verb.STOP))
    assert not is_cooling(stopped)
    blind = cooling_rig()
    blind.step(bath=missing())
    assert not is_cooling(blind)
    blind.run(5)
    assert not is_cooling(blind)


def test_a_machine_without_one_never_asks_for_it() -> None:
    rig = Rig(profile=COOL, bath_c=45.0, bowl_c=45.0).start()
    for _ in range(60):
        rig.step()
        assert not is_cooling(rig)
