"""What holds on the bench whatever is done to it: heat is kept, fractions stay fractions."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from controller.ports import Kind
from hardware.bench.attach import Bench, BenchFault, attach

FEW = settings(max_examples=25, deadline=None)

Order = tuple[float, bool, float, float, float]
orders = st.lists(
    st.tuples(
        st.floats(0.1, 400.0),  # s until the next order
        st.booleans(),  # heater
        st.sampled_from([0.0, 12.0, 30.0, 90.0]),  # stirrer, rpm
        st.sampled_from([0.0, 0.0, 0.0, 0.3, 1.0]),  # share of water swapped for 12 °C
        st.sampled_from([0.0, 0.0, 0.0, 0.15]),  # seed, kg
    ),
    min_size=1,
    max_size=12,
)
kinds = st.sampled_from(list(Kind))
machines = st.sampled_from(["reference", "brisk"])


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
    plant = bench._plant  # noqa: SLF001 - the cook's hands, without a cook
    now_s, seen = 0.0, []
    for span_s, on, rpm, share, seed_kg in script:
        bench.devices.heater.drive(on=on, now_s=now_s)
        bench.devices.stirrer.drive(rpm=rpm, now_s=now_s)
        if share:
            plant.swap_water(share=share, water_c=12.0)
        if seed_kg:
            plant.add_seed(seed_kg)
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
    truth = bench.truth()
    assert truth.form_v >= 0.0
    assert truth.unstable >= 0.0
    assert truth.form_v + truth.unstable <= 0.9
    assert 10.0 < truth.bath_c < 105.0
    assert 10.0 < truth.bowl_c < 105.0


@FEW
@given(faults=st.lists(st.sampled_from(list(BenchFault)), max_size=6), script=orders)
def test_no_set_of_faults_breaks_the_bench(faults: list[BenchFault], script: list[Order]) -> None:
    bench = a_bench("reference", Kind.DARK)
    for fault in faults:
        bench.inject(fault)
    obey(bench, script)
    assert math.isfinite(bench.truth().bowl_c)
    assert bench.heat_balance().gap_j == pytest.approx(0.0, abs=1.0)
