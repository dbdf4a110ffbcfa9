"""How long an unheated machine has stood, told by how far it has cooled.

Responsible for Newton's law of cooling with the machine's nominal loss; not for what follows.
"""

import math

from controller.core.machine import Machine

CHOCOLATE_J_PER_KG_K = 1590.0  # Beckett, Industrial Chocolate, 4th ed., pp. 667-668: 15 to 40 °C
UNSURE_K = 0.3  # own engineering value: steps, noise and mixing, between two readings
BELIEVED_WITHIN = 0.5  # own engineering value: clocks and cooling may differ by this share


def cooled_s(machine: Machine, start_c: float, end_c: float) -> float:
    """Seconds in which bath and bowl together cool from `start_c` to `end_c`, unheated.

    Infinite where the room's temperature is reached, 0 where nothing has cooled.
    """
    bowl_j_per_k = machine.batch_kg * CHOCOLATE_J_PER_KG_K
    tau_s = (machine.bath_j_per_k + bowl_j_per_k) / machine.loss_w_per_k
    start_k, end_k = start_c - machine.room_c, end_c - machine.room_c
    if end_k >= start_k:
        return 0.0
    return tau_s * math.log(start_k / end_k) if end_k > 0.0 else math.inf


def believed_gap_s(
    machine: Machine,
    gap_s: float | None,
    *,
    before: tuple[float, float],
    after: tuple[float, float],
) -> float | None:
    """The gap that clocks tell if the cooling bears it out within a half, else None.

    `before` and `after` are bath and bowl, °C. The two are weighed by their heat, for the bowl
    takes what the bath gives it. A batch in the midst of melting cools faster than this says: its
    gap counts as unknown, which is the safe side.
    """
    start_c, end_c = _mean_c(machine, before), _mean_c(machine, after)
    if gap_s is None or not 0.0 <= gap_s < math.inf or not math.isfinite(start_c - end_c):
        return None
    if start_c - machine.room_c <= UNSURE_K:
        return None  # it had nothing to cool by
    least_s = cooled_s(machine, start_c, end_c + UNSURE_K)
    most_s = cooled_s(machine, start_c, end_c - UNSURE_K)
    fits = least_s <= (1.0 + BELIEVED_WITHIN) * gap_s and most_s >= (1.0 - BELIEVED_WITHIN) * gap_s
    return gap_s if fits else None


def _mean_c(machine: Machine, temperatures: tuple[float, float]) -> float:
    bath_c, bowl_c = temperatures
    bowl_j_per_k = machine.batch_kg * CHOCOLATE_J_PER_KG_K
    heat_j = machine.bath_j_per_k * bath_c + bowl_j_per_k * bowl_c
    return heat_j / (machine.bath_j_per_k + bowl_j_per_k)
