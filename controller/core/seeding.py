"""Whether seed that somebody said is in is in: cold pieces that melt cool the bowl.

Responsible for weighing how far the bowl fell against how far it should have; not for crystals
(temper). A share too small to be seen is believed.
"""

import math

from msgspec import Struct

from controller.core.estimate import Belief
from controller.core.thermal import BOWL, LN_K, LN_R

# Own engineering values, not published.
WAIT_S = 90.0  # until the bowl and its thermometer have come down
SEEN_FROM_K = 1.5  # a smaller fall is lost in what else happens
LED_MOST = 1.5  # of that fall may be the bath's
DOUBTED_BELOW = 0.35  # of the fall that should have been


class SeedCheck(Struct, frozen=True, kw_only=True):
    """A portion of seed that was asked for or announced, and not yet weighed."""

    from_c: float  # the bowl before
    fall_k: float  # by how much it should cool
    until_s: float = math.inf  # run time of the judgement: a while after it is said to be in
    led_k: float = 0.0  # what the bath did to the bowl meanwhile


def awaited(belief: Belief, share: float, bowl_c: float) -> SeedCheck | None:
    """A portion that is asked for: a share of the whole batch; None where it would not be seen.

    The fall counts from the question on, for a cook answers after the deed. `bowl_c` is the bowl.
    """
    part = share / (belief.in_bowl + share)
    fall_k = part * (bowl_c - belief.prior.room_c + belief.prior.content.latent_k)
    if not fall_k >= SEEN_FROM_K:
        return None
    return SeedCheck(from_c=bowl_c, fall_k=fall_k)


def led(check: SeedCheck, belief: Belief, span_s: float) -> SeedCheck:
    """The portion after a span in which the bath led the bowl, or cooled it."""
    rate = math.exp(belief.mean[LN_K] + belief.mean[LN_R])
    moved_k = rate * (belief.wall_c - belief.mean[BOWL]) * span_s
    return SeedCheck(
        from_c=check.from_c,
        fall_k=check.fall_k,
        until_s=check.until_s,
        led_k=check.led_k + moved_k,
    )


def is_doubted(check: SeedCheck, bowl_c: float) -> bool:
    """Whether the bowl, °C, has not cooled as this seed cools it."""
    if abs(check.led_k) > LED_MOST * check.fall_k:  # a swapped bath drowns it
        return False
    return check.from_c + check.led_k - bowl_c < DOUBTED_BELOW * check.fall_k
