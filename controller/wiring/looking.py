"""Every thermometer of a real machine's computer, with whose it is by the machine file.

Responsible for putting the named and the unnamed side by side, and for how 1-wire ones are set up;
not for finding out which is which (commissioning/naming). Nothing is energised.
"""

import math
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import NamedTuple

from controller.clock import Clock
from controller.commissioning.naming import Seen
from controller.errors import HardwareError
from controller.files.attach_shape import LinuxAttach
from controller.files.machine_file import MachineFile
from controller.guard.client import Caller
from controller.guard.probe import read_mc
from controller.guard.settings import ProbeAt, ProbeKind
from controller.ports import Reading, Sensor, missing
from controller.wiring.attaching import thermometer_plan, thermometers_of
from hardware.linux import one_wire
from hardware.linux.attach import AttachError, ThermometerPlan
from hardware.linux.looking import Thermometers, key_of, unnamed

_MC_PER_C = 1000


@contextmanager
def seen_thermometers(machine_file: MachineFile, clock: Clock) -> Iterator[tuple[Seen, ...]]:
    """All that can be read: the machine's own first, then what nobody has named.

    Raises:
        HardwareError: a thermometer's name stands for more than one, or no guard answers where
            only a guard can read its own.
    """
    plan, guard = machine_file.attach, machine_file.guard
    with ExitStack() as stack:
        if isinstance(plan, LinuxAttach):
            own, plans = _named(plan, None if guard is None else guard.probe)
            try:
                found = stack.enter_context(Thermometers(plans, clock.now_s, plan.root))
            except AttachError as error:
                raise HardwareError(f"Machine {machine_file.machine.name}: {error}") from error
            seen = kernels_own(own, plans, found.sensors, plan.root)
        else:
            sensors = stack.enter_context(thermometers_of(machine_file))
            seen = tuple(
                Seen(roles=(role,), where=f"the board's {role} value", lines="it", sensor=sensor)
                for role, sensor in sensors.items()
            )
        if guard is not None and not any("guard" in one.roles for one in seen):
            seen += (_guards(guard.probe, guard.sockets, stack),)
        yield seen


class OneWire(NamedTuple):
    """How a 1-wire thermometer is set up, as far as its driver says."""

    name: str
    folder: Path
    step_k: float  # between two values; NaN where nothing says it
    has_own_power: bool | None


def one_wire_of(machine_file: MachineFile) -> Iterator[OneWire]:
    """The machine's own 1-wire thermometers; each is asked over its bus."""
    plan, guard = machine_file.attach, machine_file.guard
    places: dict[str, Path] = {}
    if isinstance(plan, LinuxAttach):
        for name, at in (("bath", plan.bath), ("bowl", plan.bowl)):
            if at is not None and at.kind == "1-wire":
                places[name] = plan.root / one_wire.DEVICES / at.place
    if guard is not None and guard.probe.kind is ProbeKind.ONE_WIRE:
        places["guard's"] = Path(guard.probe.path).parent
    for name, folder in places.items():
        bits = one_wire.bits_of(folder)
        step_k = math.nan if bits is None else one_wire.STEP_C * 2 ** (one_wire.MOST_BITS - bits)
        yield OneWire(name, folder, step_k, one_wire.has_own_power(folder))


def _named(
    plan: LinuxAttach, guards: ProbeAt | None
) -> tuple[dict[str, list[str]], list[ThermometerPlan]]:
    """Whose each is, by what tells it from others; and all that can be read, the own first."""
    plans: list[ThermometerPlan] = []
    own: dict[str, list[str]] = {}
    for role, at in (("bath", plan.bath), ("bowl", plan.bowl)):
        one = thermometer_plan(at)
        if one is not None:
            own[key_of(one, plan.root)] = [role]
            plans.append(one)
    plans += [one for one in unnamed(plan.root) if key_of(one, plan.root) not in own]
    if guards is not None and guards.point is None:
        key = _guards_key(guards)
        if any(key_of(one, plan.root) == key for one in plans):
            own.setdefault(key, []).append("guard")
    return own, plans


def _guards_key(at: ProbeAt) -> str:
    """As `key_of` tells the guard's thermometer from others."""
    path = Path(at.path)
    return path.parent.name if at.kind is ProbeKind.ONE_WIRE else str(path.resolve())


def kernels_own(
    own: dict[str, list[str]],
    plans: list[ThermometerPlan],
    sensors: tuple[Sensor, ...],
    root: Path,
) -> tuple[Seen, ...]:
    """The kernel's thermometers, each with whose it is and what the machine file would say."""
    return tuple(
        Seen(
            roles=tuple(own.get(key_of(plan, root), ())),
            where=f"{plan.kind} {plan.place}",
            lines=_lines(plan),
            sensor=sensor,
        )
        for plan, sensor in zip(plans, sensors, strict=True)
    )


def _lines(plan: ThermometerPlan) -> str:
    key = "id" if plan.kind == "1-wire" else "path" if plan.place.startswith("/") else "name"
    return f'kind = "{plan.kind}", {key} = "{plan.place}"'


class _FileOfTheGuard:
    """What the guard's own file says, read as the guard reads it."""

    def __init__(self, at: ProbeAt) -> None:
        self._at = at

    def read(self, now_s: float) -> Reading:  # noqa: ARG002 - the Sensor's contract
        """Now."""
        value_mc = read_mc(self._at)
        return missing() if value_mc is None else Reading(value_mc / _MC_PER_C)


class _WordOfTheGuard:
    """What a running guard says of its thermometer, where only it may speak to its board."""

    def __init__(self, caller: Caller) -> None:
        self._caller = caller

    def read(self, now_s: float) -> Reading:  # noqa: ARG002 - the Sensor's contract
        """Now."""
        bath_mc = self._caller.ask().bath_mc
        return missing() if bath_mc is None else Reading(bath_mc / _MC_PER_C)


def _guards(at: ProbeAt, sockets: tuple[str, ...], stack: ExitStack) -> Seen:
    """The guard's own thermometer, where it is none of those."""
    if at.point is None:
        lines = f'kind = "{at.kind}", path = "{at.path}"'
        return Seen(roles=("guard",), where=at.path, lines=lines, sensor=_FileOfTheGuard(at))
    caller = Caller(sockets)
    stack.callback(caller.close)
    return Seen(
        roles=("guard",),
        where="the board's guard value",
        lines="it",
        sensor=_WordOfTheGuard(caller),
    )
