"""Faults of a trial: what can be written, what is refused, and when each comes and goes."""

import pytest

from controller.core.records import replace
from controller.core.state import Event, EventName
from controller.errors import UsageError
from controller.files.machine_file import bench_machine_path, load_machine_file
from controller.files.profile_file import load_profile
from controller.ports import Kind, Moment
from controller.trials.faults import FaultPlan, FaultScript, parse_fault, plans_for, size_text
from controller.trials.staging import really_in_bowl
from controller.wiring import Bench, BenchFault, Part
from hardware.bench.attach import attach
from tests.helpers.batch import a_moment


@pytest.mark.parametrize(
    ("text", "plan"),
    [
        ("relay-welded", FaultPlan(fault=BenchFault.RELAY_WELDED)),
        (
            "relay-welded@hold+10min",
            FaultPlan(fault=BenchFault.RELAY_WELDED, phase="hold", after_s=600.0),
        ),
        (
            "bath-probe-drift:1.5K@melt+5min/20min",
            FaultPlan(
                fault=BenchFault.BATH_PROBE_DRIFT,
                phase="melt",
                after_s=300.0,
                size=1.5,
                lasts_s=1200.0,
            ),
        ),
        (
            "bowl-probe-offset:-2.5K",
            FaultPlan(fault=BenchFault.BOWL_PROBE_OFFSET, size=-2.5),
        ),
        (
            "power-cut@hold/3min",
            FaultPlan(fault=BenchFault.POWER_CUT, phase="hold", lasts_s=180.0),
        ),
        ("heater-half:40%/1h", FaultPlan(fault=BenchFault.HEATER_HALF, size=0.4, lasts_s=3600.0)),
        ("water-splashed:20g", FaultPlan(fault=BenchFault.WATER_SPLASHED, size=0.02)),
        ("answer-late:90s", FaultPlan(fault=BenchFault.ANSWER_LATE, size=90.0)),
        (
            " level-lost@a-phase-of-mine ",
            FaultPlan(fault=BenchFault.LEVEL_LOST, phase="a-phase-of-mine"),
        ),
    ],
)
def test_a_fault_is_read_as_it_is_written(text: str, plan: FaultPlan) -> None:
    assert parse_fault(text) == plan


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", 'The fault "" can\'t be read; write it like relay-welded@hold+10min or'),
        ("relay-welded@", "can't be read"),
        ("relay-welded@hold@melt", "can't be read"),
        ("relay-wleded@hold", 'no fault "relay-wleded"; did you mean relay-welded?'),
        ("xyzzy", 'no fault "xyzzy"; `bainward try --list-faults` shows all of them.'),
        ("relay-welded:2K", "relay-welded has no size; leave :2K out."),
        ("bath-probe-drift:2", "can't be read; write it like bath-probe-drift:-5K."),
        ("bath-probe-drift:2min", "can't be read; write it like bath-probe-drift:-5K."),
        ("bath-probe-drift:50K", "bath-probe-drift:50K is out of range; write -20K to 20K."),
        ("heater-half:0%", "heater-half:0% is out of range; write 1% to 100%."),
        ("relay-welded@hold+soon", 'The fault relay-welded: "soon" is no number with a unit'),
        ("relay-welded@hold+5", 'The fault relay-welded: "5" has no unit'),
        ("relay-welded/-5min", '"-5min" is before its time'),
        ("lid-off@melt/0s", 'The fault lid-off is to last "0s"; write /30s, or leave / out.'),
        ("clock-back/5min", "clock-back happens in a moment and has no end; leave /5min out."),
        ("amount-wrong@hold", "amount-wrong is made before a run begins; leave @hold out"),
    ],
)
def test_what_can_not_be_is_refused_in_one_sentence(text: str, sentence: str) -> None:
    with pytest.raises(UsageError) as refused:
        parse_fault(text)
    said = str(refused.value)
    assert sentence in said
    assert "\n" not in said


def test_a_phase_that_the_profile_does_not_have_is_refused() -> None:
    machine = load_machine_file(bench_machine_path("reference")).machine
    dark = load_profile("dark", machine)
    (plan,) = plans_for(["relay-welded@hold"], dark)
    assert plan.phase == "hold"
    with pytest.raises(UsageError, match="its phases are melt, cool, rewarm, hold"):
        plans_for(["relay-welded@hold", "heater-dead@held"], dark)


@pytest.mark.parametrize("fault", [fault for fault in BenchFault if fault.size is not None])
def test_every_usual_size_can_be_written_and_read_back(fault: BenchFault) -> None:
    assert fault.size is not None
    text = size_text(fault.size, fault.size.usual)
    assert parse_fault(f"{fault}:{text}").by == pytest.approx(fault.size.usual)
    assert FaultPlan(fault=fault).by == fault.size.usual
    assert fault.size.least <= fault.size.usual <= fault.size.most


def test_a_fault_without_a_size_has_the_size_0() -> None:
    assert FaultPlan(fault=BenchFault.HEATER_DEAD).by == 0.0


@pytest.fixture
def bench() -> Bench:
    """A bench with nothing broken."""
    return attach(
        machine="reference",
        seed=1,
        kind=Kind.DARK,
        batch_kg=1.5,
        seed_share=0.0,
        fitted=frozenset(),
    )


def at(now_s: float, *entered: str) -> Moment:
    """A moment at which phases were entered."""
    events = tuple(
        Event(name=EventName.PHASE_ENTERED, facts={"phase": name, "bowl_target_c": 50.0})
        for name in entered
    )
    return a_moment(now_s, events=events)


def is_dead(bench: Bench) -> bool:
    """Whether the bench's element is."""
    return bench.altered(Part.ELEMENT, 500.0) == 0.0


def test_what_is_broken_from_the_start_is_broken_before_the_first_tick(bench: Bench) -> None:
    FaultScript([parse_fault("heater-dead")], bench)
    assert is_dead(bench)


def test_a_fault_comes_with_its_phase_and_delay_and_goes_after_its_time(bench: Bench) -> None:
    script = FaultScript([parse_fault("heater-dead@cool+10s/20s")], bench)
    dead = []
    for now_s in range(60):
        script.tell(at(now_s, *(("melt",) if now_s == 0 else ("cool",) if now_s == 5 else ())))
        dead.append(is_dead(bench))
    assert dead == [False] * 15 + [True] * 20 + [False] * 25


def test_a_fault_from_the_start_goes_after_its_time(bench: Bench) -> None:
    script = FaultScript([parse_fault("heater-dead/20s")], bench)
    dead = []
    for now_s in range(100, 140):
        script.tell(at(now_s))
        dead.append(is_dead(bench))
    assert dead == [True] * 20 + [False] * 20


def test_a_delay_that_outlasts_its_phase_still_counts_from_its_beginning(bench: Bench) -> None:
    script = FaultScript([parse_fault("heater-dead@melt+10s")], bench)
    script.tell(at(0.0, "melt"))
    script.tell(at(4.0, "cool"))
    assert not is_dead(bench)
    assert [plan.fault for plan in script.to_come] == [BenchFault.HEATER_DEAD]
    script.tell(at(10.0))
    assert is_dead(bench)
    assert script.to_come == ()


def test_the_same_fault_may_come_twice(bench: Bench) -> None:
    texts = ("heater-dead@melt+5s/5s", "heater-dead@melt+20s/5s")
    script = FaultScript([parse_fault(text) for text in texts], bench)
    dead = []
    for now_s in range(30):
        script.tell(at(now_s, *(("melt",) if now_s == 0 else ())))
        dead.append(is_dead(bench))
    assert dead == [5 <= now_s < 10 or 20 <= now_s < 25 for now_s in range(30)]


@pytest.mark.parametrize(
    "texts",
    [("heater-dead", "heater-dead@melt/5s"), ("heater-dead@melt/5s", "heater-dead@melt+2s/20s")],
)
def test_a_fault_that_is_broken_twice_at_once_is_not_mended_by_the_first_end(
    bench: Bench, texts: tuple[str, ...]
) -> None:
    script = FaultScript([parse_fault(text) for text in texts], bench)
    for now_s in range(20):
        script.tell(at(now_s, *(("melt",) if now_s == 0 else ())))
        assert is_dead(bench)


def test_what_happens_in_a_moment_may_happen_again(bench: Bench) -> None:
    whole_kg = bench.plant.water_kg
    texts = ("water-spilled:50%@melt", "water-spilled:50%@melt+5s", "clock-forward:60s@melt")
    script = FaultScript(
        [parse_fault(text) for text in (*texts, "clock-forward:5s@melt+9s")], bench
    )
    for now_s in range(20):
        script.tell(at(now_s, *(("melt",) if now_s == 0 else ())))
    assert bench.plant.water_kg == pytest.approx(0.25 * whole_kg)
    assert bench.altered(Part.CLOCK, 0.0) == pytest.approx(65.0)


def test_a_fault_has_the_size_that_was_written(bench: Bench) -> None:
    FaultScript([parse_fault("heater-half:30%")], bench)
    assert bench.altered(Part.ELEMENT, 500.0) == pytest.approx(150.0)


def test_a_cook_may_fill_the_bowl_with_too_much_of_the_wrong_chocolate() -> None:
    machine = load_machine_file(bench_machine_path("reference")).machine
    profile = load_profile("dark", machine)
    plans = [parse_fault(text) for text in ("profile-wrong", "amount-wrong:120%")]
    in_bowl, filled = really_in_bowl(plans, profile)
    assert in_bowl == replace(profile, kind=Kind.MILK)
    assert filled == pytest.approx(1.2)
    assert really_in_bowl([plans[0], plans[0]], profile)[0].kind is Kind.MILK
    assert really_in_bowl([], profile) == (profile, 1.0)
