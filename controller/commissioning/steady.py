"""A thermometer watched until it stands still, and what it reads then.

Responsible for when a reading may be believed and how sure its mean is; not for what it should be
(calibration), nor for opening anything.
"""

import math
from collections.abc import Callable, Sequence
from itertools import pairwise
from statistics import fmean, stdev
from typing import NamedTuple

from controller.clock import Clock
from controller.ports import Fault, Quality, Reading, Sensor

# Own engineering values, not published.
EVERY_S = 1.0
WINDOW_S = 120  # over which a mean is taken; noise of 0.04 K and steps of 0.1 K give 0.01 K then
PATIENCE_S = 900.0  # a thick sleeve in ice that somebody stirs comes to rest long before
MOST_K_PER_MIN = 0.015  # a mean over the window is off by half of what it drifts meanwhile
MOST_SPREAD_K = 0.5  # noise and steps of a sound thermometer stay far below it
MOST_BAD = 0.1  # part of the readings that may fail: a conversion that collided is no defect
BLOCKS = 8  # means of parts of the window, whose spread says how sure the whole is
_MIN_S = 60.0
_EVEN = math.sqrt(12.0)  # an even chance over one step has a deviation of a step over this
UNKNOWN_STEP_K = 0.1  # a reading that never changes may hide in a step so big
_SAME_K = 1e-6
NEAR_ICE_K = 3.0


class Steady(NamedTuple):
    """A mean that may be believed."""

    mean_c: float
    sd_k: float  # one deviation of the mean
    drift_k_per_min: float


class Glance(NamedTuple):
    """How it stands while it is watched."""

    at_s: float
    value_c: float  # NaN where there is none
    drift_k_per_min: float  # NaN before the window is full


class UnsteadyError(Exception):
    """It never stood still; the sentence says what was seen."""


def watched(
    sensor: Sensor,
    clock: Clock,
    tell: Callable[[Glance], None] = lambda _: None,
    *,
    in_ice: bool = False,
) -> Steady:
    """Read it once a second until a window of it stands still.

    Args:
        sensor: the thermometer, °C.
        clock: waited on.
        tell: is shown every reading.
        in_ice: exactly 0 °C may be true, which elsewhere is the word of a shorted wire; it is
            believed after another value near it.

    Raises:
        UnsteadyError: it did not come to rest, or gave too few values.
    """
    began_s = due_s = clock.now_s()
    values: list[float] = []
    drift = math.nan
    while clock.now_s() - began_s < PATIENCE_S:
        values.append(_value_c(sensor.read(clock.now_s()), values, in_ice=in_ice))
        window = values[-WINDOW_S:]
        if len(window) == WINDOW_S and _are_enough(window):
            drift = _drift_k_per_min(window)
            if abs(drift) <= MOST_K_PER_MIN and _spread_k(window) <= MOST_SPREAD_K:
                return _mean(window, _step_k(values), drift)
        tell(Glance(clock.now_s() - began_s, values[-1], drift))
        due_s += EVERY_S
        clock.wait_until(due_s)
    raise UnsteadyError(_why_not(values[-WINDOW_S:]))


def _value_c(reading: Reading, before: Sequence[float], *, in_ice: bool) -> float:
    if reading.quality is Quality.GOOD:
        return reading.value
    is_zero = in_ice and reading.fault is Fault.ALL_ZERO
    return 0.0 if is_zero and any(abs(one) < NEAR_ICE_K for one in before) else math.nan


def _why_not(window: Sequence[float]) -> str:
    minutes = f"{PATIENCE_S / _MIN_S:g} minutes"
    if not _are_enough(window):
        return f"it gave too few values in {minutes}; see to its plug and wire"
    spread_k, drift = _spread_k(window), _drift_k_per_min(window)
    if spread_k > MOST_SPREAD_K and 2.0 * abs(drift) * WINDOW_S / _MIN_S < spread_k:
        return (
            f"its readings still spread over {spread_k:.2f} K after {minutes}; see to its wire, "
            "and keep it where nothing moves it"
        )
    return (
        f"it still drifts by {drift:+.2f} K/min after {minutes}; stir, put it deeper, and wait "
        "until it rests"
    )


def _sound(window: Sequence[float]) -> list[float]:
    return [value for value in window if math.isfinite(value)]


def _are_enough(window: Sequence[float]) -> bool:
    return len(_sound(window)) >= (1.0 - MOST_BAD) * WINDOW_S


def _spread_k(window: Sequence[float]) -> float:
    sound = _sound(window)
    return max(sound) - min(sound)


def _drift_k_per_min(window: Sequence[float]) -> float:
    """The slope of the straight line through it."""
    pairs = [(EVERY_S * at, value) for at, value in enumerate(window) if math.isfinite(value)]
    middle_s, middle_c = fmean(s for s, _ in pairs), fmean(c for _, c in pairs)
    over = sum((s - middle_s) * (c - middle_c) for s, c in pairs)
    return _MIN_S * over / sum((s - middle_s) ** 2 for s, _ in pairs)


def _step_k(values: Sequence[float]) -> float:
    """The smallest step between readings that differ, in all that was seen; 0 where none do."""
    seen = sorted(set(_sound(values)))
    gaps = [after - before for before, after in pairwise(seen) if after - before > _SAME_K]
    return min(gaps, default=0.0)


def _mean(window: Sequence[float], step_k: float, drift: float) -> Steady:
    """The mean of a window, and how sure it is.

    From the spread of its parts' means, which doesn't take readings that hang together for more
    than they are; from the thermometer's step, which hides what noise doesn't stir; from the drift.
    """
    sound = _sound(window)
    size = len(sound) // BLOCKS
    parts = [fmean(sound[at * size : (at + 1) * size]) for at in range(BLOCKS)]
    by_chance_k = stdev(parts) / math.sqrt(BLOCKS)
    by_drift_k = abs(drift) * WINDOW_S / _MIN_S / _EVEN
    sd_k = math.hypot(by_chance_k, _hidden_k(sound, step_k), by_drift_k)
    return Steady(fmean(sound), sd_k, drift)


def _hidden_k(sound: Sequence[float], step_k: float) -> float:
    """What a step hides from the mean, one deviation.

    Noise of deviation s carries a mean across steps q with an error of at most
    (q/π)·exp(-2π²s²/q²): the first term of the Fourier series of a rounded value's mean. Without
    noise it is an even chance over the step.
    """
    if step_k <= 0.0:
        return UNKNOWN_STEP_K / _EVEN
    rounded = step_k * step_k / 12.0
    noise = max(0.0, stdev(sound) ** 2 - rounded)
    stirred = step_k / math.pi / math.sqrt(2.0) * math.exp(-2.0 * math.pi**2 * noise / step_k**2)
    return min(stirred, step_k / _EVEN)
