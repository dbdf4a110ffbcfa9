"""What the stirrer's load says of crystals: relative to the same batch when it was all melted.

Responsible for learning how thick the melted batch is and how cold thickens it, and for what is
left over beyond that; not for what becomes of it (temper). Absolute viscosities differ between
laboratories by 2 to 7 times (Aeschlimann & Beckett 2000), so only ratios within a batch are used.
"""

import math

from msgspec import Struct

from controller.core.records import replace

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
THINNEST = 2.0  # so many deviations below its melt, and what the melt takes was believed wrong
THINNED_SD = 0.35  # so little is known of it then, at most
KNOWN_SD = 0.4  # a melt known no better says nothing
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
    above it, and one far below says that all before it had some: the line's slope, too, was of
    crystals that melted, and is as unknown as ever.
    """
    if rpm != melt.at_rpm:
        melt = Melt(slope=melt.slope, var_slope=melt.var_slope, at_rpm=rpm)
    cold = cold_of(temp_c)
    off, to_level, to_slope, whole = _beside(melt, load_w, cold)
    if off < 0.0 and off * off > SURPRISE * SURPRISE * (whole + READ_SD * READ_SD):
        melt = replace(melt, slope=PER_KILOKELVIN, cov=0.0, var_slope=PER_KILOKELVIN_SD**2)
        off = _beside(melt, load_w, cold)[0]
        melt = replace(melt, var_level=melt.var_level + off * off)
        off, to_level, to_slope, whole = _beside(melt, load_w, cold)
    read_sd = READ_SD if off < 0.0 else ABOVE_SD
    total = whole + read_sd * read_sd
    by_level, by_slope = to_level / total, to_slope / total
    least, most = SLOPES
    return Melt(
        level=melt.level + by_level * off,
        slope=min(max(melt.slope + by_slope * off, least), most),
        var_level=max(melt.var_level - by_level * to_level, FLOOR_SD**2),
        cov=melt.cov - by_level * to_slope,
        var_slope=max(melt.var_slope - by_slope * to_slope, 0.0),
        at_rpm=melt.at_rpm,
    )


def _beside(melt: Melt, load_w: float, cold: float) -> tuple[float, float, float, float]:
    """How far a reading is off the line; its covariance with level and slope; its variance."""
    to_level = melt.var_level + cold * melt.cov
    to_slope = melt.cov + cold * melt.var_slope
    off = math.log(load_w) - melt.level - melt.slope * cold
    return off, to_level, to_slope, to_level + cold * to_slope


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


def thinned(melt: Melt, by: float) -> Melt:
    """The line once the batch was seen thinner than its melt by so much, a logarithm below 0.

    Nothing is thinner than its own melt, so the line lies no higher than that; how much lower
    nobody knows, for crystals may thicken what was seen.
    """
    var_level = min(melt.var_level + by * by, THINNED_SD**2)
    return replace(melt, level=melt.level + by, var_level=var_level)


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
