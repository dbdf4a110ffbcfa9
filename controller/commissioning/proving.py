"""Proving that what must cut the heat does: switches, guard, cut-out and stop button, each seen.

Responsible for the steps, for what is asked of the person, and for pulses of heat too short to
matter; not for permitting them, which the guard does, nor for opening it. A machine whose voltage
behind the switches isn't seen is looked at by the person instead.
"""

import math
from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass
from typing import NamedTuple

from controller.clock import Clock
from controller.commissioning.person import NO, YES
from controller.commissioning.proofs import Step
from controller.commissioning.site import Site
from controller.errors import UnprovenError
from controller.guard.words import of_file
from controller.ports import NOT_LATCHED, Heater, Permission, Permit

# Own engineering values, not published.
EVERY_S = 0.2  # between two leases: well within the shortest that a machine file may set
PULSE_S = 2.0  # heat that is asked for at a time: less than the 3 s in which a guard takes a heater
# that stays dead for broken, and a quarter of a kelvin in a small bath
GRANT_S = 1.0  # until which the guard has written that heat may be on
LOOK_S = 8.0  # the same where a person looks: nothing latches then
DEAD_S = 0.9  # of granted heat without voltage that says that something else cuts it
SILENT_S = 4.0  # without a word of ours: the lease has 2 s at most, and the switch may take time
REST_S = 1.0  # between two pulses
CAP_C = 45.0  # no pulse on a bath hotter than this: it is proven cold
SEEN, LOOKED, TOLD = "measured", "seen by a person", "by the guard's word"
LIVE = "Was there voltage at the element?"
READY = (
    "Water covers the element, the lid is on, nobody's hands are in it, and somebody could pull "
    "the plug at once?"
)
NOT_READY = (
    "Nothing was proven: fill the bath with cold water over its element, put the lid on, keep the "
    "plug within reach, and give the same command again."
)
WELDED = (
    "unplug the machine now; a switch is stuck closed and must be replaced, or the mains-live wire "
    "is on the wrong side of it."
)
REPLACE = "unplug the machine and replace that switch, or see to its wires."
MEND = "unplug, and check plug, fuse, cut-out, stop button, both switches and the mains-live wire."
CUT_OUT_TRIP = (
    "Let the cut-out trip: hold its sensor, off the tank, in water hotter than its mark until it "
    "clicks (mind the scald), then let it cool, and don't reset it. Has it clicked, and cooled?"
)
CUT_OUT_WRONG = (
    "unplug the machine now; the cut-out is not in series with the element, or it resets by itself "
    "and must be one that only a hand resets."
)
CUT_OUT_RESET = "Put its sensor back on the tank, and reset it by hand. Done?"
STOP_PRESS = "Press the stop button, and leave it pressed. Done?"
STOP_WRONG = "unplug the machine; the stop button must cut the element's supply by itself."
STOP_RELEASE = "Release the stop button. Done?"


class Guard(NamedTuple):
    """The heater behind its guard, and that guard's word."""

    heater: Heater
    permit: Permission


@dataclass(slots=True)
class Look:
    """What was seen of a pulse."""

    permit: Permit  # the guard's last word
    granted_s: float = 0.0  # how long the guard gave heat
    was_live: bool = False  # voltage was seen meanwhile


class Prover:
    """A machine whose cuts are proven, one after the other."""

    def __init__(self, site: Site, opened: Callable[[], AbstractContextManager[Guard]]) -> None:
        """Nothing is asked for yet.

        `opened` meets the guard anew for each pulse, and takes leave of it at the end: a guard
        that waited for a word meanwhile would take a person's time for a program that hangs.
        """
        self.site, self._opened = site, opened
        machine = site.machine_file.machine
        self._sees, self._has_second = machine.has_mains, machine.has_second
        self._cap_c = min(CAP_C, machine.bath_max_c)

    @property
    def _clock(self) -> Clock:
        return self.site.clock

    def run(self) -> None:
        """Go through all that is not shown yet, and date it.

        Raises:
            UnprovenError: something does not cut as it must; the sentence says what to do.
            HardwareError: no guard answers.
            StoppedError: nobody is there to look.
        """
        person, parts = self.site.person, self.site.parts(Step.PROVE)
        todo = [(word, prove) for word, prove in self._all() if word not in parts]
        if parts and todo:
            person.say(f"Shown before and kept: {', '.join(parts)}.")
        if todo:
            with self._opened():
                pass  # a guard that isn't there is told of before anybody fills a bath
            if person.ask(READY) != YES:
                raise UnprovenError(NOT_READY)
        for word, prove in todo:
            facts = prove()
            self.site.part(Step.PROVE, word, facts)
            person.say(f"{word}: shown ({', '.join(facts.values())}).")
        shown = self.site.parts(Step.PROVE)
        self.site.done(
            Step.PROVE, {word: ", ".join(done.facts.values()) for word, done in shown.items()}
        )

    def _all(self) -> tuple[tuple[str, Callable[[], dict[str, str]]], ...]:
        """The parts in their order: what could weld first, so that later pulses can be cut."""
        alone = (
            (("second-opens", self._second_opens), ("first-opens", self._first_opens))
            if self._has_second
            else ()
        )
        return (
            ("off-is-dead", self._off_is_dead),
            *alone,
            ("on-is-live", self._on_is_live),
            ("guard-bites", self._guard_bites),
            ("cut-out", self._cut_out),
            ("stop-button", self._stop_button),
        )

    # Pulses

    def _be_sound(self, guard: Guard) -> None:
        """The guard may give heat, as far as it says.

        Raises:
            UnprovenError: it has latched, or sees no cold bath.
        """
        self._wait(guard, REST_S)
        permit = guard.permit.read(self._clock.now_s())
        if permit.latched != NOT_LATCHED:
            action = of_file(permit.action, self.site.path).removesuffix(".")
            raise UnprovenError(
                f"The guard has latched ({permit.latched}): {permit.what}. {action}, then go on."
            )
        if math.isnan(permit.bath_c):
            raise UnprovenError(
                "The guard's own thermometer gives no value, so that it permits no heat: check its "
                "plug, wire and the path under [guard.probe]."
            )
        if not permit.bath_c <= self._cap_c:
            raise UnprovenError(
                f"The guard's own thermometer says {permit.bath_c:.1f} °C, and cuts are proven on "
                f"a bath of at most {self._cap_c:g} °C: see to it, or let the bath cool."
            )

    def _drive(self, guard: Guard, *, on: bool, alone: int = 0) -> None:
        now_s = self._clock.now_s()
        guard.heater.drive(on=on, now_s=now_s, cap_c=self._cap_c, good=True, alone=alone)

    def _wait(self, guard: Guard, seconds: float) -> None:
        """Let time pass, asking for nothing."""
        until_s = self._clock.now_s() + seconds
        while self._clock.now_s() < until_s:
            self._drive(guard, on=False)
            self._clock.wait_until(self._clock.now_s() + EVERY_S)

    def _pulse(self, *, alone: int = 0, most_s: float = PULSE_S, until_live: bool = False) -> Look:
        """Ask for heat, or for one switch alone, for a short while, and look.

        Args:
            alone: which switch closes alone; 0 for both, and so for heat.
            most_s: of granted heat.
            until_live: voltage that is seen ends it.

        Raises:
            UnprovenError: the guard may give no heat.
        """
        with self._opened() as guard:
            self._be_sound(guard)
            try:
                look = self._heat(guard, alone, most_s, until_live=until_live)
            finally:
                self._drive(guard, on=False)
            self._wait(guard, REST_S)
        return look

    def _heat(self, guard: Guard, alone: int, most_s: float, *, until_live: bool) -> Look:
        began_s = self._clock.now_s()
        look = Look(guard.permit.read(began_s))
        grant_s = 0.0 if alone else GRANT_S
        while self._clock.now_s() - began_s < most_s + grant_s and look.granted_s < most_s:
            self._drive(guard, on=True, alone=alone)
            self._clock.wait_until(self._clock.now_s() + EVERY_S)
            permit = look.permit = guard.permit.read(self._clock.now_s())
            look.granted_s += EVERY_S if permit.heat else 0.0
            look.was_live = look.was_live or bool(permit.live)
            if look.was_live and until_live:
                break
        return look

    def _granted(self, look: Look) -> None:
        """Heat was given at all.

        Raises:
            UnprovenError: it was not, so that nothing was shown.
        """
        if look.granted_s >= DEAD_S:
            return
        raise UnprovenError(
            f"The guard gave no heat, so that nothing is shown ({look.permit.what}): see what its "
            "log says of limits and thermometer, mend that, and give the same command again."
        )

    def _looked(self, wanted: str, what: str, then: str) -> dict[str, str]:
        """What a person has seen of the pulse just given."""
        if self.site.person.ask(LIVE) != wanted:
            raise UnprovenError(f"{what}: {then}")
        return {"by": LOOKED}

    def _tell_to_look(self, what: str) -> None:
        self.site.person.say(f"{what} for {LOOK_S:g} s: look at the element's lamp or meter.")

    def _asked(self, deed: str) -> None:
        """A person does it."""
        if self.site.person.ask(deed) != YES:
            raise UnprovenError(
                "That was not done, so it is not shown; what was shown before is kept, and the "
                "same command goes on there."
            )

    # What is shown

    def _off_is_dead(self) -> dict[str, str]:
        what = "The heater is live though nothing asks for it"
        if not self._sees:
            self._tell_to_look("Nothing asks for heat")
            with self._opened() as guard:
                self._wait(guard, LOOK_S)
            return self._looked(NO, what, WELDED)
        with self._opened() as guard:
            self._be_sound(guard)
            if guard.permit.read(self._clock.now_s()).live:
                raise UnprovenError(f"{what}: {WELDED}")
        return {"by": SEEN}

    def _second_opens(self) -> dict[str, str]:
        return self._alone(1, "first", "second")

    def _first_opens(self) -> dict[str, str]:
        return self._alone(2, "second", "first")

    def _alone(self, closed: int, one: str, other: str) -> dict[str, str]:
        """With one switch closed, the other one's opening is all that keeps the element dead."""
        what = f"With only the {one} switch closed the heater is live, so the {other} is stuck"
        if self._sees:
            if self._pulse(alone=closed, until_live=True).was_live:
                raise UnprovenError(f"{what}: {REPLACE}")
            return {"by": SEEN}
        self._tell_to_look(f"The {one} switch closes alone")
        self._pulse(alone=closed, most_s=LOOK_S)
        return self._looked(NO, what, REPLACE)

    def _on_is_live(self) -> dict[str, str]:
        what = "Told to be on, the heater stays dead"
        if self._sees:
            look = self._pulse(until_live=True)
            if not look.was_live:
                self._granted(look)
                raise UnprovenError(f"{what}: {MEND}")
            return {"by": SEEN}
        self._tell_to_look("The heater is on")
        self._granted(self._pulse(most_s=LOOK_S))
        return self._looked(YES, what, MEND)

    def _guard_bites(self) -> dict[str, str]:
        """Heat is on, and we fall silent as a program does that hangs: it must end."""
        with self._opened() as guard:
            self._be_sound(guard)
            self._granted(self._heat(guard, 0, GRANT_S, until_live=False))
            began_s = self._clock.now_s()
            permit = guard.permit.read(began_s)
            while (permit.heat or permit.live) and self._clock.now_s() - began_s < SILENT_S:
                self._clock.wait_until(self._clock.now_s() + EVERY_S)
                permit = guard.permit.read(self._clock.now_s())
            took_s = self._clock.now_s() - began_s
            self._drive(guard, on=False)
        if permit.heat or permit.live:
            raise UnprovenError(
                f"The guard keeps heat on though it has heard nothing for {SILENT_S:g} s: unplug, "
                "and look at its log; it must not be used like this."
            )
        by = SEEN if self._sees else TOLD
        return {"by": by, "heat ended after": f"{took_s:.1f} s of silence"}

    def _cut_out(self) -> dict[str, str]:
        what = "The cut-out has tripped, and the heater gets voltage"
        return self._cut(CUT_OUT_TRIP, what, CUT_OUT_WRONG, CUT_OUT_RESET)

    def _stop_button(self) -> dict[str, str]:
        what = "The stop button is pressed, and the heater gets voltage"
        return self._cut(STOP_PRESS, what, STOP_WRONG, STOP_RELEASE)

    def _cut(self, deed: str, what: str, then: str, undone: str) -> dict[str, str]:
        """A person cuts it, heat is asked for, and none must come; then it must come again."""
        self._asked(deed)
        if not self._sees:
            self._tell_to_look("Heat is asked for")
        look = self._pulse(most_s=PULSE_S if self._sees else LOOK_S, until_live=True)
        if look.was_live:
            raise UnprovenError(f"{what}: {then}")
        self._granted(look)
        facts = {"by": SEEN} if self._sees else self._looked(NO, what, then)
        self._asked(undone)
        self._on_is_live()
        return facts
