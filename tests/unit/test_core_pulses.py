"""How long a relay's pulses may be, to spare it, against a bath that saws and a bowl behind it."""

import pytest

from controller.core.hold import SPARES_K, SPARES_TIMES, Numbers, pulse_s

LEAST_S = 5.0
DUTY = 0.1


def numbered(kr_per_s: float, p_k_per_s: float) -> Numbers:
    """A machine by how fast its bowl follows and its bath is heated."""
    return Numbers(
        bath_c=40.0,
        bowl_c=40.0,
        coming_c=40.0,
        apart_k=0.0,
        k_per_s=1e-3,
        kr_per_s=kr_per_s,
        p_k_per_s=p_k_per_s,
        lag_s=20.0,
        stands_k=0.5,
        holds_share=DUTY,
    )


def test_a_relay_without_contacts_keeps_its_shortest_pulses() -> None:
    assert pulse_s(numbered(5e-4, 0.01), 2.0) == 2.0


def test_a_calm_bowl_lets_a_relay_with_contacts_have_longer_pulses() -> None:
    assert pulse_s(numbered(5e-4, 0.01), LEAST_S) == SPARES_TIMES * LEAST_S


def test_a_bowl_that_would_sway_gets_the_shortest_pulses() -> None:
    assert pulse_s(numbered(6e-3, 0.12), LEAST_S) == LEAST_S


def test_between_the_two_a_bowl_sways_as_far_as_is_allowed() -> None:
    now = numbered(4e-3, 0.11)
    long_s = pulse_s(now, LEAST_S)
    assert LEAST_S < long_s < SPARES_TIMES * LEAST_S
    steps, bowl, reached = 10_000, 0.0, []
    step_s = long_s / DUTY / steps
    for step in range(steps):  # the bath's lead: up by a pulse at once, down over a period
        lead_k = now.p_k_per_s * long_s * (0.5 - step / steps)
        bowl += now.kr_per_s * lead_k * step_s
        reached.append(bowl)
    assert max(reached) - min(reached) == pytest.approx(2.0 * SPARES_K, rel=0.01)
