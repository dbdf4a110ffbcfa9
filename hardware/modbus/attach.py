"""The way to attach a machine whose parts hang on a Modbus board: the one door to this package.

Responsible for putting board, readings and outputs together; not for the heater, which is handed
in: it belongs to the guard.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from types import TracebackType
from typing import Self

from controller.ports import Devices, Fault, Heater, Permission, Reading, Sensor, missing
from hardware.absent import NoStirrer, NoThermometer
from hardware.bus import FIRST_ROUND_S, Bus, Pressable, Thermometer
from hardware.modbus.client import BoardPlan, Client, Point
from hardware.modbus.errors import AttachError
from hardware.modbus.watchfulness import Watchfulness
from hardware.switched import SwitchedCooler, SwitchedStirrer

__all__ = [
    "AttachError",
    "BoardPlan",
    "MeasuredPlan",
    "ModbusMachine",
    "ModbusPlan",
    "Point",
    "SwitchedPlan",
]

# So many rounds may an output show otherwise than it was told: a relay takes some milliseconds.
# Own engineering value, not published.
ROUNDS_OF_GRACE = 3
_SIGN, _MODULO = 0x8000, 0x10000


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredPlan:
    """A value on the board: (raw + offset)·step."""

    point: Point
    step: float = 1.0  # K, rpm or W
    offset: int = 0
    signed: bool = True
    broken: tuple[int, ...] = ()  # what stands there for a broken sensor
    lowest: float = -math.inf
    highest: float = math.inf
    # A thermometer refuses 0, which a register holds that was never written, and isn't believed on
    # a board that doesn't do what it is told: so heat is withheld, and the run ends by name.
    is_thermometer: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class SwitchedPlan:
    """An output of the board, and where its true state is shown."""

    coil: Point
    shown: Point | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ModbusPlan:
    """What a machine on a board is made of. What it does without is None."""

    board: BoardPlan
    bath: MeasuredPlan | None
    bowl: MeasuredPlan | None
    stirrer: SwitchedPlan | None
    cooling: SwitchedPlan | None = None
    level: MeasuredPlan | None = None
    shaft: MeasuredPlan | None = None
    load: MeasuredPlan | None = None
    lid: MeasuredPlan | None = None
    stop: MeasuredPlan | None = None  # 1 while nobody presses it


class Output:
    """An output that is told anew in each round, and asked whether it obeys.

    Stirrer and cooler in one: what is wanted is only noted, so that nobody waits for the line.
    """

    def __init__(self, plan: SwitchedPlan, client: Client) -> None:
        """Off."""
        self._plan, self._client = plan, client
        self._wanted = False
        self._differs = 0

    def drive(self, *, on: bool) -> None:
        """From the next round on."""
        self._wanted = on

    def turn(self) -> bool:
        """Tell it, and look; whether it does what it is told, with some grace."""
        wanted = self._wanted
        told = self._client.switch(self._plan.coil, on=wanted) is Fault.NONE
        shown = None if self._plan.shown is None else self._client.read(self._plan.shown)
        obeys = told and (shown is None or (isinstance(shown, list) and shown[0] == wanted))
        self._differs = 0 if obeys else self._differs + 1
        return self._differs <= ROUNDS_OF_GRACE


class ModbusMachine:
    """A machine on a board; a context that measures and switches while it lasts."""

    devices: Devices

    def __init__(
        self,
        plan: ModbusPlan,
        *,
        heater: Heater,
        permit: Permission | None,
        clock_s: Callable[[], float],
    ) -> None:
        """Ask the board what it does without its host; nothing is measured or switched yet.

        Raises:
            AttachError: it doesn't answer, keeps its outputs without its host, or the library is
                missing.
        """
        self._client = Client(plan.board)
        self._watchfulness = Watchfulness(self._client, plan.board)
        try:
            self._watchfulness.insist()
        except AttachError:
            self._client.close()
            raise
        self._clock_s = clock_s
        self._outputs: list[Output] = []
        self._trusted = True
        self._sensors: list[Thermometer] = []
        stirrer, cooler = self._output(plan.stirrer), self._output(plan.cooling)
        self.devices = Devices(
            bath=self._sensor(plan.bath) or NoThermometer(),
            bowl=self._sensor(plan.bowl) or NoThermometer(),
            level=self._sensor(plan.level),
            shaft=self._sensor(plan.shaft),
            load=self._sensor(plan.load),
            lid=self._sensor(plan.lid),
            stop=self._sensor(plan.stop, Pressable),
            heater=heater,
            stirrer=NoStirrer() if stirrer is None else SwitchedStirrer(stirrer),
            permit=permit,
            cooler=None if cooler is None else SwitchedCooler(cooler),
        )
        self._bus = Bus(plan.board.at, [self])

    def __enter__(self) -> Self:
        """Begin to measure, and give the first round some time."""
        self._bus.start()
        self._bus.wait(FIRST_ROUND_S)
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Stop stirrer and cooling, measure no more and hang up: the board opens the rest."""
        for output in self._outputs:
            output.drive(on=False)
        self._bus.close()
        if self._bus.join(FIRST_ROUND_S):  # a bus that hangs is left to its board's time-out
            for output in self._outputs:
                output.turn()
            self._client.close()

    def close(self) -> None:
        """Hang up, in place of a context that was never entered."""
        self._client.close()

    def take(self) -> None:
        """One round: tell the outputs, look at the board, then measure."""
        obey = [output.turn() for output in self._outputs]
        self._trusted = all([*obey, self._watchfulness.is_the_same()])
        for sensor in self._sensors:
            sensor.take()

    def _output(self, plan: SwitchedPlan | None) -> Output | None:
        if plan is None:
            return None
        self._outputs.append(Output(plan, self._client))
        return self._outputs[-1]

    def _sensor(
        self, plan: MeasuredPlan | None, kind: type[Thermometer] = Thermometer
    ) -> Sensor | None:
        if plan is None:
            return None
        self._sensors.append(kind(lambda: self._measured(plan), self._clock_s))
        return self._sensors[-1]

    def _measured(self, plan: MeasuredPlan) -> Reading:
        """One value; no temperature from a board that doesn't obey or has started anew."""
        values = self._client.read(plan.point)
        if isinstance(values, Fault):
            return missing(values)
        if plan.is_thermometer and not self._trusted:
            return missing(Fault.DEVICE)
        return reading_of(plan, values[0])


def reading_of(plan: MeasuredPlan, register: int) -> Reading:
    """What a register's content means."""
    raw = register - _MODULO if plan.signed and register >= _SIGN else register
    if raw in plan.broken:
        return missing(Fault.DEVICE)
    value = (raw + plan.offset) * plan.step
    if plan.is_thermometer and value == 0.0:
        return missing(Fault.ALL_ZERO)
    return Reading(value) if plan.lowest <= value <= plan.highest else missing(Fault.DEVICE)
