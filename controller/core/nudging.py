"""A held bowl that hardly moves is moved a little, so that a live thermometer shows that it lives.

Responsible for how far and when; not for what counts as frozen (interlocks). A bowl that is held as
well as its thermometer can tell shows one value for ever, as a frozen thermometer does. Asked for a
tenth of a kelvin more, a live one soon shows another.
"""

from controller.core import thresholds as th
from controller.core.evidence import ProbeMemory


def nudged_c(setpoint_c: float, bowl: ProbeMemory) -> float:
    """The set-point of the bowl, °C: higher for a while where its thermometer shows one value."""
    since_s = bowl.unchanged_s - th.NUDGE_AFTER_S
    return setpoint_c + th.NUDGE_K if 0.0 < since_s <= th.NUDGE_S else setpoint_c
