"""What holds on the bench whatever is done to it: heat is kept, fractions stay fractions."""

import math
from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from controller.ports import Kind
from hardware.bench.attach import Bench, BenchFault, attach
from hardware.bench.machines import MACHINES
from hardware.bench.plant import Plant

FEW = settings(max_examples=25, deadline=None)

HANDS: dict[str, Callable[[Plant], None]] = {
    "nothing": lambda _plant: None,
    "swap some": lambda plant: plant.swap_water(share=0.3, water_c=12.0),
    "swap all": lambda plant: plant.swap_water(share=1.0, water_c=12.0),
    "pour": lambda plant: plant.pour_water(mass_kg=2.0, water_c=80.0),
    "spill": lambda plant: plant.spill(share=0.7),
    "spill all": lambda plant: plant.spill(share=1.0),
    "seed": lambda plant: plant.add_seed(0.15),
    "top up": lambda plant: plant.top_up(mass_kg=0.2, content_c=45.0),
    "lid off": lambda plant: plant.open_lid(True),
    "lid on": lambda plant: plant.open_lid(False),
    "bowl out": lambda plant: plant.lift_bowl(True),
    "bowl in": lambda plant: plant.lift_bowl(False),
    "splash": lambda plant: plant.splash(0.01),
}
Order = tuple[float, bool, float, str]
orders = st.lists(
    st.tuples(
        st.floats(0.1, 400.0),  # s until the next order
        st.booleans(),  # heater
        st.sampled_from([0.0, 12.0, 30.0, 90.0, -30.0]),  # stirrer, rpm
        st.sampled_from(["nothing", "nothing", *HANDS]),
    ),
    min_size=1,
    max_size=12,
)
kinds = st.sampled_from(list(Kind))
machines = st.sampled_from([*MACHINES, "drawn-1-1", "drawn-1-2", "drawn-1-3"])


def a_bench(machine: str, kind: Kind, seed: int = 0) -> Bench:
    """A bench of 1 kg with everything fitted."""
    return attach(
        machine=machine,
        seed=seed,
        kind=kind,
        batch_kg=1.0,
        seed_share=0.0,
        fitted=frozenset({"level", "shaft", "load"}),
    )


def obey(bench: Bench, script: list[Order]) -> list[float]:
    """Carry a script out; what both thermometers read after each order."""
    now_s, seen = 0.0, []
    for span_s, on, rpm, deed in script:
        bench.devices.heater.drive(on=on, now_s=now_s)
        bench.devices.stirrer.drive(rpm=rpm, now_s=now_s)
        HANDS[deed](bench.plant)
        now_s += span_s
        seen += [bench.devices.bath.read(now_s).value, bench.devices.bowl.read(now_s).value]
    return seen


@FEW
@given(machine=machines, kind=kinds, script=orders)
def test_no_heat_is_made_or_lost(machine: str, kind: Kind, script: list[Order]) -> None:
    bench = a_bench(machine, kind)
    obey(bench, script)
    balance = bench.heat_balance()
    moved_j = balance.put_in_j + abs(balance.carried_j) + abs(balance.lost_j)
    assert abs(balance.gap_j) <= 1e-6 * max(1.0, moved_j)
    assert balance.put_in_j >= bench.truth().energy_j
    assert abs(bench.mass_balance().gap_kg) <= 1e-9


@FEW
@given(kind=kinds, script=orders, seed=st.integers(0, 2**32))
def test_the_same_seed_and_calls_give_the_same_readings(
    kind: Kind, script: list[Order], seed: int
) -> None:
    first, second = a_bench("reference", kind, seed), a_bench("reference", kind, seed)
    assert obey(first, script) == obey(second, script)
    assert first.truth() == second.truth()


@FEW
@given(machine=machines, kind=kinds, script=orders)
def test_fractions_stay_fractions_and_temperatures_stay_possible(
    machine: str, kind: Kind, script: list[Order]
) -> None:
    bench = a_bench(machine, kind)
    obey(bench, script)
    plant = bench.plant
    assert plant.form_v >= 0.0
    assert plant.unstable >= 0.0
    assert plant.form_v + plant.unstable <= 0.9
    assert 0.0 <= plant.memory <= 1.0
    assert -1e-9 <= plant.water_kg < 10.0
    assert 0.0 <= plant.solid_kg <= plant.mass_kg
    # A pot that has run dry under power glows: 1 kW over the 2 W/K of a pot is half a thousand.
    dry = plant.covered < 1.0 or "spill all" in [deed for *_, deed in script]
    assert 4.0 < plant.bath_c < (900.0 if dry else 106.0)
    assert 4.0 < plant.content_c < (300.0 if dry else 106.0)


@FEW
@given(faults=st.lists(st.sampled_from(list(BenchFault)), max_size=6), script=orders)
def test_no_set_of_faults_breaks_the_bench(faults: list[BenchFault], script: list[Order]) -> None:
    bench = a_bench("reference", Kind.DARK)
    for fault in faults:
        bench.inject(fault)
    obey(bench, script)
    assert math.isfinite(bench.truth().bowl_c)
    assert bench.heat_balance().gap_j == pytest.approx(0.0, abs=1.0)
