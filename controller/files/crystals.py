"""From which phase on a profile's batch has crystals to lose.

Responsible for reading that off a profile, by what its phases do rather than by their names; not
for how warm a bath crystals bear (phase_rules) nor for whether a batch has any in truth.
"""

from controller.core.chocolate import form_v_melts_c
from controller.core.profile import Action, Kind, Phase, Profile

# The warmest that a table of the trade cools each kind to: McGee, On Food and Cooking, 2004; white
# after a chef's reference table. What is cooled so far after a melt gets crystals without any seed.
COOLED_C = {Kind.DARK: 29.0, Kind.MILK: 28.0, Kind.WHITE: 27.0}


def tempers(profile: Profile) -> bool:
    """Whether the batch is to have crystals at the end, set test or not.

    A kind that tempers, which is tested, seeded, or melted, cooled and warmed again.
    """
    if profile.kind not in COOLED_C:
        return False
    is_seeded = any(_seeds(phase) for phase in profile.phases)
    return profile.aims_at_temper or is_seeded or _is_classic(profile)


def coolest(profile: Profile) -> int:
    """The first of the phases with the lowest target."""
    targets_c = [phase.bowl_target_c for phase in profile.phases]
    return targets_c.index(min(targets_c))


def crystals_from(profile: Profile) -> int | None:
    """The first phase in which there are crystals to lose; None where there never are any.

    That is the coolest, where they form, or the first that is seeded and goes on to where form V
    stays. A profile that never gets there is bound in its last.
    """
    if not tempers(profile):
        return None
    melts_c = form_v_melts_c(profile.kind)
    seeded = (
        index
        for index, phase in enumerate(profile.phases)
        if phase.bowl_target_c < melts_c and _seeds(phase)
    )
    low = coolest(profile)
    last = len(profile.phases) - 1
    formed = low if profile.phases[low].bowl_target_c < melts_c else last
    return min(formed, next(seeded, last))


def _seeds(phase: Phase) -> bool:
    return any(one.action is Action.ADD_SEED for one in phase.questions)


def _is_classic(profile: Profile) -> bool:
    low = coolest(profile)
    low_c = profile.phases[low].bowl_target_c
    before, after = profile.phases[:low], profile.phases[low + 1 :]
    melts_c = form_v_melts_c(profile.kind)
    is_melted = any(phase.bowl_target_c > melts_c for phase in before)
    is_warmed = any(phase.bowl_target_c > low_c for phase in after)
    return is_melted and is_warmed and low_c <= COOLED_C[profile.kind]
