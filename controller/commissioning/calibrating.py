"""Calibrating one thermometer: a point at a time, until they say enough.

Responsible for the order, for what is kept between two points, for the correction and taking it
back; not for the arithmetic (calibration) or for opening a thermometer.
"""

import math
from contextlib import suppress
from dataclasses import dataclass

from msgspec.structs import replace

from controller.commissioning import steady
from controller.commissioning.calibration import (
    MOST_OFF_K,
    NEAR_K,
    SURE,
    WORKING_C,
    Calibration,
    Point,
    beside_point,
    boiling_point,
    calibrated,
    ice_point,
    is_enough,
)
from controller.commissioning.correction import SAME_K, correct, value_text
from controller.commissioning.proof_file import proofs_path
from controller.commissioning.proofs import OFFSET, Former, Proofs, Step, made_of
from controller.commissioning.site import Site
from controller.errors import UnprovenError, UsageError
from controller.ports import Sensor

STEPS = {"bath": Step.BATH, "bowl": Step.BOWL}
KEYS = {"bath": "bath_offset", "bowl": "bowl_offset"}
POINT_COUNTS_S = 2 * 86_400.0  # own engineering value: no thermometer ages in that time
MOST_FORMER = 10  # calibrations that can be taken back
BELIEVED_K = 6.0  # further off it is taken to be elsewhere: own engineering value
_TOLD_EVERY_S = 5.0
LOOSE_K = 0.1  # of the ±0.5 K within which chocolate is worked: own engineering value
ICE, BOILING, BESIDE = "ice", "boiling", "beside"
HOW = {
    ICE: (
        "Fill a cup with crushed ice of distilled water, pour in cold distilled water until it "
        "just fills the gaps, and put the {which}'s thermometer into its middle, two fingers deep. "
        "Stir now and then."
    ),
    BOILING: (
        "Bring a pot of distilled water to a rolling boil and hang the {which}'s thermometer into "
        "it, two fingers deep, off bottom and wall. Steam scalds: use a holder, not your hand."
    ),
    BESIDE: (
        "Put the {which}'s thermometer and the other one side by side into water that is stirred."
    ),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where the thermometer is to be, as a person says."""

    name: str  # ICE, BOILING or BESIDE
    true_c: float = math.nan  # what the other one shows, beside it
    sure_k: float = 0.1  # and how true that is: half a band of 95 %
    pressure_hpa: float | None = None
    altitude_m: float | None = None

    def point(self, found: steady.Steady) -> Point:
        """What was read there."""
        read = (found.mean_c, found.sd_k)
        if self.name == ICE:
            return ice_point(*read)
        if self.name == BESIDE:
            return beside_point(*read, true_c=self.true_c, sure_k=self.sure_k)
        return boiling_point(*read, pressure_hpa=self.pressure_hpa, altitude_m=self.altitude_m)


def next_place(site: Site, which: str) -> str:
    """What comes next without a word: ice, then boiling water."""
    # Of those that still count: one that is too old must be taken again, or no end is ever reached.
    return BOILING if any(point.name == ICE for point in points_so_far(site, which)) else ICE


def check_place(place: Place, which: str) -> None:
    """Refuse what can't lead to a point, before anybody boils water.

    Raises:
        UsageError: pressure and altitude are missing, or the other thermometer is too far off.
    """
    if place.name == BOILING and place.pressure_hpa is None and place.altitude_m is None:
        raise UsageError(
            "Boiling water is as hot as the air presses: add --pressure, as a barometer shows it "
            'there (like "948 hPa", not reduced to sea level), or else --altitude (like "520 m").'
        )
    if place.name == BESIDE and abs(place.true_c - WORKING_C) > NEAR_K:
        raise UsageError(
            f"{place.true_c:g} °C is too far from the {WORKING_C:g} °C at which the {which}'s "
            f"thermometer must be right: take water of {WORKING_C - NEAR_K:g} to "
            f"{WORKING_C + NEAR_K:g} °C."
        )


def take_point(site: Site, which: str, place: Place, sensor: Sensor) -> Point:
    """Watch the thermometer where it is now, and keep what it read.

    Raises:
        UnprovenError: it does not come to rest, or can't be where it should be.
    """
    told_s = -math.inf

    def tell(glance: steady.Glance) -> None:
        nonlocal told_s
        if glance.at_s - told_s >= _TOLD_EVERY_S:
            told_s = glance.at_s
            site.person.show(_glance_text(which, glance))

    try:
        found = steady.watched(sensor, site.clock, tell, in_ice=place.name == ICE)
    except steady.UnsteadyError as error:
        raise UnprovenError(f"The {which}'s thermometer can't be read: {error}.") from None
    point = place.point(found)
    if abs(point.errs_k) > BELIEVED_K:
        raise UnprovenError(
            f"The {which}'s thermometer reads {point.read_c:.1f} °C where it is "
            f"{point.true_c:.1f} °C: it isn't there, or it is broken; see to it and try again."
        )
    facts = {
        "true_c": f"{point.true_c:.4f}",
        "true_sd_k": f"{point.true_sd_k:.4f}",
        "read_c": f"{point.read_c:.4f}",
        "read_sd_k": f"{point.read_sd_k:.4f}",
    }
    site.part(STEPS[which], point.name, facts)
    return point


def points_so_far(site: Site, which: str) -> tuple[Point, ...]:
    """What was read in the last days at known temperatures."""
    parts = site.parts(STEPS[which])
    found = []
    for name in (ICE, BESIDE, BOILING):
        if name in parts and 0.0 <= site.age_s(parts[name]) + 1.0 <= POINT_COUNTS_S:
            # What somebody edited until it is no point counts as not taken.
            with suppress(ValueError, TypeError):
                facts = {key: float(text) for key, text in parts[name].facts.items()}
                if all(map(math.isfinite, facts.values())):
                    found.append(Point(name, **facts))
    return tuple(found)


def finish(site: Site, which: str) -> Calibration | None:
    """Correct the thermometer, if the points are enough; None where one is still to be taken.

    Raises:
        UnprovenError: the points contradict each other, or it is too far off.
        AccessError: the machine file can't be written.
        MachineFileError: only a person can change it.
    """
    points = points_so_far(site, which)
    if not is_enough(points):
        return None
    try:
        found = calibrated(points)
    except ValueError as error:
        raise UnprovenError(f"The {which}'s thermometer: {error}.") from None
    step, key = STEPS[which], KEYS[which]
    done = site.shown(
        step,
        {
            OFFSET: value_text(found.offset_k),
            "give or take": f"{found.sure_k:.3f} K at {WORKING_C:g} °C (95 %)",
            "slope": f"{found.slope:+.5f} K/K",
            **{p.name: f"read {p.read_c:.3f} °C at {p.true_c:.3f} °C" for p in found.points},
        },
    )

    def change(old: Proofs) -> Proofs:
        former = Former(key=key, value_k=offset_k(site, which), step=old.steps.get(step))
        parts = {word: one for word, one in old.parts.items() if not word.startswith(f"{step}/")}
        kept = (*old.former, former)[-MOST_FORMER:]
        return replace(old, steps={**old.steps, str(step): done}, parts=parts, former=kept)

    # First the proof: a machine file that lacks the correction is found out, an undo that was
    # forgotten is not.
    site.keep(change)
    correct(site.path, key, found.offset_k)
    return found


def complete(site: Site, which: str) -> str | None:
    """Put in a correction that was found but not written, if one was; what it is."""
    step = STEPS[which]
    done = site.read().steps.get(step)
    # What was found of another thermometer says nothing of this one.
    if done is None or OFFSET not in done.facts or done.of != made_of(step, site.machine_file):
        return None
    said = done.facts[OFFSET]
    value_k = _offset_of(said)
    if not abs(value_k) <= MOST_OFF_K or abs(value_k - offset_k(site, which)) <= SAME_K:
        return None
    correct(site.path, KEYS[which], value_k)
    return said


def _offset_of(said: str) -> float:
    """A correction as the proofs have it, K; NaN for a text that is none."""
    try:
        return float(said.removesuffix(" K"))
    except ValueError:
        return math.nan


def undo(site: Site, which: str) -> float:
    """Take the last calibration back; the correction that holds again, K.

    Raises:
        UsageError: there is none to take back, or it can't be one.
        AccessError: the machine file can't be written.
        MachineFileError: only a person can change it.
    """
    step, key = STEPS[which], KEYS[which]
    mine = [at for at, one in enumerate(site.read().former) if one.key == key]
    if not mine:
        raise UsageError(f"No calibration of the {which}'s thermometer is there to take back.")
    former = site.read().former[mine[-1]]
    if not abs(former.value_k) <= MOST_OFF_K:
        raise UsageError(
            f"{proofs_path(site.path)} says that the {which}'s thermometer was corrected by "
            f"{former.value_k:g} K before, which no machine file may say: calibrate it anew."
        )

    def change(old: Proofs) -> Proofs:
        steps = {word: one for word, one in old.steps.items() if word != step}
        if former.step is not None:
            steps[str(step)] = former.step
        kept = tuple(one for at, one in enumerate(old.former) if at != mine[-1])
        return replace(old, steps=steps, former=kept)

    correct(site.path, key, former.value_k)
    site.keep(change)
    return former.value_k


def offset_k(site: Site, which: str) -> float:
    """What the machine file says now."""
    machine = site.machine_file.machine
    return machine.bath_offset_k if which == "bath" else machine.bowl_offset_k


def _glance_text(which: str, glance: steady.Glance) -> str:
    value = f"{glance.value_c:7.2f} °C" if math.isfinite(glance.value_c) else "no value"
    drift = glance.drift_k_per_min
    how = f"{drift:+.2f} K/min" if math.isfinite(drift) else "waiting for it to rest"
    return f"{which}: {value}  {how}  {glance.at_s:.0f} s"


_LOOSE = (
    "That is loose: give --pressure from a barometer instead of --altitude, or take a point "
    "--beside a thermometer that you trust."
)
_LOOSE_BESIDE = (
    "That is loose, since it can't be surer than the thermometer beside it: say with --sure within "
    "what that is true, if its maker does, or take ice and boiling water besides."
)


def sheet(which: str, found: Calibration, before_k: float) -> str:
    """What came of it, to be read and kept."""
    lines = [
        f"{'':9}{'true °C':>9}{'read °C':>9}{'errs K':>9}{'± K':>7}{'left K':>9}{'off line':>10}"
    ]
    lines += [
        f"{p.name:9}{p.true_c:9.2f}{p.read_c:9.2f}{p.errs_k:+9.3f}{SURE * p.sd_k:7.3f}"
        f"{found.left_k(p):+9.3f}{found.residual_k(p):+10.3f}"
        for p in found.points
    ]
    lines.append(
        f"At {WORKING_C:g} °C the {which}'s thermometer reads {abs(found.offset_k):.3f} K too "
        f"{'little' if found.offset_k > 0 else 'much'}, give or take {found.sure_k:.3f} K (95 %)."
    )
    lines.append(
        f'[probes] {KEYS[which]} = "{value_text(found.offset_k)}" is in the machine file now '
        f"(before: {value_text(before_k)}); --undo takes it back."
    )
    names = {point.name for point in found.points}
    if found.sure_k > LOOSE_K:
        lines.append(_LOOSE_BESIDE if names == {BESIDE} else _LOOSE)
    if len(names) > 1 and BESIDE not in names:
        lines.append(
            "Between two points it is taken to be straight; one at 31 °C beside a thermometer that "
            "you trust would show if it is not."
        )
    return "\n".join(lines) + "\n"
