"""Fat in a thermostat: a crystal law followed at one temperature, with no plant around it.

Responsible for the following only; not for what a law must show.
"""

from typing import NamedTuple

from hardware.bench.crystals import Law

STIRRED_PER_S = 12.5
STILL_PER_S = 0.0
# Wille & Lutton, J. Am. Oil Chem. Soc. 43:491 (1966), quoted second-hand, °C.
FORM_IV_MELTS_C = 27.5
FORM_V_MELTS_C = 33.8
FORM_VI_MELTS_C = 36.3


class Melt(NamedTuple):
    """A state of the fat: fractions solid, and the memory."""

    unstable: float
    form_v: float
    memory: float


CLEAN = Melt(0.0, 0.0, 0.0)


def after(
    law: Law,
    melt: Melt,
    temp_c: float,
    span_s: int,
    per_s: float = STIRRED_PER_S,
    *,
    forgetful: bool = False,
) -> Melt:
    """What is left or grown after a time at one temperature (Euler, 1 s).

    Args:
        law: What it follows.
        melt: What it is at first.
        temp_c: The temperature.
        span_s: The time, in whole seconds.
        per_s: Shear rate, 1/s.
        forgetful: Whether the memory is held at nothing.
    """
    sheared = law.shear(per_s)
    for _ in range(span_s):
        moves = law.rates(temp_c, *melt, sheared)
        melt = Melt(*(value + move for value, move in zip(melt, moves, strict=True)))
        if forgetful:
            melt = melt._replace(memory=0.0)
    return melt
