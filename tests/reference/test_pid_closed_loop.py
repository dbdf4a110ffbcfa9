"""The hold cascade against the world outside: python-control's closed loops and Skogestad's rule.

The inner loop drives a first-order element that feeds an integrating bath; its constants are the
worked example's, and its element lag of 20 s is an own engineering value, not published. What the
element still holds counts as in the bath already, which is a state feedback of both.
"""

import control
import numpy as np
import pytest
from numpy.typing import NDArray

from controller.core.hold import INNER_S, Numbers, bath_setpoint, duty, inner_s

Vector = NDArray[np.float64]

# The worked example: 3 kg of water at 4180 J/(kg K), 500 J/K of vessel, 500 W.
HEATER_W, BATH_J_PER_K = 500.0, 13040.0
POWER_K_PER_S = HEATER_W / BATH_J_PER_K
LAG_S = 20.0
DT_S = 1.0
STEPS = 600
STEADY = 0.4  # so that the loop has room to both sides and is linear
TARGET_C = 50.0


def seen(bath_k: float, element: float) -> Numbers:
    """The machine with its bath `bath_k` over the target and that share of power leaving it."""
    bath_c = TARGET_C + bath_k
    return Numbers(
        bath_c=bath_c,
        bowl_c=TARGET_C,
        coming_c=bath_c + POWER_K_PER_S * LAG_S * element,
        apart_k=0.0,
        k_per_s=1e-3,
        kr_per_s=4e-3,
        p_k_per_s=POWER_K_PER_S,
        lag_s=LAG_S,
        stands_k=0.0,
        holds_share=STEADY,
    )


def plant() -> control.StateSpace:
    """Element and bath per unit of duty above the steady one, sampled exactly each second."""
    a = [[-1.0 / LAG_S, 0.0], [POWER_K_PER_S, 0.0]]
    continuous = control.ss(a, [[1.0 / LAG_S], [0.0]], [[0.0, 1.0]], [[0.0]])
    return control.sample_system(continuous, DT_S, method="zoh")


def closed_by_the_product(start_k: float) -> Vector:
    """The bath over its set-point by the product's own inner loop."""
    model = plant()
    x = np.array([0.0, start_k])
    bath_k = []
    for _ in range(STEPS):
        bath_k.append(float(x[1]))
        asked = duty(seen(x[1], x[0] + STEADY), TARGET_C, STEADY, INNER_S, DT_S)
        assert 0.0 < asked < 1.0  # never saturated: the comparison is of linear loops
        x = model.A @ x + model.B[:, 0] * (asked - STEADY)
    return np.array(bath_k)


def closed_by_python_control(start_k: float, closes_s: float) -> Vector:
    """The same by python-control alone: u = -K x with K = [lag / T, 1 / (p T)]."""
    model = plant()
    gain = np.array([[LAG_S / closes_s, 1.0 / (POWER_K_PER_S * closes_s)]])
    closed = control.ss(model.A - model.B @ gain, model.B, model.C, model.D, DT_S)
    response = control.initial_response(closed, np.arange(STEPS) * DT_S, [0.0, start_k])
    return np.asarray(response.outputs, dtype=np.float64)


@pytest.mark.parametrize("start_k", [-0.4, -0.2, 0.3])
def test_the_inner_loop_is_python_control_s_state_feedback(start_k: float) -> None:
    product = closed_by_the_product(start_k)
    assert np.max(np.abs(product - closed_by_python_control(start_k, INNER_S))) < 1e-9
    assert np.max(np.abs(product[-100:])) < 1e-3  # and it settles


def test_the_comparison_would_notice_a_gain_one_percent_off() -> None:
    product = closed_by_the_product(-0.2)
    assert np.max(np.abs(product - closed_by_python_control(-0.2, 1.01 * INNER_S))) > 1e-5


def test_bath_and_element_together_close_in_with_the_inner_time_constant() -> None:
    # What bath and element hold together is a bare integrator, so the loop is of first order.
    model = plant()
    x = np.array([0.0, -0.4])
    together = []
    for _ in range(STEPS):
        together.append(float(x[1] + POWER_K_PER_S * LAG_S * x[0]))
        asked = duty(seen(x[1], x[0] + STEADY), TARGET_C, STEADY, INNER_S, DT_S)
        x = model.A @ x + model.B[:, 0] * (asked - STEADY)
    left = np.array(together[1:50]) / np.array(together[:49])
    assert left == pytest.approx(np.full(49, 1.0 - DT_S / INNER_S), abs=1e-9)


@pytest.mark.parametrize("kr_per_s", [0.01, 0.02, 0.03, 0.06])
def test_the_outer_gain_is_the_rule_s(kr_per_s: float) -> None:
    # S. Skogestad, "Simple analytic rules for model reduction and PID controller tuning", J.
    # Process Control 13 (2003) 291-309, first-order lag of gain 1: Kc = tau_1 / (tau_c + delay),
    # here with tau_1 = 1 / (k r) and tau_c = delay = the inner loop's time constant.
    closes_s = inner_s(1.0)
    low = Numbers(
        **{
            **{name: getattr(seen(0.0, STEADY), name) for name in Numbers.__struct_fields__},
            "bowl_c": TARGET_C - 0.5,  # too far off for the trim
            "kr_per_s": kr_per_s,
        }
    )
    wanted_c, _ = bath_setpoint(low, TARGET_C, TARGET_C + 20.0, 0.0, closes_s, DT_S)
    gain = (wanted_c - TARGET_C) / 0.5
    assert gain == pytest.approx((1.0 / kr_per_s) / (closes_s + closes_s))
