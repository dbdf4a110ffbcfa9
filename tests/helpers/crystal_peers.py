"""Both crystal laws written a second time, from their equations alone: slow, plain, no tables.

Responsible for being an independent opinion; not for speed. All constants are own engineering
values, not published, and stand here a second time on purpose.
"""

import math
from collections.abc import Callable
from typing import NamedTuple

import numpy as np

V_C = (15.0, 20.0, 25.0, 28.0, 30.0, 31.0, 32.0, 33.0, 34.0, 35.0, 36.0)
V_SOLID = (0.86, 0.78, 0.72, 0.60, 0.45, 0.33, 0.18, 0.08, 0.03, 0.006, 0.0)
U_C = (15.0, 20.0, 22.0, 24.0, 26.0, 27.5, 28.5)
U_SOLID = (0.72, 0.60, 0.48, 0.30, 0.10, 0.02, 0.0)

Rates = tuple[float, float, float]


class Peer(NamedTuple):
    """A second opinion on a law."""

    # At °C, unstable, form V, memory, shear rate in 1/s, and the fat's shift in K.
    rates: Callable[[float, float, float, float, float, float], Rates]
    # Equilibrium (unstable, form V) at °C of a fat shifted so many K.
    solid: Callable[[float, float], tuple[float, float]]


def pools_solid(temp_c: float, shift_k: float) -> tuple[float, float]:
    """Straight lines between points."""
    dark_c = temp_c + shift_k
    return float(np.interp(dark_c, U_C, U_SOLID)), float(np.interp(dark_c, V_C, V_SOLID))


def nuclei_solid(temp_c: float, shift_k: float) -> tuple[float, float]:
    """A smooth step each."""

    def fraction(most: float, end_c: float, span_k: float) -> float:
        return most * (1.0 - 1.0 / (1.0 + (max(0.0, end_c - temp_c - shift_k) / span_k) ** 3))

    return fraction(0.74, 28.5, 5.2), fraction(0.85, 35.5, 5.5)


def pools(
    temp_c: float, unstable: float, form_v: float, memory: float, per_s: float, shift_k: float
) -> Rates:
    """Rates of unstable, form V and memory, 1/s: two pools and a memory."""
    solid_u, solid_v = pools_solid(temp_c, shift_k)
    room_u = max(0.0, solid_u - unstable - form_v)
    room_v = max(0.0, solid_v - unstable - form_v)
    phi = 1.0 + math.sqrt(per_s)
    pace = float(np.clip((34.5 - temp_c) / 7.5, 0.0, 1.3))
    melt_u, melt_v = max(0.0, unstable - solid_u) / 45.0, max(0.0, form_v - solid_v) / 90.0
    turn = 2e-4 * phi * unstable * (1.0 if 18.0 < temp_c < 28.5 else 0.05)
    d_v = 6.6e-4 * pace * phi * form_v * room_v + turn + 0.10 * melt_u - melt_v
    if temp_c < 29.0:
        d_v += 1.2e-6 * math.sqrt(per_s) * math.exp(-(((temp_c - 26.0) / 2.5) ** 2)) * room_v
    if temp_c < 30.0:
        d_v += 1.5e-5 * memory * room_v
    d_u = 5e-3 * unstable * room_u - turn - melt_u
    if temp_c < 27.5:
        d_u += 1e-5 * math.exp(-(temp_c - 27.0) / 3.0) * room_u
    d_m = (1.0 - memory) / 60.0 if form_v > 1e-4 else 0.0
    if temp_c > 34.0:
        # No faster than in a second, so that no step is too long for it.
        d_m -= memory * min(1.0, 1.0 / (600.0 * math.exp(-(temp_c - 40.0) / 3.1)))
    return d_u, d_v, d_m


def nuclei(
    temp_c: float, unstable: float, form_v: float, memory: float, per_s: float, shift_k: float
) -> Rates:
    """Rates of unstable, form V and nuclei, 1/s: growth over the surface of counted nuclei."""
    dark_c = temp_c + shift_k

    def melting(per_s: float, point_c: float, too_much: float) -> float:
        return max(0.0, too_much) * min(0.5, per_s * (1.0 + max(0.0, dark_c - point_c) / 2.0))

    solid_u, solid_v = nuclei_solid(temp_c, shift_k)
    room_u = max(0.0, solid_u - unstable - form_v)
    room_v = max(0.0, solid_v - unstable - form_v)
    # Spheres, `memory` of them, of one volume together: what surface they have.
    surface = (1.0 + math.cbrt(per_s)) * math.cbrt(memory) * math.cbrt(form_v + 2e-3 * memory) ** 2
    turn = 2e-3 * surface * unstable * math.exp(min(0.0, dark_c - 27.0) / 4.0)
    d_u = 4e-3 * math.cbrt(unstable + 1e-6) ** 2 * room_u - turn
    d_u -= melting(1 / 60.0, 27.5, unstable - solid_u)
    d_v = 8.5e-4 * surface * room_v**2 + turn - melting(1 / 200.0, 33.8, form_v - solid_v)
    born = 0.0
    if temp_c < 30.5:
        born = 6e-4 * (1.0 + per_s / 2.0) * math.exp(-9.0 / (30.5 - temp_c) ** 2) * room_v
    d_n = (1.0 - memory) * (born + 2e-4 * (1.0 + per_s) * form_v)
    d_n -= memory * min(0.5, (max(0.0, dark_c - 34.0) / 6.0) ** 4 / 600.0)
    return d_u, d_v, d_n


PEERS = {"pools": Peer(pools, pools_solid), "nuclei": Peer(nuclei, nuclei_solid)}
