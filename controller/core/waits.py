"""How long people take to answer, and several answers one after the other.

Responsible for one assumption, that half of all answers come within a minute and nine in ten within
five, and for what follows of it for a sum; not for which questions there are (forecast).
"""

import math
from statistics import NormalDist
from typing import NamedTuple

# Own engineering values, not published: nobody can know how far off the cook is. The plan says it
# as "within a minute or a few". The logarithm of a delay is taken to be normal.
WAIT_S, WAIT_P90_S = 60.0, 300.0
_NORMAL = NormalDist()
NINE_IN_TEN_SD = _NORMAL.inv_cdf(0.9)
WAIT_SPREAD = math.log(WAIT_P90_S / WAIT_S) / NINE_IN_TEN_SD  # one deviation of the logarithm
EARLY, LIKELY, LATE = 0.1, 0.5, 0.9
MOST_GONE = 1.0 - 1e-6  # who has not come by then is not to be reckoned with


class Wait(NamedTuple):
    """Seconds that a tenth, half and nine tenths of such waits are over in."""

    early_s: float
    likely_s: float
    late_s: float


# Of so many answers, one after the other: by convolution of the law above
# (tests/unit/test_core_waits.py does it again).
_OF_SEVERAL = (
    Wait(0.0, 0.0, 0.0),
    Wait(12.0, 60.0, 300.0),
    Wait(48.8, 161.2, 561.8),
    Wait(99.0, 272.5, 798.5),
    Wait(158.8, 388.8, 1020.2),
    Wait(224.5, 508.5, 1232.5),
    Wait(295.8, 629.8, 1437.2),
    Wait(371.0, 753.0, 1636.5),
    Wait(449.2, 876.8, 1831.2),
)


def wait_of(count: int, open_for_s: float = 0.0) -> Wait:
    """What so many answers still take; the first question has been open for `open_for_s`.

    Beyond eight it goes on as from seven to eight.
    """
    if not open_for_s > 0.0 or count < 1:
        return _several(count)
    return _added(_left(open_for_s), _several(count - 1))


def _several(count: int) -> Wait:
    last = len(_OF_SEVERAL) - 1
    if count <= last:
        return _OF_SEVERAL[max(0, count)]
    before, most = _OF_SEVERAL[last - 1], _OF_SEVERAL[last]
    more = count - last
    return Wait(*(high + more * (high - low) for low, high in zip(before, most, strict=True)))


def _left(open_for_s: float) -> Wait:
    """What an answer still takes that has not come for so long."""
    gone = _NORMAL.cdf(math.log(open_for_s / WAIT_S) / WAIT_SPREAD)
    gone = min(gone, MOST_GONE)
    early, likely, late = (
        WAIT_S * math.exp(WAIT_SPREAD * _NORMAL.inv_cdf(gone + (1.0 - gone) * part))
        for part in (EARLY, LIKELY, LATE)
    )
    return Wait(*(max(0.0, at_s - open_for_s) for at_s in (early, likely, late)))


def _added(one: Wait, other: Wait) -> Wait:
    """Both: medians add up, and so do the squares of what is earlier or later than they."""
    likely_s = one.likely_s + other.likely_s
    return Wait(
        likely_s - math.hypot(one.likely_s - one.early_s, other.likely_s - other.early_s),
        likely_s,
        likely_s + math.hypot(one.late_s - one.likely_s, other.late_s - other.likely_s),
    )
