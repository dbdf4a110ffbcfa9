"""The step test: its profile, which of its records may be fitted, and what a fit must be like.

Responsible for finding and judging; not for running one (commands) or for the fit (fitting).
"""

import math
from datetime import datetime, timedelta
from pathlib import Path
from typing import NamedTuple

from controller.commissioning.fitting import SURE, Fit, Known, Samples, fitted, samples_of
from controller.commissioning.proofs import STEP_TEST, age_of
from controller.core.machine import WATER_J_PER_KG_K, Machine
from controller.errors import Exit, UnprovenError
from controller.journal.reader import find_newest
from controller.journal.records import Run

PROFILE = Path(__file__).resolve().parent / f"{STEP_TEST}.toml"
# What a sound test and a sound machine are within: own engineering values, not published.
COUNTS = timedelta(days=2)  # after which water and lid may be others
LEAST_RISE_K = 8.0
LEAST_S = 1500.0
MOST_LEFT_K = 0.25
CAPACITY_WITHIN = (0.75, 1.35)  # over the machine file's
LOSS_WITHIN = (0.4, 3.0)
MOST_DELAY_S = 60.0
LEAST_TRANSFER_W_PER_K = 3.0
TELL_FROM = 0.1  # a machine file that is off by more than this is worth a word


def newest_test(folder: Path, machine: str, now: datetime) -> Run | None:
    """The newest run of the machine, if it is a step test of these days that ended by itself.

    Raises:
        AccessError: its record can't be read.
    """
    run = find_newest(folder, machine) if folder.is_dir() else None
    if run is None or why_not(run) is not None:
        return None
    return run if age_of(run.header.began_utc, now) <= COUNTS else None


def why_not(run: Run) -> str | None:
    """Why a record can't be fitted, as the end of a sentence; None where it can."""
    if run.header.profile_name != STEP_TEST:
        return f"is of profile {run.header.profile_name}, and only {STEP_TEST} can be fitted"
    if run.closing is None or run.closing.outcome != Exit.DONE.word:
        return "did not end by itself"
    return None


def judged(run: Run, known: Known, machine: Machine) -> Fit:
    """What the test says, if it can be believed.

    Raises:
        UnprovenError: something else happened in it, or the machine is another than its file says.
    """
    samples = samples_of(run)
    wrong = _no_test(samples)
    if wrong is None:
        try:
            found = fitted(samples, known, machine)
        except (ZeroDivisionError, OverflowError, ValueError):
            wrong = "its readings fit no machine"
    if wrong is not None:
        raise UnprovenError(f"The step test can't be used: {wrong}; run it anew.")
    for bound in _bounds(found, machine):
        low, high = bound.within
        if not low <= bound.value <= high:
            raise UnprovenError(f"The step test finds {bound.what}: {bound.then}.")
    return found


def _no_test(samples: Samples) -> str | None:
    if not samples.at_s or samples.at_s[-1] - samples.at_s[0] < LEAST_S:
        return f"it is shorter than {LEAST_S / 60.0:g} min"
    rise_k = max(samples.bath_c) - samples.bath_c[0]
    if rise_k < LEAST_RISE_K:
        return f"the bath rose by {rise_k:.1f} K, and {LEAST_RISE_K:g} K are needed"
    return None


class _Bound(NamedTuple):
    """What must lie within what, and what to do where it does not."""

    what: str
    value: float
    within: tuple[float, float]
    then: str


def _bounds(found: Fit, machine: Machine) -> tuple[_Bound, ...]:
    """All of it, what makes the rest meaningless first."""
    told_j = told_j_per_k(machine)
    finds_j, loss = found.capacity_j_per_k.value, found.loss_w_per_k.value
    delay_s, across = found.bath_delay_s.value, found.transfer_w_per_k.value
    return (
        _Bound(
            f"readings that no such machine gives ({found.left_k:.2f} K are left unexplained)",
            found.left_k,
            (0.0, MOST_LEFT_K),
            "leave lid, water, door and bowl alone, stir, and run it anew",
        ),
        _Bound(
            f"a heat capacity of {finds_j / 1e3:.1f} kJ/K, and the machine file makes "
            f"{told_j / 1e3:.1f} kJ/K",
            finds_j / told_j,
            CAPACITY_WITHIN,
            "weigh the water of bath and bowl, measure the element's power, and write what they "
            "are (water, batch, vessel, heater)",
        ),
        _Bound(
            f"losses of {loss:.1f} W/K, and the machine file says {machine.loss_w_per_k:.1f} W/K",
            loss / machine.loss_w_per_k,
            LOSS_WITHIN,
            "see to lid and draught, or write what it is (loss)",
        ),
        _Bound(
            f"that the bath's thermometer follows the heater by {delay_s:.0f} s",
            delay_s,
            (-MOST_DELAY_S, MOST_DELAY_S),
            "put it into moving water, and see that nothing insulates it",
        ),
        _Bound(
            f"that only {across:.1f} W/K pass between bath and bowl",
            across,
            (LEAST_TRANSFER_W_PER_K, math.inf),
            "see that the stirrer turns and that the bowl stands in the water",
        ),
    )


def told_j_per_k(machine: Machine) -> float:
    """What the machine file makes of the heat capacity, with water in the bowl."""
    return machine.bath_j_per_k + machine.batch_kg * WATER_J_PER_KG_K


def facts_of(found: Fit) -> dict[str, str]:
    """What is kept of it."""
    return {
        "heat capacity": _band(found.capacity_j_per_k.value, found.capacity_j_per_k.sure, "J/K", 0),
        "losses": _band(found.loss_w_per_k.value, found.loss_w_per_k.sure, "W/K", 2)
        + f" at {found.held_c:.1f} °C",
        "bath to bowl": _band(found.transfer_w_per_k.value, found.transfer_w_per_k.sure, "W/K", 2),
        "heater to bath": _band(found.bath_delay_s.value, found.bath_delay_s.sure, "s", 1),
        "bath to bowl's reading": _band(found.bowl_delay_s.value, found.bowl_delay_s.sure, "s", 0),
    }


def _band(value: float, sure: float, unit: str, digits: int) -> str:
    return f"{value:.{digits}f} ± {sure:.{digits}f} {unit}"


def sheet(found: Fit, known: Known, machine: Machine) -> str:
    """What came of it, to be read and kept."""
    lines = ["What the step test says, each with the band that holds it 19 times in 20:"]
    lines += [f"  {what:24} {text}" for what, text in facts_of(found).items()]
    lines.append(
        f"With a power of {known.power_w:.0f} W, give or take {SURE * known.power_sd:.0%}, and a "
        f"room of {known.room_c:.1f} °C, give or take {SURE * known.room_sd_k:.1f} K; the model "
        f"leaves {found.left_k:.2f} K of the readings."
    )
    lines += [f"Write {one}." for one in advice(found, known, machine)]
    return "\n".join(lines) + "\n"


def advice(found: Fit, known: Known, machine: Machine) -> tuple[str, ...]:
    """What is worth changing in the machine file: where it is off by more than a tenth."""
    told = []
    if abs(known.power_w / machine.heater_w - 1.0) > TELL_FROM:
        told.append(f'heater = "{known.power_w:.0f} W" into [bath]')
    if abs(found.loss_w_per_k.value / machine.loss_w_per_k - 1.0) > TELL_FROM:
        told.append(f'loss = "{found.loss_w_per_k.value:.1f} W/K" into [bath]')
    capacity_j = found.capacity_j_per_k.value
    if abs(capacity_j / told_j_per_k(machine) - 1.0) > TELL_FROM:
        vessel_j = machine.vessel_j_per_k + capacity_j - told_j_per_k(machine)
        told.append(
            f"water and batch as you weigh them into [bath] and [bowl]; with those that are there "
            f'vessel = "{max(0.0, vessel_j):.0f} J/K" would explain it'
        )
    return tuple(told)
