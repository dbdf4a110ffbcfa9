"""How sure a verdict of temper is called, by how often such a chance came true.

Responsible for that share alone; not for the chances (tempering). A chance of possible batches is
no share of real ones, for the possible batches are no census.
"""

from itertools import pairwise

from controller.core.tempering import Temper

LEAST_CONFIDENCE = 0.65  # less is no verdict: own engineering value, not published
# Points of chance and share between which lines are drawn: what tests/benchmarks/temper.py found of
# machines drawn-1001-1 to -221 and drawn-1002-1 to -500, both laws (8775 moments with a load and as
# many without), smoothed by hand. In temper and over-tempered are surer than 0.8 only where they
# were right even were the other verdicts as frequent. Melted out needs most: there the melt's own
# load misled most.
Claims = tuple[tuple[float, float], ...]
BY_LOAD: dict[Temper, Claims] = {
    Temper.IN_TEMPER: (
        (0.0, 0.0),
        (0.5, 0.5),
        (0.6, 0.7),
        (0.68, 0.76),
        (0.7, 0.78),
        (0.775, 0.797),
        (0.785, 0.9),
        (0.82, 0.95),
        (0.88, 0.975),
        (1.0, 0.985),
    ),
    Temper.NOT_YET: (
        (0.0, 0.0),
        (0.5, 0.45),
        (0.6, 0.68),
        (0.66, 0.76),
        (0.7, 0.81),
        (0.74, 0.88),
        (0.77, 0.93),
        (0.84, 0.97),
        (1.0, 0.985),
    ),
    Temper.OVER: (
        (0.0, 0.0),
        (0.5, 0.4),
        (0.6, 0.6),
        (0.66, 0.68),
        (0.7, 0.77),
        (0.755, 0.797),
        (0.775, 0.88),
        (0.8, 0.95),
        (0.84, 0.97),
        (1.0, 0.985),
    ),
    Temper.UNDER: (
        (0.0, 0.0),
        (0.4, 0.5),
        (0.5, 0.75),
        (0.55, 0.88),
        (0.66, 0.93),
        (0.69, 0.97),
        (1.0, 0.985),
    ),
    Temper.MELTED_OUT: (
        (0.0, 0.0),
        (0.5, 0.3),
        (0.7, 0.5),
        (0.74, 0.6),
        (0.8, 0.68),
        (0.815, 0.75),
        (0.83, 0.86),
        (0.85, 0.93),
        (1.0, 0.96),
    ),
}
# By temperatures alone in temper and melted out hardly ever have a chance that could be judged:
# theirs is what the other verdicts had together on machines drawn-2001-1 to drawn-2056-7.
_ALONE: Claims = (
    (0.0, 0.0),
    (0.5, 0.42),
    (0.7, 0.53),
    (0.78, 0.7),
    (0.84, 0.9),
    (0.9, 0.965),
    (1.0, 0.98),
)
ALONE: dict[Temper, Claims] = {
    Temper.NOT_YET: (
        (0.0, 0.0),
        (0.5, 0.35),
        (0.7, 0.55),
        (0.8, 0.69),
        (0.88, 0.77),
        (0.9, 0.91),
        (0.95, 0.97),
        (1.0, 0.985),
    ),
    Temper.UNDER: (
        (0.0, 0.0),
        (0.5, 0.42),
        (0.7, 0.66),
        (0.73, 0.77),
        (0.79, 0.79),
        (0.81, 0.88),
        (0.86, 0.92),
        (0.9, 0.965),
        (1.0, 0.98),
    ),
    Temper.OVER: (
        (0.0, 0.0),
        (0.5, 0.42),
        (0.7, 0.7),
        (0.73, 0.86),
        (0.79, 0.9),
        (0.82, 0.95),
        (1.0, 0.985),
    ),
    Temper.IN_TEMPER: _ALONE,
    Temper.MELTED_OUT: _ALONE,
}


def claimed(verdict: Temper, chance: float, *, is_narrow: bool) -> float:
    """How sure to call a verdict of that chance, both 0 to 1.

    `is_narrow` says that a load or a clean set test speaks besides temperatures.
    """
    points = (BY_LOAD if is_narrow else ALONE)[verdict]
    for (low, least), (high, most) in pairwise(points):
        if chance <= high:
            return least + (most - least) * (chance - low) / (high - low)
    return points[-1][1]


def verdict_of(chances: dict[Temper, float], *, is_narrow: bool) -> tuple[Temper, float]:
    """The likeliest verdict and how sure it is; "unknown" where it is not sure enough."""
    best = max(chances, key=chances.__getitem__)
    sure = claimed(best, chances[best], is_narrow=is_narrow)
    return (best if sure >= LEAST_CONFIDENCE else Temper.UNKNOWN), sure
