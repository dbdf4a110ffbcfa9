"""What the room forbids: cooling, setting, and whatever would get wet in its air.

Responsible for judging a room against a profile; not for the physics of air (air).
"""

from enum import StrEnum

from msgspec import Struct

from controller.core.profile import Profile
from controller.planning.air import boiling_c, dew_point_c
from controller.planning.wish import Wish

# Common practice, no source: chocolate is worked and sets at 18 to 21 °C, below 50 to 60 %.
SETS_MOST_C, SETS_LEAST_C, DAMP = 21.0, 18.0, 0.60
# Own engineering values, not published.
SETS_SLACK_K = 0.5  # as near as a kitchen thermometer is
DRY_MARGIN_K = 2.0  # over the dew point: a thermometer and a damp corner may be off by that
PASSIVE_K = 2.0  # a bath cools by itself to nothing nearer to the room in useful time
WORKING_K = 1.0  # and can't be held where the room itself is nearly as warm


class Weight(StrEnum):
    """How much a remark on the room weighs."""

    NO = "no"  # it can't be done in this room
    CARE = "care"
    GOOD = "good"


class Remark(StrEnum):
    """What there is to say of a room."""

    NOTHING_SETS = "nothing-sets"
    NEEDS_COLD_WATER = "needs-cold-water"
    TOO_WARM_TO_SET = "too-warm-to-set"
    TOO_COLD_TO_WORK = "too-cold-to-work"
    DAMP = "damp"
    MOULDS_SWEAT = "moulds-sweat"
    BATH_SWEATS = "bath-sweats"
    TAP_SWEATS = "tap-sweats"
    FRIDGE_SWEATS = "fridge-sweats"
    FIT = "fit"


_WEIGHTS = {Remark.NOTHING_SETS: Weight.NO, Remark.FIT: Weight.GOOD}


class Air(Struct, frozen=True, kw_only=True):
    """The room's air and what it means."""

    dew_c: float
    dry_from_c: float  # what is warmer stays dry
    boils_c: float
    remarks: tuple[Remark, ...]

    def weight(self, remark: Remark) -> Weight:
        """How much it weighs."""
        return _WEIGHTS.get(remark, Weight.CARE)


def air_of(wish: Wish, profile: Profile, coldest_bath_c: float) -> Air:
    """Judge the room. `coldest_bath_c` is the bath after its cold water."""
    dew_c = dew_point_c(wish.room_c, wish.humidity)
    dry_from_c = dew_c + DRY_MARGIN_K
    targets_c = [phase.bowl_target_c for phase in profile.phases]
    found = {
        Remark.NOTHING_SETS: wish.room_c > targets_c[-1] - WORKING_K,
        Remark.NEEDS_COLD_WATER: wish.room_c > min(targets_c) - PASSIVE_K,
        Remark.TOO_WARM_TO_SET: wish.room_c > SETS_MOST_C + SETS_SLACK_K,
        Remark.TOO_COLD_TO_WORK: wish.room_c < SETS_LEAST_C - SETS_SLACK_K,
        Remark.DAMP: wish.humidity > DAMP,
        # They are as cool as where chocolate sets well, or a little cooler than the room.
        Remark.MOULDS_SWEAT: min(wish.room_c - DRY_MARGIN_K, SETS_LEAST_C) < dry_from_c,
        Remark.BATH_SWEATS: coldest_bath_c < dry_from_c,
        Remark.TAP_SWEATS: wish.tap_c < dew_c,
        Remark.FRIDGE_SWEATS: wish.fridge_c < dry_from_c,
    }
    remarks = tuple(remark for remark, holds in found.items() if holds)
    grave = [one for one in remarks if one not in {Remark.FRIDGE_SWEATS, Remark.TAP_SWEATS}]
    return Air(
        dew_c=dew_c,
        dry_from_c=dry_from_c,
        boils_c=boiling_c(wish.pressure_hpa),
        remarks=remarks if grave else (Remark.FIT, *remarks),
    )
