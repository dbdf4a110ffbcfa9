"""The trap of seeding and its rescue on the bench, by its crystal laws.

Responsible for the fate of seed's crystals in a bowl that neither gives nor takes heat; not for the
balance alone, in which everything melts (test_bench_oracles).
"""

import pytest

from controller.ports import Kind
from hardware.bench.laws import LAWS
from hardware.bench.parameters import Parameters
from hardware.bench.plant import Plant
from tests.helpers.adiabatic import ALONE, Bowl
from tests.helpers.records import replace

# As if grated to dust, so that seed is mixed in at once, as the figures below take it.
DUST = replace(ALONE, chopped_w_per_kg_k=2000.0, chopped_still=1.0, disperses_per_k_s=0.2)
IN_TEMPER = (0.005, 0.04)  # form V, fraction of the fat: from memory, not checked
TEN_MINUTES_S = 600.0


class Seeding(Bowl):
    """1 kg in all; the melt at 45 °C, the seed at 20 °C."""

    def __init__(self, share: float, law: str, pieces: Parameters = ALONE) -> None:
        """Melt all that isn't seed."""
        self.pieces = pieces
        plant = Plant(
            parameters=pieces,
            kind=Kind.DARK,
            mass_kg=1.0 - share,
            room_c=45.0,
            law=LAWS[law],
        )
        plant.room_c = 20.0
        super().__init__(plant)

    def cool_to(self, temp_c: float) -> None:
        """Cool it in the room's air."""
        self.plant.parameters = replace(self.pieces, mass_air_w_per_k=2.0)
        while self.plant.content_c > temp_c:
            self.wait(1.0)
        self.plant.parameters = self.pieces

    def at_once(self, share: float) -> Plant:
        """All seed in one go; ten minutes later."""
        self.plant.add_seed(share)
        self.wait(TEN_MINUTES_S)
        return self.plant

    def late(self, share: float) -> Plant:
        """The last third only once the bowl is at 34 °C; ten minutes later."""
        self.plant.add_seed(share * 2.0 / 3.0)
        self.wait(TEN_MINUTES_S)
        self.cool_to(34.0)
        self.plant.add_seed(share / 3.0)
        self.wait(TEN_MINUTES_S)
        return self.plant


# Own engineering values, not published: measured once with another program of the same constants.


@pytest.mark.parametrize(
    ("share", "temp_c", "form_v"), [(0.10, 39.9, 1e-4), (0.15, 37.4, 1e-4), (0.25, 33.7, 0.044)]
)
def test_seed_all_at_once_melts_out_unless_it_is_plenty(
    share: float, temp_c: float, form_v: float
) -> None:
    plant = Seeding(share, "pools", DUST).at_once(share)
    assert plant.content_c == pytest.approx(temp_c, abs=0.2)
    assert plant.form_v == pytest.approx(form_v, rel=0.02, abs=1e-4)


@pytest.mark.parametrize(("share", "temp_c", "form_v"), [(0.10, 33.5, 0.026), (0.15, 33.3, 0.039)])
def test_a_late_last_third_saves_the_seed(share: float, temp_c: float, form_v: float) -> None:
    # Own engineering values, not published: measured once with another program.
    plant = Seeding(share, "pools", DUST).late(share)
    assert plant.content_c == pytest.approx(temp_c, abs=0.1)
    assert plant.form_v == pytest.approx(form_v, rel=0.02)


# The orders, which any law must show, with pieces as a knife leaves them.


@pytest.mark.parametrize("law", sorted(LAWS))
@pytest.mark.parametrize("share", [0.10, 0.15])
def test_under_any_law_a_late_last_third_is_what_decides(law: str, share: float) -> None:
    # The trap and its rescue: the same mass of seed is lost or saved by when its last third goes
    # in, because the late one stays below form V's 33.8 °C (Wille & Lutton 1966).
    lost = Seeding(share, law).at_once(share)
    saved = Seeding(share, law).late(share)
    assert lost.content_c > 36.0
    assert lost.form_v < 0.1 * IN_TEMPER[0]
    assert saved.content_c < 33.8
    assert IN_TEMPER[0] < saved.form_v < IN_TEMPER[1]


@pytest.mark.parametrize("law", sorted(LAWS))
def test_under_any_law_plenty_of_seed_at_once_is_a_little_over(law: str) -> None:
    plant = Seeding(0.25, law).at_once(0.25)
    assert plant.content_c == pytest.approx(33.6, abs=0.4)
    assert IN_TEMPER[1] < plant.form_v < 0.06


@pytest.mark.parametrize("law", sorted(LAWS))
def test_under_any_law_what_melts_and_freezes_is_paid_in_heat(law: str) -> None:
    # By hand: the melt gives 0.85 (1.67 x 5 + 1.59 x (40 - T)), the seed takes 0.15 x 1.59 x (T -
    # 20) and the latent heat (157 kJ/kg of fat, Chevalley 1970) of what is no longer solid.
    share = 0.15
    plant = Seeding(share, law).at_once(share)
    solid = LAWS[law](0.0).solid(20.0)[1]
    melted = share * solid - (plant.form_v + plant.unstable)
    given_kj = 0.85 * (1.67 * 5.0 + 1.59 * (40.0 - plant.content_c))
    taken_kj = share * 1.59 * (plant.content_c - 20.0) + 0.35 * 157.0 * melted
    assert plant.solid_kg < 1e-5
    assert given_kj == pytest.approx(taken_kj, abs=0.005)


@pytest.mark.parametrize("law", sorted(LAWS))
def test_one_percent_of_the_fat_freezing_warms_dark_chocolate_by_a_third_of_a_kelvin(
    law: str,
) -> None:
    # 0.01 x 0.35 x 157 kJ/kg (Chevalley 1970) / 1.59 kJ/(kg K) (Beckett) = 0.346 K.
    bowl = Seeding(0.0, law)
    bowl.cool_to(27.0)
    cold_c, cold = bowl.plant.content_c, bowl.plant.form_v + bowl.plant.unstable
    bowl.wait(3600.0)
    frozen = bowl.plant.form_v + bowl.plant.unstable - cold
    assert frozen > 0.003
    assert (bowl.plant.content_c - cold_c) / (100.0 * frozen) == pytest.approx(0.346, rel=0.005)
