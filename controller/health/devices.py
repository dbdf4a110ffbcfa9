"""Checks of the devices: each thermometer gives a value that can be, and the guard answers.

Responsible for a look with nothing energised; not for proving switches (commissioning).
"""

import math
from datetime import UTC, datetime

from controller.core.thresholds import COLD_APART_K, PROBE_MAX_C, PROBE_MIN_C
from controller.errors import BainwardError
from controller.guard.decision import Cause
from controller.guard.resets import demanded
from controller.guard.words import of_file, words_of
from controller.health.finding import Findings, Place, fault, joined, remark
from controller.ports import Quality, Reading, Sensor
from controller.wiring.looking import one_wire_of

# A first value wants a conversion of each thermometer on a bus. Own engineering values.
LOOKS, EVERY_S = 6, 1.0
FINE_K = 0.0625  # the step of 12 bits, which is what everything was tuned with
_MC_PER_C = 1000.0
_WHERE = {
    "bath": "in the water",
    "bowl": "in the bowl",
}


def thermometers(place: Place) -> Findings:
    """Bath and bowl, by the drivers that a run uses."""
    if not place.is_real:
        return
    try:
        with place.thermometers() as sensors:
            found = {name: _read(sensor, place) for name, sensor in sensors.items()}
    except BainwardError as error:
        yield fault(str(error))
        return
    for name, reading in found.items():
        yield from _judged(name, reading)
    yield from _apart(place, found.get("bath"))
    yield from _one_wire(place)


def guard(place: Place) -> Findings:
    """Whether it answers, has nothing latched, and sees with its own thermometer."""
    if not place.is_real:
        return
    try:
        status = place.ask_guard()
    except BainwardError as error:
        yield fault(str(error))
        return
    if status.latched is not Cause.NONE:
        what, action = words_of(status.latched, status.tripped)
        since = datetime.fromtimestamp(status.since_s, UTC)
        yield fault(
            joined(
                f"The guard has latched {status.latched} on {since:%Y-%m-%d}, since {what}",
                of_file(action, place.path),
            )
        )
        for one in status.also:
            yield fault(
                f"The guard has latched {one} besides: `bainward alarms {one}` says what to do."
            )
        for must in demanded(status.causes).musts:
            yield remark(f"Before the guard is re-armed this must be true: {must}")
    if status.bath_mc is None:
        yield fault(
            "The guard's own bath thermometer gives no value, so that it permits no heat: check "
            "its plug, wire and the path under [guard.probe]."
        )


def _read(sensor: Sensor, place: Place) -> Reading:
    """Its value, waiting a little for the first."""
    reading = sensor.read(place.clock.now_s())
    for _ in range(LOOKS):
        if reading.quality is Quality.GOOD:
            break
        place.clock.wait_until(place.clock.now_s() + EVERY_S)
        reading = sensor.read(place.clock.now_s())
    return reading


def _judged(name: str, reading: Reading) -> Findings:
    if reading.quality is not Quality.GOOD:
        why = f"{reading.fault}" if math.isnan(reading.value) else "an old one only"
        yield fault(
            f"The {name} thermometer gives no value ({why}): check its plug and wire, and its "
            f"place under [attach.{name}] in the machine file."
        )
    elif not PROBE_MIN_C <= reading.value <= PROBE_MAX_C:
        yield fault(
            f"The {name} thermometer reads {reading.value:.1f} °C, which can't be {_WHERE[name]}: "
            f"check its wire, and kind and resistors under [attach.{name}]."
        )


def _one_wire(place: Place) -> Findings:
    """What a thermometer of that bus does without though it works."""
    for one in one_wire_of(place.machine_file):
        if one.has_own_power is False:
            yield remark(
                f"The {one.name} thermometer takes its power from its data line ({one.folder}"
                "/ext_power is 0), which has no reserve for long cables: give it its third wire."
            )
        if one.step_k > FINE_K:
            yield remark(
                f"The {one.name} thermometer measures in steps of {one.step_k:g} K only: echo 12 > "
                f"{one.folder}/resolution, and echo save > {one.folder}/eeprom to keep it so."
            )


def _apart(place: Place, bath: Reading | None) -> Findings:
    """Two thermometers in the same water."""
    if bath is None or bath.quality is not Quality.GOOD:
        return
    try:
        own_mc = place.ask_guard().bath_mc
    except BainwardError:
        return  # said by the guard's check
    if own_mc is None:
        return
    apart_k = own_mc / _MC_PER_C - bath.value - place.machine_file.machine.bath_offset_k
    if abs(apart_k) > COLD_APART_K:
        yield fault(
            f"The guard's thermometer and the bath's are {abs(apart_k):.1f} K apart in the same "
            "water: put both into it, away from the element, and calibrate the one that is wrong."
        )
