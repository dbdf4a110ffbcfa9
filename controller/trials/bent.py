"""What surrounds a run, bent by faults: its clock, its disk, its memory, its broker.

Responsible for how the faults of computer, clock, power and network reach a run; not for when
(faults) or for putting them around it (staging). Each asks the bench what is broken.
"""

import os
import struct
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any, Protocol

from msgspec.structs import force_setattr

from controller.clock import Clock, PowerCut
from controller.core.machine import Machine
from controller.core.signals import Request, Source, Verb
from controller.journal.writer import Journal
from controller.ports import (
    Devices,
    Heater,
    Moment,
    Panel,
    Question,
    Reading,
    Sensor,
    Stirrer,
    Truth,
)
from controller.wiring import Bench, Part

DRAIN_S = 60.0  # own engineering value: a disk that needs longer is broken in earnest
BIT = 1 << 52  # the lowest of a double's exponent: it doubles or halves
NOBODY_ASKED = Request(verb=Verb.ANSWER, source=Source.LINK, ask_id="nobody-asked", choice="yes")


class BentClock:
    """A clock that jumps, sleeps, comes late or dies. Its second clock is always right."""

    def __init__(self, true: Clock, bench: Bench, *, dark_s: float = 0.0) -> None:
        """Bend `true`; after a power cut the machine stays without power for `dark_s`."""
        self._true = true
        self._bench = bench
        self._dark_s = dark_s
        self._slept_s = 0.0
        self._shift_s = 0.0

    def now_s(self) -> float:
        """What the clock says."""
        return self._true.now_s() + self._shift_s

    def other_s(self) -> float:
        """What it should say, but for where it began."""
        return self._true.now_s()

    def wait_until(self, when_s: float) -> None:
        """Wait for this clock to say `when_s`, or longer.

        Raises:
            PowerCut: The computer has lost its power.
        """
        altered = self._bench.altered
        if not altered(Part.COMPUTER, 1.0):
            self._true.wait_until(self._true.now_s() + self._dark_s)
            raise PowerCut
        self._true.wait_until(when_s - self._shift_s + altered(Part.TICK, 0.0))
        sleep_s = altered(Part.SLEEP, 0.0) - self._slept_s
        if sleep_s > 0.0:
            self._true.wait_until(self._true.now_s() + sleep_s)
            self._slept_s += sleep_s
        self._shift_s = altered(Part.CLOCK, 0.0) - self._slept_s

    def wake(self) -> None:
        """End the present wait."""
        self._true.wake()


class Disk:
    """The file of a record, on a disk that may fail while the run goes on."""

    def __init__(self, bench: Bench) -> None:
        """Whole."""
        self._bench = bench
        self._journal: Journal | None = None
        self._error = 0

    def open(self, path: Path, **how: Any) -> Journal:  # noqa: ANN401 - as the journal takes it
        """A journal on this disk.

        Raises:
            AccessError: The disk has failed before the run began.
        """
        self._error = round(self._bench.altered(Part.DISK, 0.0))
        self._journal = Journal(path, write=self.write, **how)
        return self._journal

    def write(self, handle: int, data: memoryview) -> int:
        """Write some of `data`, as `os.write` does."""
        if self._error:
            raise OSError(self._error, os.strerror(self._error))
        return os.write(handle, data)

    def tell(self, moment: Moment) -> None:  # noqa: ARG002 - the Teller's contract
        """Fail from this tick on: what was told before it is still written."""
        error = round(self._bench.altered(Part.DISK, 0.0))
        if error != self._error and self._journal is not None:
            self._journal.drain(DRAIN_S)
            self._error = error


class Memory:
    """The machine's limits, of which a bit may turn over in the midst of a run."""

    def __init__(self, bench: Bench, machine: Machine) -> None:
        """Intact; `machine` must be nobody else's."""
        self._bench = bench
        self._machine = machine
        self._is_intact = True

    def tell(self, moment: Moment) -> None:  # noqa: ARG002 - the Teller's contract
        """Turn the bit over, once."""
        if self._is_intact and self._bench.altered(Part.MEMORY, 0.0):
            self._is_intact = False
            bits = int.from_bytes(struct.pack(">d", self._machine.bath_max_c))
            turned = (bits ^ BIT).to_bytes(8)
            force_setattr(self._machine, "bath_max_c", *struct.unpack(">d", turned))


class Stoppable(Protocol):
    """A broker that can be stopped and started again."""

    def start(self) -> None:
        """Serve."""
        ...

    def stop(self) -> None:
        """Serve no more."""
        ...


class BrokerSwitch:
    """A broker that may go away and come back."""

    def __init__(self, bench: Bench, broker: Stoppable) -> None:
        """Running."""
        self._bench = bench
        self._broker = broker
        self._is_up = True

    def tell(self, moment: Moment) -> None:  # noqa: ARG002 - the Teller's contract
        """Stop or start it as the faults say."""
        is_up = bool(self._bench.altered(Part.BROKER, 1.0))
        if is_up is not self._is_up:
            (self._broker.start if is_up else self._broker.stop)()
            self._is_up = is_up


class Flood:
    """A panel like the link's, through which somebody floods a run with nonsense."""

    def __init__(self, bench: Bench) -> None:
        """Dry."""
        self._bench = bench

    def take(self, now_s: float, ask: Question | None) -> tuple[Request, ...]:  # noqa: ARG002 - the Panel's contract
        """So many answers to a question that nobody asked."""
        return (NOBODY_ASKED,) * round(self._bench.altered(Part.INBOX, 0.0))


class OnTrueTime:
    """A bench that lives in true time, whatever the clock of the computer before it says."""

    def __init__(self, bench: Bench, true_s: Callable[[], float]) -> None:
        """Stand before `bench`."""
        self.guard_probe: Sensor = _Sensor(bench.guard_probe, true_s)
        self.mains_live: Sensor | None = bench.mains_live and _Sensor(bench.mains_live, true_s)
        self.operator: Panel = _Panel(bench.operator, true_s)
        self.truth: Callable[[], Truth] = bench.truth
        devices = bench.devices
        self.devices: Devices = replace(
            devices,
            bath=_Sensor(devices.bath, true_s),
            bowl=_Sensor(devices.bowl, true_s),
            heater=_Heater(devices.heater, true_s),
            stirrer=_Stirrer(devices.stirrer, true_s),
            level=devices.level and _Sensor(devices.level, true_s),
            shaft=devices.shaft and _Sensor(devices.shaft, true_s),
            load=devices.load and _Sensor(devices.load, true_s),
            current=devices.current and _Sensor(devices.current, true_s),
            lid=devices.lid and _Sensor(devices.lid, true_s),
        )


class _Sensor:
    def __init__(self, sensor: Sensor, true_s: Callable[[], float]) -> None:
        self._sensor = sensor
        self._true_s = true_s

    def read(self, now_s: float) -> Reading:  # noqa: ARG002 - the Sensor's contract
        return self._sensor.read(self._true_s())


class _Heater:
    def __init__(self, heater: Heater, true_s: Callable[[], float]) -> None:
        self._heater = heater
        self._true_s = true_s

    def drive(
        self,
        *,
        on: bool,
        now_s: float,  # noqa: ARG002 - the Heater's contract
        cap_c: float = 0.0,
        good: bool = True,
        alone: int = 0,
    ) -> None:
        self._heater.drive(on=on, now_s=self._true_s(), cap_c=cap_c, good=good, alone=alone)


class _Stirrer:
    def __init__(self, stirrer: Stirrer, true_s: Callable[[], float]) -> None:
        self._stirrer = stirrer
        self._true_s = true_s

    def drive(self, *, rpm: float, now_s: float) -> None:  # noqa: ARG002 - the Stirrer's contract
        self._stirrer.drive(rpm=rpm, now_s=self._true_s())


class _Panel:
    def __init__(self, panel: Panel, true_s: Callable[[], float]) -> None:
        self._panel = panel
        self._true_s = true_s

    def take(self, now_s: float, ask: Question | None) -> tuple[Request, ...]:  # noqa: ARG002 - the Panel's contract
        return self._panel.take(self._true_s(), ask)
