"""What the controller believes of the machine, and how sure it is: the records.

Responsible for the shapes only; the estimator fills them.
"""

import math

from msgspec import Struct

from controller.core.chocolate import Content

Row = tuple[float, ...]
PAUSE_MAX_S = 600.0  # own engineering value, not published


class Estimate(Struct, frozen=True, kw_only=True):
    """The machine as it seems to be, each number with its standard deviation.

    Temperatures are on the scales of the two thermometers, their lag and noise removed. Readings
    only show ratios of sizes, so that those in W and J/K rest on the machine file too.
    """

    bath_c: float = math.nan
    bath_c_sd: float = math.inf
    bowl_c: float = math.nan
    bowl_c_sd: float = math.inf
    wall_c: float = math.nan  # between bath and bowl, on the bowl's scale
    wall_c_sd: float = math.inf
    element_w: float = 0.0  # flowing from the element into the bath
    element_w_sd: float = math.inf
    ua_w_per_k: float = math.nan  # bath to bowl, with the stirrer as it is
    ua_w_per_k_sd: float = math.inf
    bath_j_per_k: float = math.nan
    bath_j_per_k_sd: float = math.inf
    bowl_j_per_k: float = math.nan
    bowl_j_per_k_sd: float = math.inf
    loss_w_per_k: float = math.nan  # bath to room, at the bath's temperature
    loss_w_per_k_sd: float = math.inf
    heater_w: float = math.nan
    heater_w_sd: float = math.inf
    melted: float = 0.0  # share of what can melt, 0 to 1
    melted_sd: float = 1.0
    trusted: bool = False  # whether it has seen the chocolate melted, and both probes speak


NOTHING = Estimate()


class Prior(Struct, frozen=True, kw_only=True):
    """What the machine file says, as the estimator's first belief."""

    mean: Row  # of what does not change by itself, in the estimator's order from LN_K on
    bath_j_per_k: float
    bowl_j_per_k: float
    heater_w: float
    room_c: float
    air_kpa: float  # of water vapour in the room's air
    loss_w_per_k: float
    batch_kg: float
    content: Content
    wall_share: float  # the wall's lag times the transfer's rate


class Belief(Struct, frozen=True, kw_only=True):
    """Memory of the estimator: mean and covariance, and what came since the last correction."""

    prior: Prior
    mean: Row
    spread: tuple[Row, ...]  # covariance: full, symmetric
    wall_c: float  # the bath as the bowl feels it through its wall
    solid: float  # share of what can melt that has not, 0 to 1
    in_bowl: float  # share of the whole batch that is in the bowl
    is_stirred: bool = False
    other_transfer: tuple[float, float] = (0.0, 0.0)  # the stirrer the other way: mean, variance
    stirred_drift: tuple[float, float] = (
        0.0,
        0.0,
    )  # heat in no model when it last turned: the same
    still_s: float = math.inf  # since the stirrer stopped; 0 while it turns
    has_melted: bool = False
    mixing_s: float = 0.0  # until what was added has come to the bowl's temperature
    since_s: float = 0.0  # the last correction
    element_s: float = 0.0  # since then: share of full power times time
    lead_k_s: float = 0.0  # since then: bath over bowl times time
    bath_off_k: float = 0.0  # since then: what the bath's probe said beyond the belief, summed
    bath_count: int = 0
    bowl_off_k: float = 0.0
    bowl_count: int = 0
    blind_s: float = 0.0  # since both probes last spoke

    @property
    def is_pausing(self) -> bool:
        """Whether the stirrer stands, but for so short a while that it is thought to turn again.

        Standing chocolate shows nothing of how the machine is while it is stirred.
        """
        return 0.0 < self.still_s < PAUSE_MAX_S
