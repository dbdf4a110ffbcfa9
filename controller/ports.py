"""The contract of each device, as Protocols over the core's readings and commands.

Responsible for what the daemon may expect of hardware; not for any hardware. Hardware imports
this module and nothing else of the controller.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from msgspec import Struct

from controller.core.announcement import Announcement, announced
from controller.core.profile import Action, Choice, Kind, Question, Verdict
from controller.core.records import replace
from controller.core.signals import (
    NOT_LATCHED,
    Fault,
    Permit,
    Quality,
    Reading,
    Request,
    Source,
    Verb,
    missing,
)
from controller.core.start_proof import KIND_ID
from controller.core.state import Event, State

__all__ = [
    "KIND_ID",
    "NOT_LATCHED",
    "Action",
    "Announcement",
    "Choice",
    "Cooler",
    "Devices",
    "Event",
    "Fault",
    "Heater",
    "Indicator",
    "Kind",
    "Moment",
    "Panel",
    "Permission",
    "Permit",
    "Quality",
    "Question",
    "Reading",
    "Request",
    "Sensor",
    "Source",
    "State",
    "Stirrer",
    "Teller",
    "Truth",
    "Verb",
    "Verdict",
    "announced",
    "missing",
    "replace",
]


class Sensor(Protocol):
    """Anything that gives one number: thermometer (°C), shaft (rpm), current (A), switch (1 or 0).

    A failure is a reading with a fault, never an exception; `read` returns at once.
    """

    def read(self, now_s: float) -> Reading:
        """The newest value; `now_s` is the loop's monotonic clock."""
        ...


class Heater(Protocol):
    """The heater behind its guard. Off until told, and off when no longer told."""

    def drive(
        self, *, on: bool, now_s: float, cap_c: float = 0.0, good: bool = True, alone: int = 0
    ) -> None:
        """Ask for heat or none until the next tick; called once a tick, returns at once.

        `cap_c` is the bath limit in force, °C; a guard permits nothing above it. `good` says that
        the tick so far went through all its steps in order; without it no heat may be given.
        `alone` is 1 or 2 where, `on`, only that of two switches may close, to be tested; where
        there is one switch it stays open then.
        """
        ...


class Permission(Protocol):
    """What the guard says."""

    def read(self, now_s: float) -> Permit:
        """The newest word; returns at once."""
        ...

    def latch(self, causes: Sequence[str], now_s: float) -> None:
        """Tell it what the run has tripped for, the first one first; returns at once.

        Called in every tick of a run that tripped: saying it again changes nothing.
        """
        ...


class Stirrer(Protocol):
    """The stirrer motor."""

    def drive(self, *, rpm: float, now_s: float) -> None:
        """Turn at `rpm`; 0 stops."""
        ...


class Cooler(Protocol):
    """Pump, valve or fan that takes heat from the bath. Off until told."""

    def drive(self, *, on: bool, now_s: float) -> None:
        """Run or stand; returns at once."""
        ...


class Indicator(Protocol):
    """A buzzer or a lamp. Off until told; one that is broken is no reason to end a run."""

    def drive(self, *, on: bool, now_s: float) -> None:
        """Sound or shine; returns at once, and never raises."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Devices:
    """Everything that a machine has. What is not fitted is None."""

    bath: Sensor
    bowl: Sensor
    heater: Heater
    stirrer: Stirrer
    level: Sensor | None = None
    shaft: Sensor | None = None
    load: Sensor | None = None
    current: Sensor | None = None
    lid: Sensor | None = None
    stop: Sensor | None = None
    permit: Permission | None = None
    cooler: Cooler | None = None
    buzzer: Indicator | None = None
    lamp: Indicator | None = None

    @property
    def can_call(self) -> bool:
        """Whether anything is fitted that calls a person."""
        return self.buzzer is not None or self.lamp is not None


class Panel(Protocol):
    """Somebody who may ask or answer: the keyboard, the link, the bench's scripted cook."""

    def take(self, now_s: float, ask: Question | None) -> tuple[Request, ...]:
        """Requests that came in since the last call; `ask` is the question now open. No waiting."""
        ...


class Moment(Struct, frozen=True, kw_only=True):
    """One finished tick, as shown to whoever records or tells."""

    now_s: float
    state: State
    heater_on: bool
    stirrer_rpm: float
    shaft_rpm: float | None
    load_w: float | None
    events: tuple[Event, ...]
    lid: Reading | None = None  # as its switch says; None where none is fitted
    has_stop: bool = False  # whether a stop button is fitted


class Teller(Protocol):
    """Whoever is told of each finished tick: the journal, the link, the screen. No waiting."""

    def tell(self, moment: Moment) -> None:
        """Take note of one tick."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """What a bench knows at the end of a run and no real machine can: for reports only.

    Crystal contents are fractions of the total fat; `energy_j` is heat put into the element.
    """

    form_v: float
    unstable: float
    bowl_c: float
    bath_c: float
    energy_j: float
    verdict: Verdict
