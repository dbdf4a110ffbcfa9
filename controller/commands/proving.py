"""Whether the thermometers of a trip that is to be cleared are believable again.

Responsible for looking at them once a second for as long as the rule says; not for the rule
(guard/resets) or for what the guard measures itself.
"""

from collections.abc import Callable, Collection, Mapping
from contextlib import AbstractContextManager

from controller.clock import Clock
from controller.core.thresholds import PROBE_MAX_C, PROBE_MIN_C
from controller.guard.resets import SOUND_S, Proof
from controller.ports import Quality, Sensor

Thermometers = AbstractContextManager[Mapping[str, Sensor]]
_NAMES = {Proof.BATH: "bath", Proof.BOWL: "bowl"}
EVERY_S = 1.0


def unproven(proofs: Collection[Proof], opened: Callable[[], Thermometers], clock: Clock) -> str:
    """Why a thermometer can't be believed yet, as a sentence; empty when all can.

    Args:
        proofs: what must be measured.
        opened: gives the machine's thermometers by name, `bath` and `bowl`; one that the machine
            does without is left out.
        clock: of the machine, waited on once a second.
    """
    wanted = [_NAMES[one] for one in proofs if one in _NAMES]
    if not wanted:
        return ""
    with opened() as sensors:
        due_s = clock.now_s()
        for _ in range(SOUND_S + 1):
            clock.wait_until(due_s)
            for name in wanted:
                if name in sensors and not _is_believable(sensors[name], clock.now_s()):
                    return (
                        f"The {name} probe gives no believable value: check its plug, wire and "
                        "place, then try again."
                    )
            due_s += EVERY_S
    return ""


def _is_believable(sensor: Sensor, now_s: float) -> bool:
    reading = sensor.read(now_s)
    return reading.quality is Quality.GOOD and PROBE_MIN_C <= reading.value <= PROBE_MAX_C
