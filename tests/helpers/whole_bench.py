"""A bench with nothing broken, for tests of what breaks on it.

Responsible for its amounts and its turning stirrer; not for faults, nor for any expectation.
"""

from controller.ports import Kind
from hardware.bench.attach import Bench, attach


def whole_bench(fitted: frozenset[str], *, filled: float = 1.0) -> Bench:
    """The reference machine with dark chocolate, its stirrer told to turn."""
    bench = attach(
        machine="reference",
        seed=5,
        kind=Kind.DARK,
        batch_kg=1.5,
        seed_share=0.0,
        fitted=fitted,
        filled=filled,
    )
    bench.devices.stirrer.drive(rpm=30.0, now_s=0.0)
    return bench
