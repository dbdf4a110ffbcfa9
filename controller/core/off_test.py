"""An off test: whether a bath that has not answered its heat misses it once it is held back.

An open lid, a bowl that takes much or a weak heater keep a bath from rising, as a dead heater does;
but they act on with and without heat, so that only what the heater gave is missed. Responsible for
that arithmetic; not for when heat counts as answered (evidence) or what comes of it (interlocks).
"""

from msgspec import Struct

from controller.core import thresholds as th
from controller.core.records import replace

Look = tuple[float, float, float, float]  # time, bath, expected rise, on-time asked


class OffTest(Struct, frozen=True, kw_only=True):
    """One test, from the moment in which heat was held back."""

    began_s: float
    from_c: float  # bath, by the line through the minute before
    k_per_s: float  # of that line
    share: float  # of full power that was given meanwhile
    withheld_s: float = 0.0  # full-power seconds that the bath has got less since


def is_due(given_s: float, share: float) -> bool:
    """Whether heat has gone unanswered for too long: of late so much of full power, or a lot."""
    times = 1.0 if share >= th.GIVEN_SHARE else th.UNVERIFIED_AT_MOST
    return not given_s <= times * th.UNVERIFIED_BUDGET_S


def begun(looks: tuple[Look, ...]) -> OffTest:
    """A test that begins with the last of these looks, which reach back for a minute."""
    count, (now_s, _, _, asked_s) = len(looks), looks[-1]
    mean_s = sum(look[0] for look in looks) / count
    mean_c = sum(look[1] for look in looks) / count
    spread = sum((look[0] - mean_s) ** 2 for look in looks)
    k_per_s = sum((look[0] - mean_s) * (look[1] - mean_c) for look in looks) / (spread or 1.0)
    span_s = now_s - looks[0][0]
    return OffTest(
        began_s=now_s,
        from_c=mean_c + k_per_s * (now_s - mean_s),
        k_per_s=k_per_s,
        share=(asked_s - looks[0][3]) / span_s if span_s > 0.0 else 1.0,
    )


def went_on(test: OffTest, lagged: float, dt_s: float) -> OffTest:
    """The test a tick later, in which the element gave that share of full power."""
    return replace(test, withheld_s=test.withheld_s + (test.share - lagged) * dt_s)


def is_missed(test: OffTest, bath_c: float, now_s: float, full_k_per_s: float) -> bool:
    """Whether the bath is so far below its way of before that it must have been heated."""
    missing_k = test.from_c + test.k_per_s * (now_s - test.began_s) - bath_c
    due_k = th.MISSED_SHARE * test.withheld_s * full_k_per_s
    return missing_k >= max(th.MISSED_LEAST_K, due_k)
