"""The shipped profiles on the bench under either crystal law: what the trade does must temper.

Responsible for the temper that comes out; not for how a run gets there.
"""

import pytest

from controller.ports import Verdict
from controller.trials import Trial, run_trial
from hardware.bench.laws import LAWS


@pytest.mark.parametrize("law", sorted(LAWS))
@pytest.mark.parametrize(
    "profile", ["dark", "milk", "white", "dark-seeded", "milk-seeded", "white-seeded"]
)
def test_the_trade_s_temperatures_temper_chocolate_under_either_law(profile: str, law: str) -> None:
    # McGee, On Food and Cooking, 2004, and a chef's table (see test_profile_temperatures): these
    # temperatures give tempered chocolate. In temper: 0.5 to 4 % of the fat in form V and at most
    # 0.2 % unstable (own engineering values, from the span of the literature, from memory).
    outcome = run_trial(Trial(profile=profile, law=law))
    assert outcome.exit == 0
    assert outcome.truth.verdict is Verdict.IN_TEMPER
    assert 0.005 < outcome.truth.form_v < 0.04
    assert outcome.truth.unstable < 0.002
