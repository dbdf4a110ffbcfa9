"""A keeper of the guard in a world of the test's own, with one book of all that happens.

Responsible for a clock, a door, a disk and lines that obey the test; not for any expectation.
"""

import errno

from controller.guard.decision import Cause, Lease, Limits
from controller.guard.door import Door, Heard
from controller.guard.keeper import Keeper, Parts
from controller.guard.latch import Latch, Memory
from controller.guard.lines import Switches
from controller.guard.messages import Status
from controller.guard.probe import Probe
from controller.guard.voice import Voice

LIMITS = Limits(cap_mc=62_000)
CYCLE_MS = 20


class World:
    """Everything around a keeper, with one book of what it did."""

    def __init__(self) -> None:
        """A warm bath, a good disk, nobody there."""
        self.book: list[str] = []
        self.now_ms = 1_000_000
        self.wall_s = 1_800_000_000
        self.bath_mc: int | None = 40_000
        self.live: bool | None = None
        self.heard = Heard()
        self.memory = Memory()
        self.disk_fails = False
        self.said: list[Status] = []
        self.number = 0

    def lease(self, **changes: object) -> Lease:
        """The next lease of the same controller, asking for heat."""
        self.number += 1
        given = Lease(peer=9, number=self.number, heat=True, cap_mc=60_000, good=True)
        return given._replace(**changes)  # type: ignore[arg-type] # any field of a lease


class FakeSwitches(Switches):
    """Switches that write down each change."""

    def __init__(self, world: World) -> None:
        """Off."""
        self._world, self.is_on = world, False

    def set(self, *, on: bool, alone: int = 0) -> None:  # noqa: ARG002 - one switch
        """Note it when it changes."""
        if on is not self.is_on:
            self._world.book.append("on" if on else "off")
        self.is_on = on


class FakeDoor(Door):
    """A door at which the test speaks."""

    def __init__(self, world: World) -> None:
        """Nobody there."""
        self._world = world

    def listen(self) -> Heard:
        """What the test put there, once."""
        heard, self._world.heard = self._world.heard, Heard()
        return heard

    def tell(self, status: Status, waiting: object) -> None:  # noqa: ARG002 - the door's contract
        """Note it."""
        self._world.book.append("told")
        self._world.said.append(status)


class FakeLatch(Latch):
    """A disk that fails when the test wants it."""

    def __init__(self, world: World) -> None:
        """Whatever the world remembers."""
        self._world = world

    def read(self) -> Memory:
        """As it is."""
        return self._world.memory

    def write(self, memory: Memory) -> None:
        """Note it."""
        if self._world.disk_fails:
            self._world.book.append("disk failed")
            raise OSError(errno.ENOSPC, "No space left on device")
        armed = " armed" if memory.armed else ""
        self._world.book.append(f"wrote {memory.latched}{armed}")
        self._world.memory = memory


class FakeProbe(Probe):
    """A thermometer that the test sets."""

    def __init__(self, world: World) -> None:
        """No thread."""
        self._world = world

    def look(self, now_ms: int) -> tuple[int | None, int]:  # noqa: ARG002 - the probe's contract
        """Fresh."""
        return self._world.bath_mc, 0


class Beat:
    """A line or an input that the test owns."""

    def __init__(self, world: World) -> None:
        """Off."""
        self._world = world
        self.levels: list[bool] = []

    def set(self, on: bool) -> None:
        """Note it."""
        self.levels.append(on)

    def read(self) -> bool:
        """What the world says."""
        return bool(self._world.live)

    def close(self) -> None:
        """Nothing to let go."""


class Scene:
    """A keeper in its world."""

    def __init__(self, memory: Memory | None = None, *, mains: bool = False) -> None:
        """Just started."""
        self.world = World()
        self.world.memory = memory or Memory()
        self.heartbeat = Beat(self.world)
        self.switches = FakeSwitches(self.world)
        parts = Parts(
            switches=self.switches,
            probe=FakeProbe(self.world),
            door=FakeDoor(self.world),
            latch=FakeLatch(self.world),
            now_ms=lambda: self.world.now_ms,
            wall_s=lambda: self.world.wall_s,
            voice=Voice(lambda: self.world.now_ms),
            mains_live=Beat(self.world) if mains else None,
            heartbeat=self.heartbeat,
        )
        self.keeper = Keeper(parts, LIMITS)

    def cycle(self, *leases: Lease, after_ms: int = CYCLE_MS, **heard: object) -> list[str]:
        """One cycle later, with these leases; what was done."""
        self.world.now_ms += after_ms
        self.world.heard = Heard(leases=list(leases), **heard)  # type: ignore[arg-type] # its other fields
        self.world.book.clear()
        self.keeper.cycle()
        return list(self.world.book)

    def heat(self) -> None:
        """Until heat is on."""
        self.cycle(self.world.lease())
        self.cycle()
        assert self.switches.is_on

    def run(self, for_ms: int, *, renew: bool = True) -> None:
        """Go on for a while, a lease each cycle or none."""
        for _ in range(for_ms // CYCLE_MS):
            self.cycle(*([self.world.lease()] if renew else []))

    def says(self) -> Status:
        """The last that was told."""
        return self.world.said[-1]

    @property
    def latched(self) -> Cause:
        """What is latched."""
        return self.keeper.guard.latched
