"""The bench's plant inside the virtual board: it follows the lines, and feeds chips and inputs.

Responsible for turning the board's lines into heat, turning and cooling, and what becomes of it
into registers and pulses, in real time; not for any expectation.
"""

import math
from functools import cache
from pathlib import Path

from controller.clock import RealClock
from controller.ports import Kind, Sensor
from hardware.bench.attach import Bench, attach
from hardware.bench.parameters import Parameters
from tests.board.guest import agent

STEP_S = 0.2  # an emulated processor has little time; a turn takes 2 s
RPM = 30.0  # of the profile: its motor only turns or stands
PULSES = 2  # in one turn: the machine file's
S_PER_MIN = 60.0
# A small bath and a well coupled bowl, so that a run is short: own engineering values.
SMALL = Parameters(
    water_kg=0.6, bath_bowl_w_per_k=118.0, bowl_mass_stirred_w_per_k=32.0, heater_lag_s=10.0
)
BATCH_KG = 0.2
# The thermistor of the machine file, once more: a plant doesn't lean on what it tests.
A, B, C = 1.0295e-3, 2.391e-4, 1.568e-7
SERIES_OHM, SUPPLY_MV, ZERO_K = 10_000.0, 3300.0, 273.15
CONVERTER = Path("/etc/board-ntc").resolve()


def code_of(value_c: float) -> int:
    """What the voltage converter holds at that temperature, at the scale that its driver shows."""
    half = (A - 1.0 / (value_c + ZERO_K)) / (2.0 * C)
    root = math.sqrt((B / (3.0 * C)) ** 3 + half**2)
    ohm = math.exp(math.cbrt(root - half) - math.cbrt(root + half))
    return round(SUPPLY_MV * ohm / (ohm + SERIES_OHM) / scale_mv())


@cache
def scale_mv() -> float:
    """The converter's, which stays as it is."""
    return float((CONVERTER / "in_voltage0_scale").read_text())


class Feeder:
    """The plant and its hands."""

    def __init__(self, bench: Bench) -> None:
        """At room temperature, nothing on."""
        self._bench = bench
        self._pulses, self._last_s = 0.0, 0.0

    def step(self, now_s: float) -> None:
        """Follow the lines to now, and show what comes of it."""
        devices = self._bench.devices
        devices.heater.drive(on=agent.line("HEAT") == agent.line("SECOND") == 1, now_s=now_s)
        devices.stirrer.drive(rpm=RPM * agent.line("STIR"), now_s=now_s)
        if devices.cooler is not None:
            devices.cooler.drive(on=agent.line("COOL") == 1, now_s=now_s)
        self._turn(now_s)
        for name, sensor in (("bath", devices.bath), ("guard", self._bench.guard_probe)):
            agent.show(name, value_of(sensor, now_s))
        agent.put(CONVERTER.parent.name, code_of(value_of(devices.bowl, now_s)))

    def _turn(self, now_s: float) -> None:
        """A pulse for each quarter of a turn."""
        before, gone_s = math.floor(self._pulses), now_s - self._last_s
        self._pulses += PULSES * self._bench.plant.rpm / S_PER_MIN * gone_s
        self._last_s = now_s
        if math.floor(self._pulses) > before:
            agent.pull("SHAFT", "up")
        elif self._pulses % 1.0 >= 0.5:
            agent.pull("SHAFT", "down")


def value_of(sensor: Sensor, now_s: float) -> float:
    """What a whole thermometer shows, °C."""
    return sensor.read(now_s).value


def small_bench() -> Bench:
    """The plant of the board, with nothing done to it yet."""
    return attach(
        machine=SMALL,
        seed=1,
        kind=Kind.WATER,
        batch_kg=BATCH_KG,
        seed_share=0.0,
        fitted=frozenset({"pump", "second-switch"}),
    )


def main() -> None:
    """Feed until killed."""
    clock, feeder = RealClock(), Feeder(small_bench())
    began_s = clock.now_s()
    feeder.step(0.0)
    Path(agent.FEEDING).write_text("feeding", encoding="ascii")
    due_s = began_s
    while True:
        feeder.step(clock.now_s() - began_s)
        due_s = max(due_s + STEP_S, clock.now_s())
        clock.wait_until(due_s)


if __name__ == "__main__":
    main()
