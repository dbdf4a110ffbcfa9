"""What came of a trial, in numbers that a test can hold.

Responsible for the shapes and the row of a table; not for working the numbers out (tally).
"""

import math
from dataclasses import dataclass

from controller.errors import Exit
from controller.ports import Truth, Verdict

NEVER = math.nan  # what did not happen has no number, and every comparison with it fails
COLUMN = 20  # wide enough for the longest name but for phases of long names


@dataclass(frozen=True, slots=True, kw_only=True)
class PhaseTime:
    """When a phase ran, in run time."""

    name: str
    start_s: float
    duration_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TripTime:
    """A trip as it was latched."""

    cause: str  # a word of the table of interlocks in controller/README.md
    at_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """How a trial ended and what it measured; NaN where something did not happen.

    Temperatures are of the thermometers, as the controller saw them and as a run's summary gives
    them; `bath_max_c`, `bowl_max_c` and `truth` are of the bench, which alone knows better.
    """

    exit: Exit
    plan: tuple[str, ...]  # the names of the profile's phases
    phases: tuple[PhaseTime, ...]  # those that were begun
    melt_overshoot_k: float  # of the first phase
    working_overshoot_k: float  # over the last phase's target and warm steps, from rewarm on
    hold_min_k: float  # how far off what was asked the bowl was while held ready
    hold_max_k: float
    hold_rms_k: float
    ready_s: float  # when the last phase first reached its target
    lasted_s: float
    questions: tuple[str, ...]  # ids as they were asked, one as often as it was
    trips: tuple[TripTime, ...]  # oldest first
    withheld_s: float  # for how long heat was held back by an interlock
    switches: int  # times that the relay changed
    energy_kwh: float  # heat put into the element
    truth: Truth
    bath_max_c: float
    bowl_max_c: float

    @property
    def causes(self) -> tuple[str, ...]:
        """Causes of the trips, oldest first."""
        return tuple(trip.cause for trip in self.trips)

    @property
    def is_in_temper(self) -> bool:
        """Whether the chocolate truly was in temper at the end."""
        return self.truth.verdict is Verdict.IN_TEMPER

    def phase(self, name: str) -> PhaseTime:
        """When that phase ran; NaN if it never began.

        Raises:
            KeyError: the profile has no such phase.
        """
        if name not in self.plan:
            raise KeyError(f"The profile has no phase {name!r}, only {', '.join(self.plan)}.")
        begun = (phase for phase in self.phases if phase.name == name)
        return next(begun, PhaseTime(name=name, start_s=NEVER, duration_s=NEVER))

    def text(self) -> str:
        """The row for a person, one column a line; what did not happen is left out."""
        cells = ((name, _shown(cell)) for name, cell in self.row().items())
        return "\n".join(f"{name:{COLUMN}} {shown}" for name, shown in cells if shown)

    def row(self) -> dict[str, str | float | int]:
        """One row of a table, its columns always in the same order for the same profile."""
        first = self.trips[0] if self.trips else TripTime(cause="", at_s=NEVER)
        return {
            "exit": self.exit.word,
            "trip": first.cause,
            "trip_s": first.at_s,
            "ready_s": self.ready_s,
            "lasted_s": self.lasted_s,
            "melt_overshoot_k": self.melt_overshoot_k,
            "working_overshoot_k": self.working_overshoot_k,
            "hold_min_k": self.hold_min_k,
            "hold_max_k": self.hold_max_k,
            "hold_rms_k": self.hold_rms_k,
            "bath_max_c": self.bath_max_c,
            "bowl_max_c": self.bowl_max_c,
            "form_v": self.truth.form_v,
            "unstable": self.truth.unstable,
            "verdict": self.truth.verdict.value,
            "withheld_s": self.withheld_s,
            "switches": self.switches,
            "energy_kwh": self.energy_kwh,
            "questions": " ".join(self.questions),
            **{f"phase_{name}_s": self.phase(name).duration_s for name in self.plan},
        }


def _shown(cell: str | float) -> str:
    """A cell for a person, empty for what did not happen."""
    if isinstance(cell, str):
        return cell
    return "" if math.isnan(cell) else f"{cell:.6g}"
