"""A bench as two boards with relays and thermometers: bits and registers over the simulated plant.

Responsible for what lies where, and for opening every output once its host is silent, as a real
board must; not for the protocol that carries it (board_server). Its map is our own; a machine file
that fits it stands in hardware/DRIVERS.md.
"""

import math
from collections.abc import Callable
from enum import IntEnum

from controller.ports import Fault, Reading, Sensor
from hardware.bench.attach import Bench

HOST_LOSS_S = 3.0  # how long its outputs stay without a request
BROKEN = -0x8000  # stands where a sensor gives no value
MOST = 0x7FFF
STEPS_PER_C = 100
STEPS_PER_RPM = 10
STEPS_PER_W = 100
STEPS_PER_S = 10
STIRRER_RPM = 30.0  # its motor has one speed: own engineering value, as the profiles have it
_MODULO = 0x10000


class Coil(IntEnum):
    """The outputs, and at the same addresses of the discrete inputs their true states."""

    HEATER = 0
    SECOND = 1
    STIRRER = 2
    COOLING = 3


LEVEL, LID, STOP = 4, 5, 6  # discrete inputs, beside the outputs' states
DISCRETE_INPUTS = STOP + 1


class Register(IntEnum):
    """The input registers: signed, in steps of 0.01 °C, 0.1 rpm and 0.01 W."""

    BATH = 0
    BOWL = 1
    GUARD = 2
    SHAFT = 3
    LOAD = 4


class Holding(IntEnum):
    """The holding registers; the second is for reading."""

    HOST_LOSS = 0  # tenths of a second; 0 keeps the outputs for ever
    BOOTS = 1


# A bench is two boards, since a board takes any word for its host's: a run that speaks to the
# guard's board would keep on what a dead guard has left on.
GUARD_UNIT, RUN_UNIT = 1, 2
OUTPUTS = {
    GUARD_UNIT: frozenset({Coil.HEATER, Coil.SECOND}),
    RUN_UNIT: frozenset({Coil.STIRRER, Coil.COOLING}),
}


def boards_of(bench: Bench, clock_s: Callable[[], float]) -> "dict[int, Board]":
    """The bench's boards by their units; `clock_s` is the bench's own time, s."""
    return {unit: Board(bench, clock_s, outputs) for unit, outputs in OUTPUTS.items()}


class Board:
    """Some of the bench's outputs, and its sensors, as a board has them."""

    def __init__(
        self, bench: Bench, clock_s: Callable[[], float], outputs: frozenset[Coil]
    ) -> None:
        """All outputs open; `clock_s` is the bench's own time, s."""
        self._bench, self._clock_s, self._outputs = bench, clock_s, outputs
        self._coils = dict.fromkeys(Coil, False)
        self._heard_s = clock_s()
        self.host_loss_s = HOST_LOSS_S
        self.boots = 1
        devices = bench.devices
        self._measured: dict[Register, tuple[Sensor | None, int]] = {
            Register.BATH: (devices.bath, STEPS_PER_C),
            Register.BOWL: (devices.bowl, STEPS_PER_C),
            Register.GUARD: (bench.guard_probe, STEPS_PER_C),
            Register.SHAFT: (devices.shaft, STEPS_PER_RPM),
            Register.LOAD: (devices.load, STEPS_PER_W),
        }

    def live(self) -> float:
        """Let the plant go on to now, with the outputs as they were; the moment, s."""
        now_s, ends_s = self._clock_s(), self._ends_s()
        if ends_s <= now_s and any(self._coils.values()):
            self._drive(ends_s)
            self._open()
            self._drive(ends_s)
        self._drive(now_s)
        return now_s

    def heard(self) -> None:
        """The host has spoken: its outputs stay for another while."""
        self._heard_s = self.live()

    def restart(self) -> None:
        """Lose power for a moment: every output opens, and the counter goes on."""
        self._open()
        self.boots += 1
        self.live()

    def coils(self) -> list[bool]:
        """What each output was told, and has kept until now."""
        is_kept = self._clock_s() < self._ends_s()
        return [self._coils[coil] and is_kept for coil in Coil]

    def switch(self, coil: int, *, on: bool) -> bool:
        """Switch one output; whether this board has it."""
        if coil not in self._outputs:
            return False
        self._coils[Coil(coil)] = on
        self.live()
        return True

    def discrete_inputs(self) -> list[bool]:
        """The outputs' true states; water over the element, lid on, stop button not pressed.

        What the bench isn't fitted with stands as if all were well.
        """
        devices, now_s = self._bench.devices, self._clock_s()
        switches = (devices.level, devices.lid, devices.stop)
        active = [one is None or one.read(now_s).value >= 1.0 for one in switches]
        return [*self.coils(), *active]

    def input_registers(self) -> list[int]:
        """What is measured."""
        now_s = self._clock_s()
        return [
            _register(None if sensor is None else sensor.read(now_s), steps)
            for sensor, steps in self._measured.values()
        ]

    def holding_registers(self) -> list[int]:
        """What can be set, and the counter of starts."""
        return [round(self.host_loss_s * STEPS_PER_S), self.boots % _MODULO]

    def set_holding(self, address: int, value: int) -> bool:
        """Set one; whether it can be."""
        if address != Holding.HOST_LOSS:
            return False
        self.host_loss_s = value / STEPS_PER_S
        return True

    def _ends_s(self) -> float:
        """When its outputs open unless it hears its host before."""
        return self._heard_s + self.host_loss_s if self.host_loss_s else math.inf

    def _open(self) -> None:
        self._coils = dict.fromkeys(Coil, False)

    def _drive(self, now_s: float) -> None:
        devices, coils = self._bench.devices, self._coils
        if Coil.HEATER in self._outputs:
            # A bench's own second switch follows its first.
            devices.heater.drive(on=coils[Coil.HEATER], now_s=now_s)
        if Coil.STIRRER in self._outputs:
            devices.stirrer.drive(rpm=STIRRER_RPM if coils[Coil.STIRRER] else 0.0, now_s=now_s)
        if Coil.COOLING in self._outputs and devices.cooler is not None:
            devices.cooler.drive(on=coils[Coil.COOLING], now_s=now_s)


def _register(reading: Reading | None, steps: int) -> int:
    if reading is None or reading.fault is not Fault.NONE or not math.isfinite(reading.value):
        return BROKEN % _MODULO
    return min(max(round(reading.value * steps), -MOST), MOST) % _MODULO
