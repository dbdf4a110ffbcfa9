"""The steps that a real machine must have gone through before it heats, and what is lacking.

Responsible for the steps, their order, how long each counts, and the sentence for each that is
missing; not for taking them, nor for the file (proof_file).
"""

import hashlib
from dataclasses import MISSING, fields, is_dataclass
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from pathlib import Path
from typing import NamedTuple

from msgspec import Struct

from controller.core.profile import Kind
from controller.files.attach_shape import BenchAttach
from controller.files.machine_file import MachineFile
from controller.files.temperatures import quoted

SCHEMA = 1
STEP_TEST = "step-test"  # the profile that the fit is made from
OFFSET = "offset"  # the fact of a calibration that the machine file must say, too
SOON_D = 14  # a proof that ends so soon is told of: own engineering value, not published
_AHEAD = timedelta(days=1)  # what two computers' clocks and their owners may differ by; likewise
_HASH_SIGNS = 16
_NUMBERED = "1-wire"  # the kind of thermometer that has a number of its own


class Step(StrEnum):
    """What is to be shown, in this order; the words are those of the file."""

    PROBES = "probes"
    PROVE = "prove"
    BATH = "calibrate-bath"
    BOWL = "calibrate-bowl"
    FIT = "fit"
    TRIAL = "water-trial"


class Rule(NamedTuple):
    """What is known of one step."""

    what: str  # as the beginning of a sentence
    words: str  # of the command, before --machine
    counts_d: int  # for so many days


# How long each counts: own engineering values, not published. What cuts the heat is tried twice a
# year, as residual-current devices are (common practice, no source); all else once.
RULES = {
    Step.PROBES: Rule("Which thermometer is which", "probes", 365),
    Step.PROVE: Rule("That switches, cut-out, stop button and guard cut the heat", "prove", 183),
    Step.BATH: Rule("How true the bath's thermometer is", "calibrate bath", 365),
    Step.BOWL: Rule("How true the bowl's thermometer is", "calibrate bowl", 365),
    Step.FIT: Rule("What heats and what cools the bath", "fit", 365),
    Step.TRIAL: Rule("A whole run with water", "run water-trial", 365),
}


class Done(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One step, or a part of one, that was shown."""

    done_utc: str  # ISO 8601
    of: str  # what it was shown of: see `made_of`
    on: str = ""  # which computer it was shown on: see `computer_id`
    facts: dict[str, str] = {}  # what came of it, for people


class Former(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What a machine file said before a calibration changed it."""

    key: str  # of the table [probes]
    value_k: float
    step: Done | None  # the calibration that counted until then


class Proofs(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """All that was shown of one machine."""

    machine: str
    schema: int = SCHEMA
    steps: dict[str, Done] = {}  # by the words of Step
    parts: dict[str, Done] = {}  # what a step that was broken off has shown: `prove/first-switch`
    former: tuple[Former, ...] = ()  # newest last


class Lack(NamedTuple):
    """A step that is still to be taken."""

    step: Step
    why: str  # one sentence without its end
    command: str


def steps_of(machine_file: MachineFile) -> tuple[Step, ...]:
    """What this machine must have shown, in its order; a bench nothing.

    Without a thermometer in bath or bowl there is none to calibrate, and nothing to fit.
    """
    if isinstance(machine_file.attach, BenchAttach):
        return ()
    machine = machine_file.machine
    left_out = {
        Step.BATH: not machine.has_bath,
        Step.BOWL: not machine.has_bowl,
        Step.FIT: not (machine.has_bath and machine.has_bowl),
    }
    return tuple(step for step in Step if not left_out.get(step, False))


def needed_for(machine_file: MachineFile, profile: str, kind: Kind) -> tuple[Step, ...]:
    """What must be shown before a run: of water all but the run itself, for the step test less."""
    if kind is Kind.WATER:
        return needed_before(machine_file, Step.FIT if profile == STEP_TEST else Step.TRIAL)
    return steps_of(machine_file)


def needed_before(machine_file: MachineFile, step: Step) -> tuple[Step, ...]:
    """What must be shown before that step is taken."""
    steps = list(Step)
    before = [one for one in steps_of(machine_file) if steps.index(one) < steps.index(step)]
    # The two thermometers are calibrated in whichever order.
    return tuple(one for one in before if (one, step) != (Step.BATH, Step.BOWL))


def lacking(
    proofs: Proofs,
    machine_file: MachineFile,
    now: datetime,
    needed: tuple[Step, ...],
    at: Path | None = None,
    *,
    on: str,
) -> tuple[Lack, ...]:
    """What of `needed` is missing, too old, of other parts or elsewhere, in the order to be done.

    Args:
        proofs: what was shown.
        machine_file: as it is now.
        now: the time of day, UTC.
        needed: from `needed_for` or `needed_before`.
        at: the machine file's path, for the commands; None shows the machine's name.
        on: which computer this is.
    """
    found = []
    for step in needed:
        if (why := _why_not(proofs.steps.get(step), machine_file, now, step, on)) is not None:
            name = at or machine_file.machine.name
            found.append(Lack(step, why, f"bainward {RULES[step].words} --machine {name}"))
    return tuple(found)


def ending_soon(
    proofs: Proofs, now: datetime, needed: tuple[Step, ...]
) -> tuple[tuple[Step, int], ...]:
    """Steps that count no longer in a fortnight or less, each with the days that are left."""
    found = []
    for step in needed:
        done = proofs.steps.get(step)
        if done is None:
            continue
        left = (_counts(step) - age_of(done.done_utc, now)).days
        if 0 <= left <= SOON_D:
            found.append((step, left))
    return tuple(found)


def _counts(step: Step) -> timedelta:
    """For how long."""
    return timedelta(days=RULES[step].counts_d)


def age_of(text: str, now: datetime) -> timedelta:
    """How long ago a time of a file was; longer than anything counts for a text that is none."""
    shown = moment(text)
    return timedelta.max if shown is None else now - shown


def moment(text: str) -> datetime | None:
    """A time of a file, UTC; None for a text that is none."""
    try:
        found = datetime.fromisoformat(text)
        return found.replace(tzinfo=UTC) if found.tzinfo is None else found.astimezone(UTC)
    except (ValueError, OverflowError):
        return None


def _why_not(
    done: Done | None, machine_file: MachineFile, now: datetime, step: Step, on: str
) -> str | None:
    """Why a step does not count, as a sentence without its end; None where it does."""
    what, _, counts_d = RULES[step]
    name = machine_file.machine.name
    if done is None:
        return f"{what} has not been shown on machine {name} yet"
    shown = moment(done.done_utc)
    if shown is None:
        return (
            f"{what} was shown on machine {name} at {quoted(done.done_utc)}, which is no date, so "
            "that nobody knows whether it still counts"
        )
    day = shown.date().isoformat()
    if done.of != made_of(step, machine_file):
        return f"{what} was shown on {day} on other parts than {name}'s machine file names now"
    if not is_here(done, machine_file, step, on):
        return (
            f"{what} was shown on {day} with another computer than this, whose lines may lead to "
            f"another machine than {name}"
        )
    if shown > now + _AHEAD:
        return (
            f"{what} was shown on {day}, which is still to come by this computer's clock: set the "
            "clock"
        )
    why = _other_offset(done, machine_file, step)
    if why is None and now - shown >= _counts(step):
        why = f"{what} was shown on {day} on machine {name}, which counts {counts_d} days"
    return why


def is_here(done: Done, machine_file: MachineFile, step: Step, on: str) -> bool:
    """Whether it was shown of this machine, and not of another with the same names in its file.

    A thermometer with a number of its own is the same wherever it is plugged in; lines, chips and
    boards are called alike on every machine that is built alike.
    """
    attach, guard = machine_file.attach, machine_file.guard
    bath, bowl = getattr(attach, "bath", None), getattr(attach, "bowl", None)
    own = None if guard is None else guard.probe
    parts = {Step.PROBES: (bath, bowl, own), Step.BATH: (bath,), Step.BOWL: (bowl,)}
    kinds = [getattr(one, "kind", None) for one in parts.get(step, (None,)) if one is not None]
    has_numbers = step in parts and all(kind == _NUMBERED for kind in kinds)
    return has_numbers or done.on == on


def _other_offset(done: Done, machine_file: MachineFile, step: Step) -> str | None:
    """What is wrong when the machine file corrects by another value than was found."""
    machine = machine_file.machine
    said_k = {Step.BATH: machine.bath_offset_k, Step.BOWL: machine.bowl_offset_k}.get(step)
    if said_k is None:
        return None
    which = "bath" if step is Step.BATH else "bowl"
    found = done.facts.get(OFFSET)
    if found is None:
        return f"The {which}'s thermometer was calibrated without a word of what it wants added"
    if f"{said_k + 0.0:.3f} K" == found:
        return None
    return (
        f"The {which}'s thermometer was found to want a correction of {found}, and the machine "
        f"file says {said_k:g} K"
    )


def made_of(step: Step, machine_file: MachineFile) -> str:
    """What the step was shown of, as a short hash: another thermometer or line, another hash."""
    attach, guard = machine_file.attach, machine_file.guard
    bath, bowl = getattr(attach, "bath", None), getattr(attach, "bowl", None)
    where = (getattr(attach, "root", None), getattr(attach, "board", None))
    own = None if guard is None else guard.probe
    lines = (
        ()
        if guard is None
        else (guard.main, guard.second, guard.mains_live, guard.heartbeat, guard.board)
    )
    parts: dict[Step, object] = {
        Step.PROBES: (bath, bowl, own, where),
        Step.PROVE: (own, lines),
        Step.BATH: (bath, where),
        Step.BOWL: (bowl, where),
        Step.FIT: (bath, bowl, where, lines),
        Step.TRIAL: (bath, bowl, where, own, lines),
    }
    text = f"{machine_file.machine.name} {_told(parts[step], _homes(machine_file.path))}"
    return hashlib.sha256(text.encode()).hexdigest()[:_HASH_SIGNS]


def _homes(path: Path | None) -> tuple[str, ...]:
    """What paths beside the machine file begin with, however it was named on the command line."""
    return () if path is None else (f"{path.parent}/", f"{path.absolute().parent}/")


def _told(thing: object, homes: tuple[str, ...]) -> str:
    """What was said of a part, without defaults: an upgrade's new key ends no proof."""
    if isinstance(thing, tuple):
        return f"({', '.join(_told(one, homes) for one in thing)})"
    if isinstance(thing, str | Path):
        home = next((home for home in homes if str(thing).startswith(home)), "")
        return str(thing).removeprefix(home)
    if not is_dataclass(thing):
        return str(thing)
    said = []
    for field in fields(thing):
        value = getattr(thing, field.name)
        default = None if field.default is MISSING else field.default
        if value != default:
            said.append(f"{field.name}={_told(value, homes)}")
    return f"{type(thing).__name__}({', '.join(said)})"
