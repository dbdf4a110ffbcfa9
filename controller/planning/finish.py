"""After a batch: how long what comes out of a fridge must stay wrapped.

Responsible for the estimate of warming up; not for its wording (book/finishing).
"""

import math

from msgspec import Struct

from controller.planning.air import dew_point_c

# Chocolate: 1300 kg/m³ solid, Beckett 3rd ed.; 1590 J/(kg K) at 15 to 40 °C, Beckett, Industrial
# Chocolate Manufacture and Use, 4th ed., pp. 667-668.
SOLID_KG_PER_M3 = 1300.0
COOL_J_PER_KG_K = 1590.0
# Own engineering values, not published: still air and radiation on both faces, through a
# wrapping.
WRAPPED_W_PER_M2_K = 4.0
DRY_MARGIN_K = 2.0  # over the dew point, as for a room's remarks


class Warming(Struct, frozen=True, kw_only=True):
    """What comes out of a fridge into a room."""

    dew_c: float
    dry_from_c: float  # what is warmer stays dry
    wait_s: (
        float  # wrapped, until it may be opened; 0 where nothing sweats, infinite where all does
    )


def warming(fridge_c: float, room_c: float, humidity: float, thick_m: float) -> Warming:
    """How long a wrapped piece of that thickness takes to be dry when opened.

    Newton's law of heating, from both faces. `humidity` is relative, 0 to 1.
    """
    dew_c = dew_point_c(room_c, humidity)
    dry_from_c = dew_c + DRY_MARGIN_K
    if fridge_c >= dry_from_c:
        wait_s = 0.0
    elif room_c <= dry_from_c:
        wait_s = math.inf
    else:
        lag_s = SOLID_KG_PER_M3 * COOL_J_PER_KG_K * thick_m / 2.0 / WRAPPED_W_PER_M2_K
        wait_s = lag_s * math.log((room_c - fridge_c) / (room_c - dry_from_c))
    return Warming(dew_c=dew_c, dry_from_c=dry_from_c, wait_s=wait_s)
