"""The picture of the control benchmark: all controllers and the bound on one machine.

Responsible for the picture alone.
"""

from collections.abc import Sequence
from pathlib import Path

from tests.benchmarks import control_profiles as profiles
from tests.benchmarks.control_measures import HEATED, rivals
from tests.benchmarks.control_runs import run, subject
from tests.benchmarks.control_sides import TITLES
from tests.benchmarks.rivals.bound import heating_bound, way_up
from tests.benchmarks.rivals.stage import Stage

S_PER_MIN = 60.0
NEAR_K = {"melt": 4.0, "rewarm": 3.5}
WIDE_S = 2400


def _minutes(temps: Sequence[float]) -> list[float]:
    return [second / S_PER_MIN for second in range(1, len(temps) + 1)]


def draw(machine: str, path: Path) -> None:
    """Melt and rewarm of one machine, by everybody, into a file (.svg or .png)."""
    import matplotlib as mpl  # noqa: PLC0415 - an extra, and slow to import

    mpl.use("agg")
    from matplotlib import pyplot as plt  # noqa: PLC0415 - the same

    one = subject(machine)
    profile = profiles.curve(one.parameters)
    legs = run(one, profile).legs
    figure, axes = plt.subplots(1, len(HEATED), figsize=(11, 4.2), layout="constrained")
    for name, axis in zip(HEATED, axes, strict=True):
        leg = legs[name]
        aim = profiles.aim(next(phase for phase in profile.phases if phase.name == name))
        bound = heating_bound(leg.start, aim)
        span = int(bound.time_s) + WIDE_S
        for word, rival in rivals(one, aim).items():
            seen = Stage(leg.start, one.machine).play(rival, aim, span).seen
            axis.plot(_minutes(seen), seen, lw=1, label=TITLES[word])
        own = [*leg.trace.seen, *(legs["hold"].trace.seen if name == "rewarm" else ())][:span]
        axis.plot(_minutes(own), own, lw=2, color="black", label=TITLES["bainward"])
        fastest = way_up(leg.start, aim, bound.switch_s, int(bound.time_s))
        axis.plot(_minutes(fastest), fastest, lw=1, ls="--", color="grey", label="the bound")
        axis.axhspan(aim.target_c - aim.band_k, aim.target_c + aim.band_k, color="0.9")
        axis.set_ylim(aim.target_c - NEAR_K[name], aim.target_c + NEAR_K[name] * 0.75)
        axis.set_xlim(0.5 * bound.time_s / S_PER_MIN * (name == "melt"), span / S_PER_MIN)
        axis.set(title=f"{name}, {machine}", xlabel="min", ylabel="bowl °C")
    axes[0].legend(loc="lower right", fontsize="small")
    figure.savefig(path)
    plt.close(figure)
