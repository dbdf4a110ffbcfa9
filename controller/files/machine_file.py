"""Loads a machine file: what the machine is, where it is attached, whom it tells.

Responsible for finding, reading and refusing; not for opening what it names.
"""

import math
import re
import shlex
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from pydantic import ValidationError

from controller.core.machine import WATER_J_PER_KG_K, Machine
from controller.core.records import replace
from controller.errors import MachineFileError
from controller.files.attach_shape import (
    BenchAttach,
    BenchTable,
    LinuxAttach,
    LinuxTable,
    thermometer_twice,
    thermometer_without_place,
)
from controller.files.board_shape import ModbusAttach, ModbusTable, coil_twice, shared_board
from controller.files.complaints import complaints, nearest
from controller.files.guard_shape import (
    GuardFileProbeTable,
    board_missing,
    line_twice,
    line_without_place,
)
from controller.files.link_rules import LINK_RULES, LinkRule
from controller.files.machine_shape import MachineTable
from controller.files.mistaken import MACHINE, refuse_another
from controller.files.temperatures import quoted
from controller.files.thermometer_shape import HwmonTable, OneWireTable
from controller.files.toml_file import beside, package_folder, read_toml
from controller.guard.settings import GuardSettings
from controller.link.settings import LinkSettings

REFERENCE = "reference"
_DRAWN = re.compile(r"drawn-(0|[1-9][0-9]{0,9})-[1-9][0-9]{0,9}")  # by seed and number
_SUFFIX = ".toml"
# Half the ripple of the bath is up to 0.31 of one pulse, and the hold has 0.3 K to spare: a pulse
# may warm the bath by about 1 K (own engineering value from a study of pulse lengths).
MOST_PULSE_K = 1.0
SHORTEST_PULSE_S = 0.5  # the least that `RelayTime` takes


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineFile:
    """All that a machine file says."""

    machine: Machine
    attach: BenchAttach | LinuxAttach | ModbusAttach
    link: LinkSettings | None
    journal_dir: Path | None
    guard: GuardSettings | None  # None: no real heater can be driven
    path: Path | None = None  # the file itself


def _shipped_folder() -> Path:
    return package_folder("hardware") / "bench" / "machines"


def bench_machines() -> tuple[str, ...]:
    """The names of the bench's machines, in alphabetical order."""
    return tuple(sorted(path.stem for path in _shipped_folder().glob(f"*{_SUFFIX}")))


def bench_machine_path(name: str) -> Path:
    """Where the shipped machine file of that name lies.

    Raises:
        MachineFileError: there is none.
    """
    known = bench_machines()
    if name in known:
        return _shipped_folder() / f"{name}{_SUFFIX}"
    raise MachineFileError(
        f"There is no bench machine {quoted(name)}; write one of {', '.join(known)}."
    )


def _bench_knows_machine(table: MachineTable) -> str | None:
    if not isinstance(table.attach, BenchTable):
        return None
    name, known = table.attach.machine, bench_machines()
    if name in known or _DRAWN.fullmatch(name):
        return None
    close = nearest(name, known) or REFERENCE
    return f"the bench has no {quoted(name)}, only {', '.join(known)}; write {quoted(close)}"


def _pulse_is_small(table: MachineTable) -> str | None:
    machine = table.core()
    pulse_k = machine.heater_w * machine.min_on_s / machine.bath_j_per_k
    if pulse_k <= MOST_PULSE_K:
        return None
    most_s = math.floor(10.0 * MOST_PULSE_K * machine.bath_j_per_k / machine.heater_w) / 10.0
    advice = f'write at most "{most_s:g} s"'
    if most_s < SHORTEST_PULSE_S:  # no relay time that may be written does it
        least_j_per_k = machine.heater_w * SHORTEST_PULSE_S / MOST_PULSE_K
        least_kg = (least_j_per_k - machine.vessel_j_per_k) / WATER_J_PER_KG_K
        least_kg = math.ceil(100.0 * least_kg) / 100.0
        advice = f'write "{SHORTEST_PULSE_S:g} s", and at least "{least_kg:g} kg" of water'
    return (
        f"one pulse of {machine.min_on_s:g} s warms the bath by {pulse_k:.1f} K, too coarse to "
        f"hold a temperature; {advice}"
    )


def _bowl_limit_under_bath_limit(table: MachineTable) -> str | None:
    if table.limits.bowl <= table.limits.bath:
        return None
    return f'the bowl can\'t get hotter than the bath; write at most "{table.limits.bath:g} C"'


def _link(rule: LinkRule, table: MachineTable) -> str | None:
    return None if table.mqtt is None else rule(table.mqtt)


def _guard_lines_have_places(table: MachineTable) -> str | None:
    return None if table.guard is None else line_without_place(table.guard)


def _guard_lines_differ(table: MachineTable) -> str | None:
    return None if table.guard is None else line_twice(table.guard)


def _thermometers_have_places(table: MachineTable) -> str | None:
    return thermometer_without_place(table.attach) if isinstance(table.attach, LinuxTable) else None


def _thermometers_differ(table: MachineTable) -> str | None:
    return thermometer_twice(table.attach) if isinstance(table.attach, LinuxTable) else None


def _guard_probe_is_its_own(table: MachineTable) -> str | None:
    """One thermometer for both would be a single thing to fail for both."""
    probe = None if table.guard is None else table.guard.probe
    if not isinstance(table.attach, LinuxTable) or not isinstance(probe, GuardFileProbeTable):
        return None
    parts = Path(probe.path).parts
    for key, one in (("bath", table.attach.bath), ("bowl", table.attach.bowl)):
        is_the_same = (
            one.id in parts
            if isinstance(one, OneWireTable)
            else isinstance(one, HwmonTable) and one.path == probe.path
        )
        if is_the_same:
            return f"{quoted(probe.path)} is the {key}'s thermometer; give the guard one of its own"
    return None


def _real_heat_has_a_guard(table: MachineTable) -> str | None:
    if isinstance(table.attach, BenchTable) or table.guard is not None:
        return None
    return "is missing; a real machine heats only through its guard; write [guard]"


# What may have a line of ours.
SWITCHED = ("stirrer", "cooling", "buzzer", "lamp", "level", "shaft", "lid", "stop")


def _line_is_its_own(part: str, table: MachineTable) -> str | None:
    """A line of ours is none of the guard's, nor twice our own."""
    if not isinstance(table.attach, LinuxTable):
        return None
    ours = {name: getattr(table.attach, name) for name in SWITCHED}
    own = ours.pop(part)
    if own is None or own.line is None:
        return None
    guards = {} if table.guard is None else table.guard.lines()
    taken = [f"the guard's {key}" for key, one in guards.items() if one.name == own.line]
    taken += [f"that of {key}" for key, one in ours.items() if one and one.line == own.line]
    if not taken:
        return None
    return f"{quoted(own.line)} is {taken[0]}; give each its own line"


def _cooling_is_attached(table: MachineTable) -> str | None:
    """A cooling output has a line, and a line of it somebody who says what it does."""
    if isinstance(table.attach, BenchTable):
        return None
    if table.cooling is not None and table.attach.cooling is None:
        example = 'line = "GPIO22"' if isinstance(table.attach, LinuxTable) else "coil = 3"
        return f"is missing beside [cooling]; write [attach.cooling] with {example}"
    if table.cooling is None and table.attach.cooling is not None:
        return "is there, but no [cooling] says what it carries; write one, or take this out"
    return None


def _fitted_can_be_attached(table: MachineTable) -> str | None:
    """The parts that no driver reads yet can't be promised to the core."""
    if isinstance(table.attach, BenchTable):
        return None
    known = _PARTS if isinstance(table.attach, LinuxTable) else _BOARD_PARTS
    promised = [key for key, is_fitted in table.fitted if is_fitted and key not in known]
    if not promised:
        return None
    if promised[0] == "mains_live":
        return "mains_live is a line of the guard's; write [guard.mains_live], and leave this out"
    kind = table.attach.kind
    return f'{promised[0]} can\'t be read through kind = "{kind}"; write {promised[0]} = false'


# By the words of [fitted], what a machine may do without, and where it is attached.
_PARTS = {
    "bath_probe": "bath",
    "bowl_probe": "bowl",
    "stirrer": "stirrer",
    "heater_current": "heater_current",
    "level_switch": "level",
    "shaft_pulses": "shaft",
    "load_signal": "load",
    "lid_switch": "lid",
    "stop_button": "stop",
}
# The same of a Modbus board.
_BOARD_PARTS = {
    "bath_probe": "bath",
    "bowl_probe": "bowl",
    "stirrer": "stirrer",
    "level_switch": "level",
    "shaft_pulses": "shaft",
    "load_signal": "load",
    "lid_switch": "lid",
    "stop_button": "stop",
}


def _some_probe_is_left(table: MachineTable) -> str | None:
    if table.fitted.bath_probe or table.fitted.bowl_probe:
        return None
    return (
        "a machine needs a thermometer in its bath or in its bowl; write bath_probe = true or "
        "bowl_probe = true"
    )


def _shaft_has_a_stirrer(table: MachineTable) -> str | None:
    if table.fitted.stirrer:
        return None
    for key in ("shaft_pulses", "load_signal"):
        if getattr(table.fitted, key):
            return f"there is no {key} without a stirrer; write {key} = false"
    return None


def _fitted_is_attached(key: str, table: MachineTable) -> str | None:
    """What is there is attached, and what is not there is not."""
    known = {LinuxTable: _PARTS, ModbusTable: _BOARD_PARTS}.get(type(table.attach), {})
    place = known.get(key)
    if place is None:
        return None
    is_fitted, is_there = getattr(table.fitted, key), getattr(table.attach, place) is not None
    if is_fitted and not is_there:
        return (
            f"is missing; write [attach.{place}], or {key} = false in [fitted] for a machine "
            "that does without"
        )
    if is_there and not is_fitted:
        return f"is there, but [fitted] says {key} = false; take one of them out"
    return None


def _guard_has_its_board(table: MachineTable) -> str | None:
    return None if table.guard is None else board_missing(table.guard)


def _board_is_the_runs_own(table: MachineTable) -> str | None:
    if not isinstance(table.attach, ModbusTable) or table.guard is None:
        return None
    return shared_board(table.attach.board, table.guard.board)


def _coils_differ(table: MachineTable) -> str | None:
    return coil_twice(table.attach) if isinstance(table.attach, ModbusTable) else None


MACHINE_RULES: tuple[tuple[str, Callable[[MachineTable], str | None]], ...] = (
    ("attach · machine", _bench_knows_machine),
    ("relay · min_on", _pulse_is_small),
    ("limits · bowl", _bowl_limit_under_bath_limit),
    *((key, partial(_link, rule)) for key, rule in LINK_RULES),
    ("guard", _guard_lines_have_places),
    ("guard", _guard_lines_differ),
    ("guard · probe · path", _guard_probe_is_its_own),
    ("guard", _real_heat_has_a_guard),
    ("attach", _thermometers_have_places),
    ("attach", _thermometers_differ),
    *((f"attach · {one} · line", partial(_line_is_its_own, one)) for one in SWITCHED),
    ("attach · cooling", _cooling_is_attached),
    ("fitted", _fitted_can_be_attached),
    ("fitted", _some_probe_is_left),
    ("fitted", _shaft_has_a_stirrer),
    *(
        (f"attach · {place}", partial(_fitted_is_attached, key))
        for key, place in {**_PARTS, **_BOARD_PARTS}.items()
    ),
    ("guard", _guard_has_its_board),
    ("attach · board", _board_is_the_runs_own),
    ("attach", _coils_differ),
)


def _broken_rules(table: MachineTable) -> list[str]:
    found = ((key, rule(table)) for key, rule in MACHINE_RULES)
    return [f"{key}: {what}" for key, what in found if what is not None]


def load_machine_file(path: Path | None) -> MachineFile:
    """The machine file at `path`; None is the shipped bench machine "reference".

    Raises:
        MachineFileError: it can't be found, read or used; one line for each fault, each naming
            file, key, what is wrong and what to write.
    """
    path = bench_machine_path(REFERENCE) if path is None else path
    try:
        raw = read_toml(path)
        refuse_another(raw, MACHINE)
        table = MachineTable.model_validate(raw)
        found = _broken_rules(table)
        if not found:
            return _whole(table, path)
    except ValidationError as error:
        found = complaints(error, MachineTable, raw)
    except ValueError as error:
        raise MachineFileError(f"{path.name}: {error}") from None
    raise MachineFileError("\n".join(f"{path.name}, {sentence}" for sentence in found))


def typed(path: Path) -> str:
    """The file as it is typed in a command.

    One below the home of whoever runs this goes by `~`: alerts are published, and whose home it is
    is nobody's business.
    """
    with suppress(RuntimeError, ValueError):
        return f"~/{shlex.quote(str(path.relative_to(Path.home())))}"
    return shlex.quote(str(path))


def _whole(table: MachineTable, path: Path) -> MachineFile:
    folder = path.parent
    return MachineFile(
        path=path,
        machine=replace(table.core(), file=typed(path)),
        attach=table.attach.plain(folder),
        link=None if table.mqtt is None else table.mqtt.settings(folder),
        journal_dir=None if table.journal is None else beside(folder, table.journal.folder),
        guard=None
        if table.guard is None
        else table.guard.settings(table.name, table.limits.bath, folder),
    )
