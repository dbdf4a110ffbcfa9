"""Cold water that nobody told of, living heaters and dead ones: which of them the bath confirms."""

from random import Random

import pytest

from controller.core.evidence import HeatMemory, ProbeMemory, heat_evidence
from tests.helpers.heated import OWN, Bath
from tests.helpers.records import replace
from tests.helpers.scene import ROOM_C


@pytest.mark.parametrize("heat_share", [0.0, 1.0])
def test_cold_water_that_a_slow_thermometer_hides_excuses_a_living_heater_and_no_dead_one(
    heat_share: float,
) -> None:
    bath = Bath(bath_c=36.0, bowl_c=34.0, heat_share=heat_share, transfer_w_per_k=5.0)
    bath.machine = replace(OWN, heater_w=230.0)
    for _ in range(60):
        bath.step(on=True)
    for _ in range(25):  # 3 K of cold water, shown by less than 0.2 K a second
        bath.bath_c -= 0.12
        bath.step(on=True)
    most_s = max(bath.step(on=True).given_s for _ in range(300))
    assert bath.memory.settling_s <= 0.0  # it was never seen as a fall
    assert (most_s > 135.0) is (heat_share == 0.0)


@pytest.mark.parametrize(("beyond_k", "is_answer"), [(0.01, True), (-0.01, False)])
def test_from_the_coldest_a_rise_must_clear_the_noise_besides_its_due(
    beyond_k: float, is_answer: bool
) -> None:
    full_k_per_s = OWN.heater_w / OWN.bath_j_per_k
    due_k = 0.25 + 0.15 * 41.0 * full_k_per_s
    bath_c = ROOM_C + due_k + beyond_k  # so near the room nothing is lost to speak of
    probe = ProbeMemory(value_c=bath_c, code_c=bath_c)
    before = HeatMemory(lagged=1.0, anchor_c=30.0, given_s=100.0, low=(ROOM_C, 60.0, 0.0))
    after = heat_evidence(
        before, bath=probe, bowl=probe, was_on=True, disturbed=False, machine=OWN, dt_s=1.0
    )
    assert (after.given_s == 0.0) is is_answer


@pytest.mark.parametrize("loss_share", [0.6, 1.5])
@pytest.mark.parametrize("bath_c", [22.0, 36.0])
@pytest.mark.parametrize("seed", range(5))
def test_a_noisy_thermometer_over_a_dead_heater_confirms_nothing_though_the_losses_are_misjudged(
    seed: int, bath_c: float, loss_share: float
) -> None:
    bath = Bath(bath_c=bath_c, bowl_c=bath_c - 1.0, heat_share=0.0, noise=Random(seed))  # noqa: S311 - no secret
    bath.machine = replace(OWN, heater_w=230.0, loss_w_per_k=loss_share * OWN.loss_w_per_k)
    bath.true_loss_w_per_k = OWN.loss_w_per_k
    given = [bath.step(on=True).given_s for _ in range(400)]
    assert max(given) > 135.0
    assert sum(one == 0.0 for one in given[1:300]) <= 1
