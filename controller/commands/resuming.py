"""After a cut: gather the evidence, put the offer to a person, and take the answer.

Responsible for the question; not for what may be offered (controller.core.recovery), nor for a
start soon after a run that ended in order (restarting). An answer that leads to heat comes from the
keyboard or from an option of the command line, nowhere else.
"""

import math
import select
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Protocol, TextIO

from controller.clock import Clock
from controller.commands.boots import note_boot
from controller.commands.restarting import refuse_soon_again
from controller.core.machine import Machine
from controller.core.profile import Profile
from controller.core.records import replace
from controller.core.recovery import FRESH, Beginning, Decision, decide
from controller.core.recovery_rows import Now, Offer
from controller.core.signals import Quality, Reading
from controller.core.words import shown_temperature
from controller.errors import StoppedError
from controller.journal.cut import CutRun, boot_s_at_cut, cut_of, find_cut, wall_at_cut
from controller.journal.records import Identity, Stamp
from controller.ports import Devices

RESUME = "resume"
BEGIN_AGAIN = "begin-again"
STOP = "stop"
PATIENCE_S = 10.0  # own engineering value: two slow 1-wire conversions on a busy bus, and more
LOOK_EVERY_S = 0.5
LISTEN_S = 0.2


class Person(Protocol):
    """Somebody at the machine who can be asked."""

    def hear(self) -> str | None:
        """The next word typed; None when nobody will type any more."""
        ...


class Typist:
    """A person at a terminal, who may also send a signal."""

    def __init__(self, typed: TextIO, halted: Callable[[], bool]) -> None:
        """Read from `typed`, a terminal, until `halted` says that a signal has come."""
        self._typed = typed
        self._halted = halted

    def hear(self) -> str | None:
        """The next line; None at its end or on a signal."""
        while not self._halted():
            if select.select([self._typed], [], [], LISTEN_S)[0]:
                line = self._typed.readline()
                return line.strip() if line else None
        return None


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where and when a run is to begin: its records, its machine and the computer's clocks."""

    folder: Path
    profile: Profile
    machine: Machine
    identity: Identity  # of the run to begin: its hashes and boot
    stamp: Stamp


def ask_about_cut_run(
    place: Place,
    devices: Devices,
    clock: Clock,
    *,
    word: str,
    person: Person | None,
    shown: TextIO,
    fahrenheit: bool = False,
) -> Beginning:
    """Where the run begins: at the first phase unless a run was cut and a person says how to go on.

    Args:
        place: the run to begin.
        devices: attached, and not yet driven: only thermometers are read.
        clock: to wait for the first readings by.
        word: the command line's answer, `RESUME` or `BEGIN_AGAIN`, or empty.
        person: who may be asked, or None.
        shown: where the question is written.
        fahrenheit: show °F.

    Raises:
        StoppedError: nothing may be heated now, or nobody said that it may.
        AccessError: the folder can't be written.
    """
    boots = note_boot(place.folder, place.identity.boot_id, place.stamp)
    cut = find_cut(place.folder, place.machine.name)
    if cut is None:
        return _fresh(place, is_said=person is not None or word == BEGIN_AGAIN)
    bath_c, bowl_c = _temperatures(devices, place.machine, clock)
    decision = decide(
        cut_of(cut, place.profile, place.identity),
        Now(bath_c=bath_c, bowl_c=bowl_c, gap_s=_gap_s(cut, place), boots=boots),
        place.profile,
        place.machine,
        fahrenheit=fahrenheit,
    )
    story = _story(cut, decision, fahrenheit=fahrenheit)
    choices = _choices(decision)
    if STOP not in choices:
        raise StoppedError(story)
    if word and word not in choices:
        raise StoppedError(f"{story} So --{word} is refused; the choices are {_listed(choices)}.")
    answer = word or _ask(story, choices, person, shown)
    return _beginning(answer, decision, cut)


def _fresh(place: Place, *, is_said: bool) -> Beginning:
    """From the first phase, unless that needs a person's word and none was said."""
    if not is_said:
        boot_id, boot_s = place.identity.boot_id, place.stamp.boot_s
        refuse_soon_again(place.folder, place.machine.name, boot_id, boot_s)
    return FRESH


def _ask(story: str, choices: tuple[str, ...], person: Person | None, shown: TextIO) -> str:
    """Ask until one of the choices is typed."""
    if person is None:
        options = " or ".join(f"--{choice}" for choice in choices if choice != STOP)
        raise StoppedError(
            f"{story} Nobody is at the keyboard to decide: start again with {options}."
        )
    shown.write(f"{story}\nType {_listed(choices)}, then Enter.\n")
    shown.flush()
    while True:
        answer = person.hear()
        if answer is None or answer.casefold() == STOP:
            raise StoppedError("Nothing was heated; the next start asks again.")
        if answer.casefold() in choices:
            return answer.casefold()
        shown.write(f"Type {_listed(choices)}, then Enter.\n")
        shown.flush()


def _choices(decision: Decision) -> tuple[str, ...]:
    """The words that a person may say; none where nothing but waiting or mending helps."""
    if decision.offer is Offer.RESUME:
        return RESUME, BEGIN_AGAIN, STOP
    if decision.offer is Offer.MELT_AGAIN or decision.may_set_aside:
        return BEGIN_AGAIN, STOP
    return ()


def _beginning(answer: str, decision: Decision, cut: CutRun) -> Beginning:
    if answer == RESUME:
        return replace(decision.beginning, continues=cut.last.header.run_id)
    if decision.offer is Offer.MELT_AGAIN:
        return decision.beginning
    return FRESH


def _story(cut: CutRun, decision: Decision, *, fahrenheit: bool) -> str:
    last = cut.sample
    bowl = shown_temperature(last.bowl_c, fahrenheit=fahrenheit)
    return (
        f"Run {cut.last.header.run_id} was cut off in {last.phase} after {last.t_s / 60:.0f} min "
        f"with the bowl at {bowl}. {decision.why}"
    )


def _listed(choices: tuple[str, ...]) -> str:
    return f"{', '.join(choices[:-1])} or {choices[-1]}"


def _gap_s(cut: CutRun, place: Place) -> float | None:
    """Seconds since the cut by one clock that went on, or by two that were set; else None."""
    stamp, header = place.stamp, cut.last.header
    if header.boot_id and header.boot_id == place.identity.boot_id:
        then_s = boot_s_at_cut(cut.last)
        return None if then_s is None else stamp.boot_s - then_s
    then = wall_at_cut(cut.last)
    if then is None or not stamp.synchronised:
        return None
    return (datetime.fromisoformat(stamp.utc) - then).total_seconds()


def _temperatures(devices: Devices, machine: Machine, clock: Clock) -> tuple[float, float]:
    """Bath and bowl, °C; NaN for one that gave no good value for a while."""
    end_s = clock.now_s() + PATIENCE_S
    while True:
        now_s = clock.now_s()
        bath, bowl = devices.bath.read(now_s), devices.bowl.read(now_s)
        if bath.quality is bowl.quality is Quality.GOOD or now_s >= end_s:
            return _good_c(bath, machine.bath_offset_k), _good_c(bowl, machine.bowl_offset_k)
        clock.wait_until(now_s + LOOK_EVERY_S)


def _good_c(reading: Reading, offset_k: float) -> float:
    return reading.value + offset_k if reading.quality is Quality.GOOD else math.nan
