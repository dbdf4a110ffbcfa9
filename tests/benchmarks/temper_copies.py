"""Copies of a benchmark's run: each is disturbed in its hold, asked once, and ends.

Responsible for copying a run, so that hours before a disturbance are simulated once, and for what
hands then do; not for what is said of it (temper_cases). Ranges are own engineering values, not
published.
"""

import json
import math
import os
from collections.abc import Callable
from random import Random
from typing import NamedTuple

from controller.core.announcement import Announcement, Deed
from controller.core.profile import Question
from controller.core.signals import Request, Verb
from controller.errors import CrashError
from controller.ports import Moment
from hardware.bench.plant import Plant

AFTER_S = 480.0  # a disturbance
COPIES = 2


class EnoughError(BaseException):
    """A copy has been asked."""


class Upset(NamedTuple):
    """What hands do to a batch that is held, and what they say of it."""

    name: str
    act: Callable[[Plant], None]
    said: Announcement


def topped_up(chance: Random, batch_kg: float) -> Upset:
    """Untempered melt poured in."""
    mass_kg, at_c = batch_kg * chance.uniform(0.1, 0.5), chance.uniform(33.0, 40.0)
    return Upset(
        "a top-up",
        lambda plant: plant.top_up(mass_kg=mass_kg, content_c=at_c),
        Announcement(deed=Deed.TOPPED_UP, mass_kg=mass_kg, temp_c=at_c),
    )


def fed(chance: Random, batch_kg: float) -> Upset:
    """Tempered pieces put in."""
    mass_kg = batch_kg * chance.uniform(0.01, 0.08)
    return Upset(
        "pieces put in",
        lambda plant: plant.add_seed(mass_kg),
        Announcement(deed=Deed.ADDED, mass_kg=mass_kg),
    )


def forgotten(chance: Random, batch_kg: float) -> Upset:
    """Tempered pieces that somebody says are in, and are not."""
    _, _, said = fed(chance, batch_kg)
    return Upset("pieces forgotten", lambda _: None, said)


def cooled(chance: Random, _: float) -> Upset:
    """Bath water swapped for colder, nobody knows why."""
    share, water_c = chance.uniform(0.2, 0.6), chance.uniform(10.0, 25.0)
    return Upset(
        "a cold bath",
        lambda plant: plant.swap_water(share=share, water_c=water_c),
        Announcement(deed=Deed.SWAPPED, share=share, temp_c=water_c),
    )


UPSETS = (topped_up, fed, forgotten, cooled)


class Copier:
    """A teller and a panel that copies the run in its hold and disturbs the copies."""

    def __init__(self, plant: Plant, batch_kg: float, chance: Random, hold: int) -> None:
        """Draw what is to come. `hold` is the phase whose age counts."""
        self._plant, self._hold = plant, hold
        drawn = [make(chance, batch_kg) for make in chance.sample(UPSETS, COPIES)]
        times_s = sorted(chance.uniform(300.0, 3600.0) for _ in drawn)
        self._to_come = list(zip(times_s, drawn, strict=True))
        self._since_s = math.nan
        self._mine: Upset | None = None
        self._out = -1
        self._done_s = math.nan
        self.is_asked = False
        self.told: list[str] = []  # what each copy had to say

    @property
    def is_copy(self) -> bool:
        """Whether this process is a copy."""
        return self._mine is not None

    @property
    def upset(self) -> str:
        """What was done to this copy."""
        return self._mine.name if self._mine else ""

    def due(self, moment: Moment) -> bool:
        """Whether this copy is to be asked now."""
        return moment.state.run_s - self._done_s >= AFTER_S

    def tell(self, moment: Moment) -> None:
        """Copy what is due; in a copy nothing more is copied."""
        if self.is_copy:
            return
        if math.isnan(self._since_s) and moment.state.progress.phase == self._hold:
            self._since_s = moment.state.run_s
        while self._to_come and moment.state.run_s - self._since_s >= self._to_come[0][0]:
            if self._copy(self._to_come.pop(0)[1]):
                self._done_s = moment.state.run_s
                return

    def take(self, now_s: float, ask: Question | None) -> tuple[Request, ...]:  # noqa: ARG002 - the Panel's contract
        """In a copy: do it, and say so, once."""
        if self._mine is None or not self._to_come:
            return ()
        self._to_come = []
        self._plant.advance(now_s)
        self._mine.act(self._plant)
        return (Request(verb=Verb.ANNOUNCE, announcement=self._mine.said),)

    def hand_over(self, said: object) -> None:
        """In a copy: give what was said to the run that it was copied from, and end."""
        with os.fdopen(self._out, "w", encoding="utf-8") as out:
            json.dump(said, out)
        os._exit(0)

    def _copy(self, upset: Upset) -> bool:
        """Copy the process; this one waits for the copy. Whether this is the copy."""
        inward, outward = os.pipe()
        copy = os.fork()
        if copy == 0:
            os.close(inward)
            self._mine, self._out = upset, outward
            self._to_come = [(0.0, upset)]
            return True
        os.close(outward)
        with os.fdopen(inward, encoding="utf-8") as told:
            text = told.read()
        os.waitpid(copy, 0)
        if not text:
            raise CrashError(f"A copy of the run, disturbed by {upset.name}, ended without a word.")
        self.told.append(text)
        return False
