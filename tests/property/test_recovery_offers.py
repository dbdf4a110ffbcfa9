"""What holds for any cut and any next start: no offer is ever too generous."""

import math

from hypothesis import given
from hypothesis import strategies as st

from controller.core.profile import Kind, PowerBack
from controller.core.recovery import FRESH, decide
from controller.core.recovery_rows import Cut, Now, Offer
from tests.helpers.batch import LEGS, a_machine, a_profile
from tests.helpers.records import replace

NUMBERS = st.floats(allow_nan=True, allow_infinity=True) | st.floats(15.0, 60.0)
CUTS = st.builds(
    Cut,
    phase=st.integers(0, len(LEGS)),
    bath_c=NUMBERS,
    bowl_c=NUMBERS,
    hottest_c=NUMBERS,
    is_seeded=st.booleans(),
    dwelled_s=st.floats(0.0, 1e6),
    answered=st.frozensets(st.sampled_from(["swap", "seed"])),
    tripped=st.sampled_from(["", "", "level-lost"]),
    is_same=st.booleans(),
)
NOWS = st.builds(
    Now, bath_c=NUMBERS, bowl_c=NUMBERS, gap_s=st.none() | NUMBERS, boots=st.integers(1, 5)
)


@given(cut=CUTS, now=NOWS, kind=st.sampled_from(Kind))
def test_going_on_is_offered_only_where_all_is_known_to_be_well(
    cut: Cut, now: Now, kind: Kind
) -> None:
    profile, machine = a_profile(kind=kind), a_machine()
    decision = decide(cut, now, profile, machine)
    assert decision.why.endswith(".")
    if decision.offer is Offer.STOP_ONLY:
        assert decision.beginning == FRESH
        return
    # Both other offers lead to heat.
    assert math.isfinite(now.bath_c)
    assert math.isfinite(now.bowl_c)
    assert now.bowl_c <= min(profile.bowl_never_above_c, machine.bowl_max_c)
    assert now.bath_c <= min(profile.phases[cut.phase].bath_cut_c, machine.bath_max_c)
    assert now.boots < 3
    assert cut.is_same
    assert not cut.tripped
    begins = decision.beginning
    assert begins.phase == (cut.phase if decision.offer is Offer.RESUME else 0)
    assert 0.0 <= begins.dwelled_s <= profile.phases[begins.phase].dwell_s


@given(cut=CUTS, now=NOWS)
def test_an_unknown_gap_never_helps(cut: Cut, now: Now) -> None:
    profile, machine = a_profile(), a_machine()
    unknown = Now(bath_c=now.bath_c, bowl_c=now.bowl_c, gap_s=None, boots=now.boots)
    if decide(cut, unknown, profile, machine).offer is Offer.RESUME:
        assert decide(cut, now, profile, machine).offer is Offer.RESUME


@given(cut=CUTS, now=NOWS)
def test_one_more_boot_never_helps(cut: Cut, now: Now) -> None:
    order = (Offer.RESUME, Offer.MELT_AGAIN, Offer.STOP_ONLY)
    more = Now(bath_c=now.bath_c, bowl_c=now.bowl_c, gap_s=now.gap_s, boots=now.boots + 1)
    offers = [decide(cut, one, a_profile(), a_machine()).offer for one in (now, more)]
    assert order.index(offers[0]) <= order.index(offers[1])


@given(cut=CUTS, now=NOWS)
def test_a_profile_that_wants_to_begin_again_never_goes_on(cut: Cut, now: Now) -> None:
    strict = replace(a_profile(), power_back=PowerBack.BEGIN_AGAIN)
    assert decide(cut, now, strict, a_machine()).offer is not Offer.RESUME
