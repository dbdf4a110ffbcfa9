"""What the stirrer's load says of crystals: relative to the same batch when it was all melted.

Responsible for learning how thick the melted batch is and how cold thickens it, and for what is
left over beyond that; not for what becomes of it (temper). Absolute viscosities differ between
laboratories by 2 to 7 times (Aeschlimann & Beckett 2000), so only ratios within a batch are used.
"""

import math

from msgspec import Struct

# Own engineering values, not published.
MELTED_FROM_C = 36.5  # on dark chocolate's scale: nothing is solid there that thickens
PER_KILOKELVIN = 3.6  # 30 kJ/mol over the gas constant, in thousands of kelvins
PER_KILOKELVIN_SD = 0.9
READ_SD = 0.03  # logarithm of one reading, what it has in common with the next one included
ABOVE_SD = 0.1  # the same of one that is above what is believed
SURPRISE = 2.5  # so many deviations below, and what was believed was wrong
SLOPES = (1.8, 5.4)  # two deviations about the usual: 15 to 45 kJ/mol
FLOOR_SD = 0.025
SIZE_UNSURE = 0.3  # of what was added may be otherwise than told
ANY_SD = 10.0
LEAST_W = 0.01
KNOWN_SD = 0.2  # a melt known no better says nothing
REFERENCE_PER_K = 1000.0 / 313.15  # rheometers measure chocolate at 40 °C


class Melt(Struct, frozen=True, kw_only=True):
    """How thick the batch is without crystals: logarithm of the load at 40 °C, its slope over 1/T.

    Both with their covariance, as a least-squares line that is drawn point by point.
    """

    level: float = 0.0
    slope: float = PER_KILOKELVIN
    var_level: float = ANY_SD * ANY_SD
    cov: float = 0.0
    var_slope: float = PER_KILOKELVIN_SD * PER_KILOKELVIN_SD
    at_rpm: float = 0.0  # at which it was learned


def cold_of(temp_c: float) -> float:
    """The line's abscissa at a temperature in °C: 0 at 40 °C, more where it is colder."""
    return 1000.0 / (temp_c + 273.15) - REFERENCE_PER_K


def learned(melt: Melt, load_w: float, temp_c: float, rpm: float) -> Melt:
    """The line after one more reading of a batch that should have no crystals.

    Whatever is left of them only thickens, so a reading below the line counts for more than one
    above it, and one far below says that all before it had some.
    """
    if rpm != melt.at_rpm:
        melt = Melt(slope=melt.slope, var_slope=melt.var_slope, at_rpm=rpm)
    cold = cold_of(temp_c)
    off = math.log(load_w) - melt.level - melt.slope * cold
    to_level = melt.var_level + cold * melt.cov
    to_slope = melt.cov + cold * melt.var_slope
    whole = to_level + cold * to_slope
    read_sd = READ_SD if off < 0.0 else ABOVE_SD
    var_level = melt.var_level
    if off < 0.0 and off * off > SURPRISE * SURPRISE * (whole + READ_SD * READ_SD):
        var_level, to_level, whole = (one + off * off for one in (var_level, to_level, whole))
    total = whole + read_sd * read_sd
    by_level, by_slope = to_level / total, to_slope / total
    least, most = SLOPES
    return Melt(
        level=melt.level + by_level * off,
        slope=min(max(melt.slope + by_slope * off, least), most),
        var_level=max(var_level - by_level * to_level, FLOOR_SD**2),
        cov=melt.cov - by_level * to_slope,
        var_slope=max(melt.var_slope - by_slope * to_slope, 0.0),
        at_rpm=melt.at_rpm,
    )


def filled(melt: Melt, part: float) -> Melt:
    """The line once a `part` of what is now in the bowl came in: more turns, and takes more."""
    return Melt(
        level=melt.level - math.log1p(-part),
        slope=melt.slope,
        var_level=melt.var_level + (SIZE_UNSURE * part) ** 2,
        cov=melt.cov,
        var_slope=melt.var_slope,
        at_rpm=melt.at_rpm,
    )


def excess(melt: Melt, load_w: float, temp_c: float, rpm: float) -> tuple[float, float] | None:
    """Logarithm of the load over the melt's at this temperature, and its standard deviation.

    None where there is nothing to compare with.
    """
    if rpm != melt.at_rpm or not load_w >= LEAST_W:
        return None
    cold = cold_of(temp_c)
    variance = melt.var_level + cold * (2.0 * melt.cov + cold * melt.var_slope)
    sd = math.sqrt(max(variance, 0.0) + FLOOR_SD * FLOOR_SD)
    if not sd <= KNOWN_SD:
        return None
    return math.log(load_w) - melt.level - melt.slope * cold, sd
