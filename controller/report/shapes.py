"""What a summary holds.

Responsible for the shapes, units in the names; not for working them out (summary).
"""

from dataclasses import dataclass

from controller.core.lacks import Lack
from controller.core.profile import Verdict
from controller.core.tempering import Temper


@dataclass(frozen=True, slots=True, kw_only=True)
class PhaseTime:
    """When a phase ran, in run time."""

    name: str
    start_s: float
    duration_s: float
    target_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """How far off its target the bowl was: least, most, and root mean square."""

    min_k: float
    max_k: float
    rms_k: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TripNote:
    """A trip as it was latched."""

    at_s: float
    cause: str
    what: str
    why: str
    action: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Crystals:
    """The chocolate at the end, as only a bench knows it; shares of the total fat."""

    form_v_percent: float
    unstable_percent: float
    verdict: Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class Foretold:
    """What was first said of when the chocolate would be ready; all in run time."""

    said_s: float  # when it was said
    early_s: float
    likely_s: float
    late_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """What the temper estimate last said."""

    said_s: float  # run time
    verdict: Temper
    confidence: float
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Summary:
    """What came of a run. None: the run did not get that far, or nobody can know."""

    run_id: str
    began_utc: str
    profile_title: str
    profile_kind: str
    machine_name: str
    batch_kg: float
    lacks: tuple[Lack, ...]  # what the machine does without
    lasted_s: float
    phases: tuple[PhaseTime, ...]
    ready_s: float | None  # run time at which the last phase first reached its target
    ready_utc: str | None
    foretold: Foretold | None
    melt_overshoot_k: float | None
    working_target_c: float
    working_overshoot_k: float | None  # over the working target and warm steps, from rewarm on
    hold_band: Band | None  # around where it was asked to be
    warmed_k: float  # so much warmer than that was it meant to be held at most, for it thickened
    trips: tuple[TripNote, ...]
    heat_asked_kwh: float  # from the nominal power
    energy_kwh: float | None  # what the element truly took
    switches: int
    verdict: Verdict  # of the set test
    is_test_soon: bool  # it was answered before a smear can have set
    judged: Judged | None  # the last estimate of temper
    crystals: Crystals | None
    outcome: str | None  # None: the run broke off
    torn: bool
