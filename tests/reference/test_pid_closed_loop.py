"""The inner loop against the world outside: python-control's closed loop and Skogestad's rule.

The plant is a first-order element feeding an integrating bath, discretised exactly for a heater
held constant over each second (zero-order hold); its constants are the worked example's, and its
element lag of 20 s is an own engineering value, not published.
"""

from collections.abc import Callable

import control
import numpy as np
import pytest
from numpy.typing import NDArray

from controller.core.machine import Machine
from controller.core.regulator import DELAY_S, INNER_TI_S, regulate
from controller.core.state import Regulation
from tests.helpers.scene import machine

Vector = NDArray[np.float64]

# The worked example: 3 kg of water at 4180 J/(kg K), 500 J/K of vessel, 500 W.
WATER_KG, VESSEL_J_PER_K, HEATER_W = 3.0, 500.0, 500.0
BATH_J_PER_K = 13040.0
LAG_S = 20.0
DT_S = 1.0
STEPS = 1500
# The feed-forward, 0.4 duty, stands in for the losses, which the plant here leaves out: so the loop
# has room to both sides and is linear.
LOSS_W_PER_K = 10.0
STEADY = 0.4


def simc_integrating(gain_per_s: float, delay_s: float, tau_c_s: float) -> tuple[float, float]:
    """Gain (duty/K) and integral time (s) for an integrating plant.

    Source: S. Skogestad, "Simple analytic rules for model reduction and PID controller tuning",
    J. Process Control 13 (2003) 291-309, for an integrating process: Kc = 1 / (k' (tau_c +
    delay)), Ti = 4 (tau_c + delay).
    """
    return 1.0 / (gain_per_s * (tau_c_s + delay_s)), 4.0 * (tau_c_s + delay_s)


def test_simc_gives_the_numbers_of_the_worked_example() -> None:
    # Worked from the rule above with k' = 500/13040 K/s per duty, delay 45 s and tau_c = delay.
    gain, ti_s = simc_integrating(HEATER_W / BATH_J_PER_K, 45.0, 45.0)
    assert gain == pytest.approx(0.290, abs=5e-4)
    assert ti_s == 360.0


def bath() -> Machine:
    """The worked example's machine, with a room that makes the feed-forward 0.4 duty at 50 °C."""
    own = machine(
        water_kg=WATER_KG,
        vessel_j_per_k=VESSEL_J_PER_K,
        heater_w=HEATER_W,
        loss_w_per_k=LOSS_W_PER_K,
        room_c=50.0 - STEADY * HEATER_W / LOSS_W_PER_K,
    )
    assert own.bath_j_per_k == BATH_J_PER_K
    return own


def ours() -> Callable[[float], float]:
    """The product's inner loop as a box from bath temperature to duty, kept at 50 °C."""
    own = bath()
    memory = Regulation()

    def duty(now_c: float) -> float:
        nonlocal memory
        memory = regulate(
            memory,
            setpoint_c=70.0,  # above the ceiling, so that the bath set-point stands at it
            ceiling_c=50.0,
            bowl_c=20.0,
            bath_c=now_c,
            run_s=75.0,  # the crest of the sway, which the ceiling clips
            machine=own,
            dt_s=DT_S,
        )
        assert memory.bath_setpoint_c == 50.0
        assert 0.0 < memory.duty < 1.0  # never saturated: the comparison is of linear loops
        return memory.duty

    return duty


def plant() -> control.StateSpace:
    """Element and bath: K of bath per unit of duty above the steady one, in steps of 1 s."""
    a = [[-1.0 / LAG_S, 0.0], [HEATER_W / BATH_J_PER_K, 0.0]]
    continuous = control.ss(a, [[1.0 / LAG_S], [0.0]], [[0.0, 1.0]], [[0.0]])
    return control.sample_system(continuous, DT_S, method="zoh")


def closed_by_python_control(start_k: float, gain: float, ti_s: float) -> Vector:
    """The bath over 50 °C from an offset of `start_k`, by python-control alone.

    Starting `start_k` off the set-point is the set-point stepping away by as much. The controller
    integrates the present error before it answers (backward Euler), as simple-pid does:
    C(z) = Kc (1 + dt / Ti * z / (z - 1)).
    """
    ki = gain * DT_S / ti_s
    controller = control.ss([[1.0]], [[ki]], [[1.0]], [[gain + ki]], DT_S)
    closed = control.feedback(plant() * controller, 1)
    response = control.step_response(closed, np.arange(STEPS) * DT_S)
    return start_k * (1.0 - np.asarray(response.outputs, dtype=np.float64))


def closed_by_the_product(start_k: float) -> Vector:
    """The same from the product's own regulator around the same discretised plant."""
    box = ours()
    model = plant()
    x = np.array([0.0, start_k])
    bath_k = []
    for _ in range(STEPS):
        bath_k.append(float((model.C @ x)[0]))
        duty = box(50.0 + bath_k[-1])
        x = model.A @ x + model.B[:, 0] * (duty - STEADY)
    return np.array(bath_k)


# Within 0.5 K of the set-point the loop integrates; within these offsets it never saturates.
@pytest.mark.parametrize("start_k", [-0.45, -0.2, 0.45])
def test_the_closed_loop_is_python_control_s(start_k: float) -> None:
    gain, ti_s = simc_integrating(HEATER_W / BATH_J_PER_K, DELAY_S, DELAY_S)
    product = closed_by_the_product(start_k)
    reference = closed_by_python_control(start_k, gain, ti_s)
    assert np.max(np.abs(product - reference)) < 1e-9
    assert abs(product[0]) == pytest.approx(abs(start_k))
    assert np.max(np.abs(product[-300:])) < 2e-3  # and it settles


def test_the_comparison_would_notice_gains_one_percent_off() -> None:
    gain, ti_s = simc_integrating(HEATER_W / BATH_J_PER_K, DELAY_S, DELAY_S)
    product = closed_by_the_product(-0.2)
    for off in (
        closed_by_python_control(-0.2, 1.01 * gain, ti_s),
        closed_by_python_control(-0.2, gain, 1.01 * ti_s),
    ):
        assert np.max(np.abs(product - off)) > 1e-5


def test_the_product_s_gains_are_the_rule_s() -> None:
    own = bath()
    gain, ti_s = simc_integrating(own.heater_w / own.bath_j_per_k, DELAY_S, DELAY_S)
    assert ti_s == INNER_TI_S
    box = ours()
    steady = box(50.0)
    assert steady == pytest.approx(STEADY)
    # One second at 0.1 K below: gain times the error, and its first second of integral.
    assert box(49.9) - steady == pytest.approx(gain * 0.1 * (1.0 + DT_S / ti_s))
