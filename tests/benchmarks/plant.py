"""How fast the bench's plant is by itself: run it, and read the ratios.

Usage: python tests/benchmarks/plant.py

Machines are noisy: figures are the best of several spans, and compared within one run with the
barest plant there could be: two nodes, heater and loss, stepped by Heun's method.
Responsible for figures only; no test depends on them.
"""

import cProfile
import pstats
import sys
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from controller.ports import Kind
from hardware.bench.attach import Bench, attach

SPAN_S = 200  # shorter than a busy machine's slice of time
SPANS = 60
FITTED = frozenset({"level", "shaft", "load"})


class Bare:
    """Bath and bowl, a heater and a loss: nothing less is a plant."""

    def __init__(self) -> None:
        """Both at 20 °C."""
        self.bath_c = self.bowl_c = 20.0
        self.power_w = 500.0

    def second(self) -> None:
        """One step of Heun's method."""
        bath_c, bowl_c = self.bath_c, self.bowl_c
        through_w = 6.2 * (bath_c - bowl_c)
        bath = (self.power_w - through_w - 2.0 * (bath_c - 20.0)) / 12_940.0
        bowl = (through_w - 0.33 * (bowl_c - 20.0)) / 2_685.0
        ahead_w = 6.2 * (bath_c + bath - bowl_c - bowl)
        self.bath_c += 0.5 * (
            bath + (self.power_w - ahead_w - 2.0 * (bath_c + bath - 20.0)) / 12_940.0
        )
        self.bowl_c += 0.5 * (bowl + (ahead_w - 0.33 * (bowl_c + bowl - 20.0)) / 2_685.0)


def per_second(second: Callable[[float], object], now_s: float) -> float:
    """Real seconds that a simulated one takes, the best of several spans."""
    best = float("inf")
    for _ in range(SPANS):
        began = time.perf_counter()
        for number in range(SPAN_S):
            second(now_s + number)
        best = min(best, time.perf_counter() - began)
        now_s += SPAN_S
    return best / SPAN_S


def a_bench(law: str) -> Bench:
    """The reference machine with dark chocolate, stirred."""
    bench = attach(
        machine="reference",
        seed=1,
        kind=Kind.DARK,
        batch_kg=1.5,
        seed_share=0.0,
        fitted=FITTED,
        law=law,
    )
    bench.devices.stirrer.drive(rpm=30.0, now_s=0.0)
    return bench


def at_work(law: str) -> Bench:
    """The same melted, cooled and brought to work at about 31.8 °C."""
    bench = a_bench(law)
    plant = bench.plant
    for power_w, until_s in ((500.0, 2200.0), (0.0, 2800.0)):
        plant.heat(power_w)
        plant.advance(until_s)
    plant.swap_water(share=0.9, water_c=15.0)
    plant.advance(4000.0)
    plant.heat(300.0)
    plant.advance(4400.0)
    plant.heat(32.0)
    plant.advance(5000.0)
    return bench


def in_the_melt(law: str) -> Bench:
    """The same melted, with nothing solid left."""
    bench = a_bench(law)
    bench.plant.heat(500.0)
    bench.plant.advance(2400.0)
    bench.plant.heat(90.0)
    bench.plant.advance(3600.0)
    return bench


def reading(bench: Bench) -> Callable[[float], object]:
    """A second of the plant with its three thermometers read."""
    bath, bowl, guard = bench.devices.bath.read, bench.devices.bowl.read, bench.guard_probe.read

    def second(now_s: float) -> None:
        bath(now_s)
        bowl(now_s)
        guard(now_s)

    return second


def main() -> None:
    """Print the figures."""
    bare = Bare()
    bare_s = per_second(lambda _now_s: bare.second(), 0.0)
    rows = [("two bare nodes", bare_s)]
    for law in ("pools", "nuclei"):
        work, melt = at_work(law), in_the_melt(law)
        rows += [
            (f"plant at work, law {law}", per_second(work.plant.advance, 5001.0)),
            (f"plant in the melt, law {law}", per_second(melt.plant.advance, 3601.0)),
            (f"at work, 3 probes read, law {law}", per_second(reading(work), 30_001.0)),
        ]
    for name, cost_s in rows:
        print(
            f"{name:36} {1 / cost_s:9.0f} simulated seconds a second"
            f" {cost_s * 1e6:7.2f} µs {cost_s / bare_s:6.1f} times bare"
        )
    if "--profile" in sys.argv:
        second = reading(at_work("pools"))
        with cProfile.Profile() as profiler:
            per_second(second, 5001.0)
        pstats.Stats(profiler).sort_stats("tottime").print_stats(20)


if __name__ == "__main__":
    main()
