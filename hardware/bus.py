"""Thermometers that are read in a thread of their bus, never by whoever wants to know.

Responsible for the newest reading and its true age; not for how a reading is taken.
"""

import threading
from collections import defaultdict
from collections.abc import Callable, Sequence
from pathlib import Path
from types import TracebackType
from typing import Protocol, Self

from controller.ports import Fault, Reading, missing, replace

# Between two rounds. A conversion of 1-wire adds 0.75 s for each thermometer; thermometers on I²C
# convert 4 times a second or so. Own engineering value, not published.
PAUSE_S = 0.25
# The first tick should see values: two conversions of 0.75 s on one bus, and as much again. Own
# engineering value, not published.
FIRST_ROUND_S = 3.0


class Thermometer:
    """A thermometer, or any other sensor, that shows the newest reading that its bus has taken."""

    def __init__(self, measure: Callable[[], Reading], clock_s: Callable[[], float]) -> None:
        """Nothing is measured yet; `clock_s` is the clock that `read` is given moments of."""
        self._measure = measure
        self._clock_s = clock_s
        self._newest: tuple[Reading, float] | None = None  # one assignment, so never half of it

    def take(self) -> None:
        """Measure once. It counts from before it was measured, so that its age is never too low."""
        began_s = self._clock_s()
        self._newest = (self._measure(), began_s)

    def read(self, now_s: float) -> Reading:
        """The newest reading, °C, with its age; "no answer" until there is one."""
        if self._newest is None:
            return missing()
        reading, began_s = self._newest
        return replace(reading, age_s=max(0.0, now_s - began_s))


class Pressable(Thermometer):
    """A stop button: 0 once any measurement since the last look has seen it pressed."""

    def __init__(self, measure: Callable[[], Reading], clock_s: Callable[[], float]) -> None:
        """As a thermometer."""
        super().__init__(measure, clock_s)
        self._pressed = self._looked_at = 0  # how often: one thread writes each

    def take(self) -> None:
        """Measure once, and keep a press until it has been looked at."""
        super().take()
        if self._newest is not None and self._newest[0].value == 0.0:
            self._pressed += 1

    def read(self, now_s: float) -> Reading:
        """The newest reading with its age, or the press."""
        reading = super().read(now_s)
        pressed, before = self._pressed, self._looked_at
        self._looked_at = pressed
        return reading if pressed == before else replace(reading, value=0.0, fault=Fault.NONE)


class Member(Protocol):
    """Whatever is measured in its turn."""

    def take(self) -> None:
        """Measure once; may take as long as the bus does."""
        ...


class Bus:
    """The thermometers that share a bus, and the thread that measures them one after the other.

    When the bus hangs in the kernel, so does the thread, and the readings grow old. It is a
    daemon thread: it never keeps the process from ending.
    """

    def __init__(self, name: str, members: Sequence[Member]) -> None:
        """Not measuring yet."""
        self._members = members
        self._over = threading.Event()
        self._measured = threading.Event()
        self._thread = threading.Thread(target=self._run, name=f"bus {name}", daemon=True)

    def start(self) -> None:
        """Begin to measure."""
        self._thread.start()

    def wait(self, longest_s: float) -> bool:
        """Wait for the first round, no longer than that; whether it came."""
        return self._measured.wait(longest_s)

    def take(self) -> None:
        """One round."""
        for member in self._members:
            member.take()

    def close(self) -> None:
        """Measure no more. Doesn't wait for a measurement that is under way."""
        self._over.set()

    def join(self, longest_s: float) -> bool:
        """Wait for the measurement under way to end, no longer than that; whether it did."""
        if self._thread.is_alive():
            self._thread.join(longest_s)
        return not self._thread.is_alive()

    def _run(self) -> None:
        while not self._over.is_set():
            self.take()
            self._measured.set()
            self._over.wait(PAUSE_S)


class Buses:
    """The buses of a machine; a context that measures on each of them while it lasts."""

    def __init__(self, clock_s: Callable[[], float]) -> None:
        """None yet; `clock_s` is as for `Thermometer`."""
        self._clock_s = clock_s
        self._members: dict[Path, list[Thermometer]] = defaultdict(list)
        self._buses: list[Bus] = []

    def hang(self, bus: Path, measure: Callable[[], Reading]) -> Thermometer:
        """Another sensor on the bus of that folder, before anything is measured."""
        sensor = Thermometer(measure, self._clock_s)
        self._members[bus].append(sensor)
        return sensor

    def start(self) -> None:
        """Begin to measure, and give the first round some time."""
        self._buses = [Bus(path.name, members) for path, members in self._members.items()]
        for bus in self._buses:
            bus.start()
        for bus in self._buses:
            bus.wait(FIRST_ROUND_S)

    def close(self) -> None:
        """Measure no more."""
        for bus in self._buses:
            bus.close()

    def take(self) -> None:
        """One round on every bus, by the caller: for tests, and for a look before a run."""
        for members in self._members.values():
            for member in members:
                member.take()

    def __enter__(self) -> Self:
        """Begin to measure."""
        self.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Measure no more."""
        self.close()
