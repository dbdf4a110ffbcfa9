"""The stirrer in the bowl: its speed, what it does to heat and crystals, and what it takes.

Responsible for couplings and load at a speed; not for the motor's switch or the bowl's heat.
"""

import math
from collections.abc import Callable

from hardware.bench import flow
from hardware.bench.crystals import Shear
from hardware.bench.parameters import Filling, Parameters

STANDS_BELOW_RPM = 0.01
# Film conductance of a stirred vessel rises with the 2/3 power of the speed (textbook
# correlation, from memory, not checked).
SPEED_POWER = 2.0 / 3.0
# A little water makes chocolate seize (McGee, On Food and Cooking, 2004); by how much: own
# engineering values, not published.
SEIZES_BY = 300.0  # exponent of thickening per share of water
SEIZED_SHARE = 0.03  # more water thickens no further


class Stirring:
    """Speed and its consequences; rpm below 0 is the wrong way."""

    __slots__ = (
        "_filling",
        "_parameters",
        "_shear",
        "_sought_load_w",
        "content_w_per_k",
        "film",
        "is_settled",
        "rpm",
        "seized",
        "share",
        "sheared",
        "sought_rpm",
        "unit_load_w",
    )

    content_w_per_k: float
    film: float
    share: float
    sheared: Shear
    unit_load_w: float

    def __init__(
        self, parameters: Parameters, filling: Filling, shear: Callable[[float], Shear]
    ) -> None:
        """Standing."""
        self._filling, self._shear = filling, shear
        self.rpm = self.sought_rpm = self._sought_load_w = 0.0
        self.seized = 1.0
        self.is_settled = True
        self.settle(parameters)

    def settle(self, parameters: Parameters) -> None:
        """Belong to this machine."""
        self._parameters = parameters
        self.couple(self.rpm)

    def seek(self, rpm: float) -> None:
        """Let the motor seek a speed, or the most it can."""
        most_rpm = self._parameters.most_rpm
        self.sought_rpm = min(most_rpm, max(-most_rpm, rpm))
        self._sought_load_w = self._unit_load_at_w(self.sought_rpm)
        self.is_settled = False

    def splashed(self, share: float) -> None:
        """Seize from a share of water in the chocolate."""
        self.seized = math.exp(SEIZES_BY * min(share, SEIZED_SHARE))

    def is_stalled(self, thick_kg: float, lumps: float) -> bool:
        """Whether content this thick times its mass, or this share of lumps, holds the motor."""
        parameters = self._parameters
        return (
            lumps > parameters.lumps_block_from
            or self._sought_load_w * self.seized * thick_kg > parameters.most_load_w
        )

    def load_w(self, thick_kg: float) -> float:
        """What the shaft takes in content this thick times its mass, W; a motor gives no more."""
        if not self.rpm:
            return 0.0
        return min(self._parameters.most_load_w, self.unit_load_w * self.seized * thick_kg)

    def turn(self, step_s: float, *, stalled: bool) -> bool:
        """Come nearer to the speed that is sought; True when that changed it."""
        target_rpm = 0.0 if stalled else self.sought_rpm
        if self.rpm == target_rpm:
            if self.is_settled:
                return False
            self.couple(target_rpm)
            self.is_settled = True
            return True
        lag_s, far_rpm = self._parameters.spin_up_s, self.rpm - target_rpm
        kept = math.exp(-step_s / lag_s)
        self.couple(target_rpm + far_rpm * (1.0 - kept) * lag_s / step_s)  # the mean over the step
        left_rpm = far_rpm * kept
        self.rpm = target_rpm + (left_rpm if abs(left_rpm) > STANDS_BELOW_RPM else 0.0)
        self.is_settled = False
        return True

    def couple(self, rpm: float) -> None:
        """Follow a speed: conductance, film, shear and the load per thickness."""
        parameters = self._parameters
        share = self._share_of(rpm)
        still, stirred = parameters.bowl_mass_still_w_per_k, parameters.bowl_mass_stirred_w_per_k
        scraped = parameters.scraped if rpm > 0.0 else 0.0
        if stirred and scraped < 1.0:
            filmed = 1.0 / (1.0 / stirred + 1.0 / parameters.film_w_per_k)
            stirred = scraped * stirred + (1.0 - scraped) * filmed
        self.content_w_per_k = still + max(0.0, stirred - still) * share**SPEED_POWER
        thin = scraped * min(1.0, share)
        self.film = parameters.film_left + thin * (parameters.film_scraped - parameters.film_left)
        self.share = share
        self.sheared = self._shear(parameters.stirred_per_s * share)
        self.unit_load_w = self._unit_load_at_w(rpm)

    def _share_of(self, rpm: float) -> float:
        """How well it stirs at a speed, over how well at the nominal one."""
        way = 1.0 if rpm >= 0.0 else self._parameters.backwards
        return way * abs(rpm) / self._parameters.stirred_rpm

    def _unit_load_at_w(self, rpm: float) -> float:
        """Load at a speed of 1 kg that is as thin as a melt at 40 °C, W."""
        nominal_per_s = self._parameters.stirred_per_s
        per_s = nominal_per_s * self._share_of(rpm)
        return flow.unit_load_w(self._filling, per_s, nominal_per_s)
