"""What a watch sees of a fault, and what it holds for harm."""

import math
from dataclasses import dataclass

import pytest

from controller.core.profile import Profile
from controller.core.state import Alarm, Event, EventName, Mode, Notice, State, Trip
from controller.files.machine_file import bench_machine_path, load_machine_file
from controller.files.profile_file import load_profile
from controller.ports import Moment
from controller.trials.ordeal_draws import Injection
from controller.trials.ordeal_watch import Found, Watch, leg_of, melts_out_c
from controller.wiring import BenchFault
from tests.helpers.records import replace

MACHINE = load_machine_file(bench_machine_path("reference")).machine


def shipped(name: str) -> Profile:
    """A shipped profile."""
    return load_profile(name, MACHINE)


DARK = shipped("dark")
WELD = Injection(fault=BenchFault.RELAY_WELDED, phase="hold", after_s=5.0, size=None)
SEEDED = Injection(fault=BenchFault.RELAY_WELDED, phase="seed", after_s=5.0, size=None)


@dataclass(slots=True)
class Still:
    """A plant that stands still, and its bench."""

    bath_c: float = 32.0
    content_c: float = 31.8
    element_c: float = 40.0
    covered: float = 1.0
    form_v: float = 0.02
    unstable: float = 0.0
    element_on_j: float = 0.0

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
    told_on: bool = False

    def tick(self, state: State, *events: Event, **plant: float) -> None:
        """A second later the watch is told of this state and sees that plant."""
        self.now_s += 1.0
        for name, value in plant.items():
            setattr(self.plant, name, value)
        moment = Moment(
            now_s=self.now_s,
            state=state,
            heater_on=self.told_on,
            stirrer_rpm=0.0,
            shaft_rpm=None,
            load_w=None,
            events=events,
        )
        self.watch.tell(moment)


@pytest.fixture
def scene() -> Scene:
    """Nothing has happened yet."""
    return scene_of(DARK)


def scene_of(profile: Profile) -> Scene:
    """Nothing has happened yet in a run of that profile."""
    plant = Still()
    watch = Watch(plant, profile, lambda: 0.0)  # type: ignore[arg-type] # all of a bench it looks at
    made = Scene(plant=plant, watch=watch)
    made.watch = Watch(plant, profile, lambda: made.now_s)  # type: ignore[arg-type]
    return made


def in_phase(index: int) -> State:
    """A run in that phase."""
    progress = replace(State().progress, phase=index)
    return replace(State(), mode=Mode.RUNNING, progress=progress)


IN_MELT, IN_COOL, IN_REWARM, IN_HOLD = map(in_phase, range(len(DARK.phases)))
TRIPPED = (Trip(cause="relay-stuck-on", at_s=1.0, what="", action=""),)


def test_only_what_comes_after_the_fault_counts(scene: Scene) -> None:
    scene.tick(IN_HOLD, bath_c=90.0)
    scene.watch.begin(WELD.fault, withheld=("tick-late",))
    scene.tick(replace(IN_HOLD, withheld=("tick-late",)), bath_c=33.0)
    found = scene.watch.found(WELD)
    assert (found.cause, found.harm, found.bath_max_c) == ("", "", 33.0)
    assert math.isnan(found.inhibited_s)


def test_the_first_cause_inhibits_and_that_of_the_trip_counts(scene: Scene) -> None:
    scene.watch.begin(WELD.fault)
    scene.tick(IN_HOLD)
    scene.tick(replace(IN_HOLD, withheld=("bath-over-limit",)))
    scene.tick(replace(IN_HOLD, withheld=("bath-over-limit",), trips=TRIPPED))
    found = scene.watch.found(WELD)
    assert (found.inhibited_s, found.trip_s) == (2.0, 3.0)
    assert found.cause == "relay-stuck-on"


def test_advice_is_seen_too_though_heat_goes_on(scene: Scene) -> None:
    scene.watch.begin(WELD.fault)
    told = Event(name=EventName.ALARM_RAISED, facts={"cause": "heat-demand-changed"})
    scene.tick(IN_HOLD, told)
    found = scene.watch.found(WELD)
    assert (found.told_s, found.cause) == (1.0, "heat-demand-changed")
    assert math.isnan(found.inhibited_s)


def test_advice_after_a_trip_does_not_take_its_causes_place(scene: Scene) -> None:
    scene.watch.begin(WELD.fault)
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
    scene.watch.begin(WELD.fault)
    scene.tick(IN_HOLD, **plant)
    found = scene.watch.found(WELD)
    assert found.harm == harm
    assert found.harm_s == (1.0 if harm else pytest.approx(math.nan, nan_ok=True))
    assert not found.is_heat_off


def test_harm_that_comes_with_heat_off_is_told_apart(scene: Scene) -> None:
    scene.watch.begin(WELD.fault)
    scene.tick(replace(IN_HOLD, withheld=("bath-over-limit",)), bath_c=70.0)
    assert scene.watch.found(WELD).is_heat_off


def test_heat_that_is_off_by_the_run_alone_is_not_off(scene: Scene) -> None:
    scene.tick(IN_HOLD)
    scene.watch.begin(WELD.fault)
    scene.tick(replace(IN_HOLD, withheld=("relay-stuck-on",)), bath_c=70.0, element_on_j=500.0)
    found = scene.watch.found(WELD)
    assert (found.harm, found.is_heat_off) == ("scalding", False)


def heard(
    scene: Scene, fault: BenchFault, told: tuple[bool, ...], given: tuple[bool, ...]
) -> Found:
    """Ticks in which the heater is told, and from one to the next truly gets, heat or none."""
    scene.told_on = told[0]
    scene.tick(IN_HOLD)
    scene.watch.begin(fault)
    joules = 0.0
    for on, had in zip(told[1:], given, strict=True):
        joules += 500.0 * had
        scene.told_on = on
        scene.tick(IN_HOLD, element_on_j=joules)
    joules += 500.0 * given[-1]
    scene.tick(replace(IN_HOLD, trips=TRIPPED), element_on_j=joules)
    return scene.watch.found(replace(WELD, fault=fault))


ON, OFF = True, False


@pytest.mark.parametrize(
    ("fault", "told", "given", "unlike_s"),
    [
        (BenchFault.RELAY_WELDED, (ON, ON, OFF, OFF, OFF), (ON, ON, ON, ON), 3.0),
        (BenchFault.RELAY_OPEN, (OFF, OFF, ON, ON, ON), (OFF, OFF, OFF, OFF), 3.0),
        (BenchFault.RELAY_OPEN, (ON, OFF, OFF, ON, ON), (OFF, OFF, OFF, OFF), 4.0),
        (BenchFault.MAINS_LIVE_STUCK, (ON, ON, OFF, OFF, OFF), (ON, ON, OFF, OFF), 3.0),
        (BenchFault.MAINS_LIVE_DEAD, (ON, ON, ON, ON, ON), (ON, ON, ON, ON), 1.0),
    ],
)
def test_a_heater_is_unlike_what_it_was_told_since_it_last_was_like_it(
    scene: Scene,
    fault: BenchFault,
    told: tuple[bool, ...],
    given: tuple[bool, ...],
    unlike_s: float,
) -> None:
    found = heard(scene, fault, told, given)
    assert found.unlike_s == unlike_s
    assert found.tick_s == 1.0


def test_on_the_way_there_are_no_crystals_to_lose(scene: Scene) -> None:
    scene.watch.begin(WELD.fault)
    scene.tick(IN_MELT, content_c=45.0, form_v=0.7)  # what has not melted yet is to melt
    scene.tick(IN_COOL, content_c=45.0, form_v=0.0)
    scene.tick(IN_COOL, content_c=33.0, form_v=0.0)
    scene.tick(IN_COOL, content_c=34.0, form_v=0.004)
    assert scene.watch.found(WELD).harm == ""


def test_what_has_crystallised_in_truth_can_melt_out_in_every_later_phase(scene: Scene) -> None:
    scene.tick(IN_COOL, content_c=28.0, form_v=0.006)
    scene.watch.begin(WELD.fault)
    scene.tick(IN_COOL, content_c=33.9, form_v=0.006)
    found = scene.watch.found(WELD)
    assert (found.harm, found.harm_s) == ("melted-out", 1.0)


def test_after_the_coolest_phase_the_run_relies_on_crystals(scene: Scene) -> None:
    scene.watch.begin(WELD.fault)
    scene.tick(IN_COOL, content_c=33.9, form_v=0.0)
    scene.tick(IN_REWARM)
    found = scene.watch.found(WELD)
    assert (found.harm, found.harm_s) == ("melted-out", 2.0)


def test_what_is_melted_again_on_purpose_is_no_harm(scene: Scene) -> None:
    scene.tick(IN_HOLD)
    scene.watch.begin(WELD.fault)
    scene.tick(IN_MELT, content_c=45.0)
    scene.tick(IN_COOL, content_c=44.0, form_v=0.0)
    assert scene.watch.found(WELD).harm == ""


def test_a_seeded_batch_has_crystals_once_it_has_come_down() -> None:
    scene = scene_of(shipped("dark-seeded"))
    scene.watch.begin(WELD.fault)
    scene.tick(IN_COOL, content_c=44.0, form_v=0.02)  # seed, on its way to melting
    assert scene.watch.found(SEEDED).harm == ""
    scene.tick(IN_COOL, content_c=32.0)
    scene.tick(IN_COOL, content_c=34.0)
    assert scene.watch.found(SEEDED).harm == "melted-out"


def test_what_is_to_be_kept_melted_has_nothing_to_melt_out() -> None:
    scene = scene_of(shipped("melt-only"))
    scene.watch.begin(WELD.fault)
    scene.tick(IN_COOL, content_c=45.0, form_v=0.1)
    assert scene.watch.found(WELD).harm == ""


@pytest.mark.parametrize(
    ("state", "harm"),
    [
        (IN_COOL, "set"),
        (IN_HOLD, "set"),
        (IN_MELT, ""),
        (replace(IN_HOLD, mode=Mode.STOPPED), ""),
        (replace(IN_HOLD, trips=TRIPPED), ""),
        (replace(IN_HOLD, withheld=("tick-late",)), ""),
    ],
    ids=["cool", "hold", "not melted yet", "stopped", "tripped", "no heat"],
)
def test_a_batch_sets_in_a_bowl_that_is_colder_than_the_run_believes(
    scene: Scene, state: State, harm: str
) -> None:
    scene.watch.begin(WELD.fault)
    scene.tick(state, content_c=26.0, form_v=0.12, unstable=0.07)
    assert scene.watch.found(WELD).harm == ""
    scene.tick(state, unstable=0.09)
    assert scene.watch.found(WELD).harm == harm


def test_each_cause_is_kept_with_its_first_time(scene: Scene) -> None:
    scene.watch.begin(WELD.fault, withheld=("tick-late",))
    wrong = Event(name=EventName.ALARM_RAISED, facts={"cause": "load-jumped"})
    scene.tick(IN_HOLD, wrong)
    scene.tick(replace(IN_HOLD, withheld=("tick-late", "level-lost")), wrong)
    scene.tick(replace(IN_HOLD, trips=TRIPPED))
    said = scene.watch.found(WELD).said
    assert said == {"load-jumped": 1.0, "relay-stuck-on": 3.0}


def test_heat_that_is_withheld_for_a_moment_is_told_to_nobody(scene: Scene) -> None:
    scene.watch.begin(WELD.fault)
    scene.tick(replace(IN_HOLD, withheld=("relay-stuck-on",)))
    scene.tick(IN_HOLD, content_c=34.0)
    found = scene.watch.found(WELD)
    assert (found.inhibited_s, found.cause, found.said) == (1.0, "", {})
    assert found.harm == "melted-out"


@pytest.mark.parametrize(
    ("alarm", "said"),
    [(Alarm.ACKNOWLEDGED, {"heat-demand-changed": 1.0}), (Alarm.RETURNED, {})],
)
def test_an_alarm_that_stands_since_before_the_fault_is_told_when_harm_comes(
    scene: Scene, alarm: Alarm, said: dict[str, float]
) -> None:
    notice = Notice(
        cause="heat-demand-changed",
        priority="low",
        at_s=0.0,
        seen_s=0.0,
        what="",
        action="",
        is_advice=True,
        alarm=alarm,
    )
    scene.watch.begin(WELD.fault)
    scene.tick(replace(IN_HOLD, notices=(notice,)), content_c=34.0)
    found = scene.watch.found(WELD)
    assert (found.cause, found.said) == ("", said)


@pytest.mark.parametrize(
    ("name", "legs"),
    [
        ("dark", "melt cool rewarm hold"),
        ("dark-seeded", "melt cool hold"),
        ("melt-only", "melt hold"),
        ("water-trial", "melt rewarm"),
    ],
)
def test_a_leg_is_what_a_phase_does_and_not_its_name(name: str, legs: str) -> None:
    profile = shipped(name)
    assert " ".join(leg_of(profile, phase.name) for phase in profile.phases) == legs


def test_a_watch_looks_on_after_a_trip(scene: Scene) -> None:
    scene.watch.begin(WELD.fault)
    scene.tick(replace(IN_HOLD, trips=TRIPPED))
    scene.now_s = 300.0
    assert not scene.watch.is_over
    scene.now_s = 301.0
    assert scene.watch.is_over


@pytest.mark.parametrize(
    ("state", "content_c", "enough_s"),
    [
        (IN_HOLD, 31.8, 1800.0),
        (IN_HOLD, 30.7, 3600.0),  # a batch that is too cold sets, but takes its time
        (IN_HOLD, 32.9, 3600.0),  # and one that is too warm melts out
        (IN_COOL, 26.9, 3600.0),
        (IN_COOL, 40.0, 1800.0),  # on its way, with nothing in it to melt
        (IN_MELT, 25.0, 1800.0),
    ],
)
def test_without_a_trip_it_looks_on_for_half_an_hour_and_while_a_batch_is_off_for_a_whole(
    state: State, content_c: float, enough_s: float
) -> None:
    scene = scene_of(DARK)
    scene.watch.begin(WELD.fault)
    scene.tick(state, content_c=content_c, form_v=0.0 if content_c > 33.0 else 0.02)
    scene.now_s = enough_s - 1.0
    assert not scene.watch.is_over
    scene.now_s = enough_s
    assert scene.watch.is_over


def test_milk_and_white_chocolate_melt_out_sooner_and_water_never() -> None:
    assert melts_out_c(shipped("water-trial")) == math.inf
    assert melts_out_c(shipped("dark")) == 33.8
    assert melts_out_c(shipped("white")) < melts_out_c(shipped("milk")) < 33.8
