"""How far a welded relay gets in the last phase where a second switch stands in series with it.

Responsible for these lines of an ordeal; not for all its other faults (ordeal_summary).
"""

import math
from collections.abc import Sequence

from controller.core.profile import Profile
from controller.core.thresholds import CUT_OVER_CEILING_K
from controller.trials.ordeal_draws import SWITCH
from controller.trials.ordeal_summary import Tried, share_text
from controller.trials.ordeal_watch import Found, melts_out_c
from controller.wiring import BenchFault

ONSET_K = 0.7  # below its melting point tempered chocolate has begun to soften; own value


def welded_text(tried: Sequence[Tried], profile: Profile) -> str:
    """Peaks of bath and chocolate, with a newline at the end; empty where there are none."""
    last = profile.phases[-1]
    found = [
        one.found
        for one in tried
        if one.found.fault == BenchFault.RELAY_WELDED
        and one.found.phase == last.name
        and SWITCH in one.fittings
    ]
    if not found:
        return ""
    cap_c = min(last.bath_cut_c, last.bath_ceiling_c + CUT_OVER_CEILING_K)
    over_k = max(one.bath_max_c for one in found) - cap_c
    worst_c = max(one.bowl_max_c for one in found)
    return (
        f"Relay welded in {last.name} with a second switch, {len(found)} times: bath at most "
        f"{over_k:+.1f} K over its cap of {cap_c:g} °C; chocolate at most {worst_c:.1f} °C"
        f"{_gone_text(found, melts_out_c(profile))}.\n"
    )


def _gone_text(found: Sequence[Found], gone_c: float) -> str:
    """How near its crystals came to melting; empty where there are none to lose."""
    if math.isinf(gone_c):
        return ""
    whole_c = gone_c - ONSET_K
    under = sum(one.bowl_max_c <= whole_c for one in found)
    share = share_text(under, len(found))
    return f" (gone at {gone_c:.1f} °C), at most {whole_c:.1f} °C in {share}"
