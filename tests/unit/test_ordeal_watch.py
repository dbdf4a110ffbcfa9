"""What a watch sees of a fault, and what it holds for harm."""

import math
from dataclasses import dataclass

import pytest

from controller.core.profile import Kind
from controller.core.state import Event, EventName, State, Trip
from controller.files.machine_file import bench_machine_path, load_machine_file
from controller.files.profile_file import load_profile
from controller.ports import Moment
from controller.trials.ordeal_draws import Injection
from controller.trials.ordeal_watch import Watch, melts_out_c
from controller.wiring import BenchFault
from tests.helpers.records import replace

DARK = load_profile("dark", load_machine_file(bench_machine_path("reference")).machine)
WELD = Injection(fault=BenchFault.RELAY_WELDED, phase="hold", after_s=5.0, size=None)


@dataclass(slots=True)
class Still:
    """A plant that stands still, and its bench."""

    bath_c: float = 32.0
    content_c: float = 31.8
    element_c: float = 40.0
    covered: float = 1.0

    @property
    def plant(self) -> "Still":
        """Itself."""
        return self


@dataclass(slots=True)
class Scene:
    """A watch with what it looks at."""

    plant: Still
    watch: Watch
    now_s: float = 0.0

    def tick(self, state: State, *events: Event, **plant: float) -> None:
        """A second later the watch is told of this state and sees that plant."""
        self.now_s += 1.0
        for name, value in plant.items():
            setattr(self.plant, name, value)
        moment = Moment(
            now_s=self.now_s,
            state=state,
            heater_on=False,
            stirrer_rpm=0.0,
            shaft_rpm=None,
            load_w=None,
            events=events,
        )
        self.watch.tell(moment)


@pytest.fixture
def scene() -> Scene:
    """Nothing has happened yet."""
    plant = Still()
    watch = Watch(plant, DARK, lambda: 0.0)  # type: ignore[arg-type] # all of a bench it looks at
    made = Scene(plant=plant, watch=watch)
    made.watch = Watch(plant, DARK, lambda: made.now_s)  # type: ignore[arg-type]
    return made


IN_HOLD = replace(State(), progress=replace(State().progress, phase=len(DARK.phases) - 1))
TRIPPED = (Trip(cause="relay-stuck-on", at_s=1.0, what="", action=""),)


def test_only_what_comes_after_the_fault_counts(scene: Scene) -> None:
    scene.tick(IN_HOLD, bath_c=90.0)
    scene.watch.begin(withheld=("tick-late",))
    scene.tick(replace(IN_HOLD, withheld=("tick-late",)), bath_c=33.0)
    found = scene.watch.found(WELD)
    assert (found.cause, found.harm, found.bath_max_c) == ("", "", 33.0)
    assert math.isnan(found.inhibited_s)


def test_the_first_cause_inhibits_and_that_of_the_trip_counts(scene: Scene) -> None:
    scene.watch.begin()
    scene.tick(IN_HOLD)
    scene.tick(replace(IN_HOLD, withheld=("bath-over-limit",)))
    scene.tick(replace(IN_HOLD, withheld=("bath-over-limit",), trips=TRIPPED))
    found = scene.watch.found(WELD)
    assert (found.inhibited_s, found.trip_s) == (2.0, 3.0)
    assert found.cause == "relay-stuck-on"


def test_advice_is_seen_too_though_heat_goes_on(scene: Scene) -> None:
    scene.watch.begin()
    told = Event(name=EventName.ALARM_RAISED, facts={"cause": "heat-demand-changed"})
    scene.tick(IN_HOLD, told)
    found = scene.watch.found(WELD)
    assert (found.told_s, found.cause) == (1.0, "heat-demand-changed")
    assert math.isnan(found.inhibited_s)


def test_advice_after_a_trip_does_not_take_its_causes_place(scene: Scene) -> None:
    scene.watch.begin()
    scene.tick(replace(IN_HOLD, trips=TRIPPED))
    scene.tick(IN_HOLD, Event(name=EventName.ALARM_RAISED, facts={"cause": "load-jumped"}))
    assert scene.watch.found(WELD).cause == "relay-stuck-on"


@pytest.mark.parametrize(
    ("plant", "harm"),
    [
        ({"bath_c": 62.1}, "scalding"),
        ({"content_c": 33.9}, "melted-out"),
        ({"content_c": 59.1}, "burnt"),
        ({"element_c": 300.0, "covered": 0.5}, "dry"),
        ({"element_c": 300.0}, ""),
        ({"content_c": 33.7, "bath_c": 61.9}, ""),
    ],
)
def test_harm_is_what_the_plant_suffers_in_truth(
    scene: Scene, plant: dict[str, float], harm: str
) -> None:
    scene.watch.begin()
    scene.tick(IN_HOLD, **plant)
    found = scene.watch.found(WELD)
    assert found.harm == harm
    assert found.harm_s == (1.0 if harm else pytest.approx(math.nan, nan_ok=True))
    assert not found.is_heat_off


def test_harm_that_comes_with_heat_off_is_told_apart(scene: Scene) -> None:
    scene.watch.begin()
    scene.tick(replace(IN_HOLD, withheld=("bath-over-limit",)), bath_c=70.0)
    assert scene.watch.found(WELD).is_heat_off


def test_on_the_way_there_are_no_crystals_to_lose(scene: Scene) -> None:
    scene.watch.begin()
    scene.tick(State(), content_c=45.0)
    assert scene.watch.found(WELD).harm == ""


def test_a_watch_looks_on_after_a_trip_and_half_an_hour_without_one(scene: Scene) -> None:
    scene.watch.begin()
    scene.tick(replace(IN_HOLD, trips=TRIPPED))
    scene.now_s = 300.0
    assert not scene.watch.is_over
    scene.now_s = 301.0
    assert scene.watch.is_over


def test_without_a_trip_it_looks_on_for_half_an_hour(scene: Scene) -> None:
    scene.watch.begin()
    scene.now_s = 1799.0
    assert not scene.watch.is_over
    scene.now_s = 1800.0
    assert scene.watch.is_over


def test_milk_and_white_chocolate_melt_out_sooner_and_water_never() -> None:
    assert melts_out_c(Kind.WATER) == math.inf
    assert melts_out_c(Kind.DARK) == 33.8
    assert melts_out_c(Kind.WHITE) < melts_out_c(Kind.MILK) < 33.8
