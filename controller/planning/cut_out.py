"""What an independent cut-out is set to, and how soon the water it allows scalds.

Responsible for the numbers of walls that bainward has no part in; not for fitting them.
"""

import math
from itertools import pairwise

# A bimetal cut-out opens within so much of what is printed on it, and comes in steps of so much
# (common practice, no source).
CUT_OUT_K = 5.0
STEP_C = 5.0
# Seconds in which water of that temperature burns an adult's skin through its whole depth: US
# Consumer Product Safety Commission, Tap Water Scalds, document 5098 (120, 130, 140 and 150 °F;
# read second-hand).
SCALDS = ((48.9, 300.0), (54.4, 30.0), (60.0, 6.0), (65.6, 2.0))


def cut_out_c(bath_max_c: float) -> float:
    """The nominal temperature of a cut-out that never opens while the bath is within its limit."""
    return STEP_C * math.ceil((bath_max_c + CUT_OUT_K) / STEP_C - 1e-9)


def scald_s(water_c: float) -> float:
    """Seconds until it burns deeply; infinite below what the source has, its least above that."""
    if water_c < SCALDS[0][0]:
        return math.inf
    for (low_c, low_s), (high_c, high_s) in pairwise(SCALDS):
        if water_c <= high_c:
            part = (water_c - low_c) / (high_c - low_c)
            return low_s * math.pow(high_s / low_s, part)
    return SCALDS[-1][1]
