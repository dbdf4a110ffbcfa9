"""The bench's plant over a whole run against an independent solver.

Responsible for the integration and for the plant being its equations; not for single laws. The
peer is solved by scipy.integrate.solve_ivp, LSODA, rtol 1e-10.
"""

import pytest

from controller.ports import Kind
from hardware.bench.draws import draw
from hardware.bench.laws import LAWS
from hardware.bench.parameters import Parameters
from tests.helpers import plant_peer
from tests.helpers.plant_pair import CLASSIC, SEEDED, Leg, Pair
from tests.helpers.records import replace

APART_K = 0.001  # at any moment of the run, swaps and the stirrer's starts and stops included
APART_DRAWN_K = 0.002  # own engineering value: walls of 2 s and heaters of 1 kW among them


def drawn(number: int, *, film_share: float = 0.0) -> Parameters:
    """A machine drawn at random, with thermometers of one kind."""
    return replace(
        draw(1, number).parameters,
        bath_probe="1-wire",
        bowl_probe="1-wire",
        guard_probe="1-wire",
        film_share=film_share,
    )


def follow(pair: Pair, legs: tuple[Leg, ...], apart_k: float) -> None:
    """Run both; every temperature agrees at every decision, and in the end all else."""
    warmest_c, coldest_c = 20.0, 99.0
    for leg in legs:
        for worst_k in pair.run(leg):
            assert worst_k < apart_k, leg
            warmest_c = max(warmest_c, pair.plant.content_c)
        if leg.swap_first:
            coldest_c = pair.plant.content_c
    plant, x = pair.plant, pair.peer.x
    assert plant.form_v == pytest.approx(float(x[plant_peer.FORM_V]), rel=1e-3)
    assert plant.unstable == pytest.approx(float(x[plant_peer.UNSTABLE]), abs=1e-6)
    assert plant.memory == pytest.approx(float(x[plant_peer.MEMORY]), abs=1e-4)
    assert plant.water_kg == pytest.approx(float(x[plant_peer.WATER]), abs=1e-6)
    # The run has been through all that matters.
    assert warmest_c > 46.0
    assert coldest_c < 34.5
    assert pair.now_s > 5400.0


@pytest.mark.parametrize("law", sorted(LAWS))
@pytest.mark.parametrize("legs", [CLASSIC, SEEDED], ids=["classic", "seeded"])
def test_a_whole_run_agrees_with_an_independent_solver(law: str, legs: tuple[Leg, ...]) -> None:
    pair = Pair(law)
    follow(pair, legs, APART_K)
    assert pair.plant.form_v > 0.005


@pytest.mark.parametrize("kind", [Kind.MILK, Kind.WHITE])
def test_milk_and_white_agree_as_well(kind: Kind) -> None:
    follow(Pair("pools", kind), CLASSIC, APART_K)


@pytest.mark.parametrize(("number", "law"), [(1, "pools"), (4, "nuclei"), (6, "pools")])
def test_machines_drawn_at_random_agree_as_well(number: int, law: str) -> None:
    # All that a draw differs in at once: couplings, draught, a room that swings and drifts, fat of
    # another heat, thermometers that see element and film; and a part that reacts in the film.
    follow(Pair(law, Kind.DARK, drawn(number, film_share=0.1)), CLASSIC, APART_DRAWN_K)


def test_seed_in_a_drawn_machine_agrees_as_well() -> None:
    follow(Pair("pools", Kind.DARK, drawn(1)), SEEDED, APART_DRAWN_K)


def test_a_low_bath_agrees_as_well() -> None:
    # A third of the water gone: the element is still covered, the bowl no longer all in water.
    pair = Pair("pools")
    pair.plant.spill(share=0.35)
    pair.peer.x[plant_peer.WATER] *= 0.65
    for leg in CLASSIC[:2]:
        assert max(pair.run(leg)) < APART_K
    assert pair.plant.covered == 1.0
