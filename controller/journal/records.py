"""What a journal holds: header, samples, notes of events, closing.

Responsible for the shapes and the schema version; not for their bytes (lines) or files.
"""

from dataclasses import dataclass

from controller.core.lacks import Lack, lacks_of
from controller.core.machine import Machine
from controller.core.profile import Phase, Profile, Verdict
from controller.core.state import Mode
from controller.ports import Truth

SCHEMA = 1  # raised when a reader of today could misread a file of tomorrow

# Names of the journal's own events; all others are words of `controller.core.state.EventName`.
RECORDS_LOST = "records_lost"  # the disk did not keep up; facts: samples, events
CLOCK_READ = "clock_read"  # facts: utc, boot_s, synchronised
TEMPER_JUDGED = "temper_judged"  # facts: of controller.core.kept_temper and kept_machine
READY_FORETOLD = "ready_foretold"  # facts: early_s, likely_s, late_s in run time, obstacle


@dataclass(frozen=True, slots=True, kw_only=True)
class PhasePlan:
    """What a report needs to know of a phase."""

    name: str
    target_c: float
    tolerance_k: float
    bath_ceiling_c: float
    bath_cut_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Identity:
    """What tells one run from another: handed in, so that the same run gives the same bytes."""

    run_id: str
    began_utc: str  # ISO 8601
    version: str  # of bainward
    profile_made_of: str = ""  # hash of the profile's file
    machine_made_of: str = ""  # hash of the machine file
    boot_id: str = ""  # of the computer's boot, or empty
    continues: str = ""  # run id of the cut run that this one goes on with, or empty


@dataclass(frozen=True, slots=True, kw_only=True)
class Stamp:
    """What the computer's other clocks said at one moment of a run."""

    utc: str  # ISO 8601
    boot_s: float  # since the computer's boot
    synchronised: bool  # whether the wall clock is held to a time server


@dataclass(frozen=True, slots=True, kw_only=True)
class Header:
    """What a run was going to do, and on what; identities and wall time are handed in."""

    run_id: str
    began_utc: str  # ISO 8601
    version: str  # of bainward
    profile_name: str
    profile_title: str
    profile_kind: str
    profile_source: str
    profile_made_of: str  # hash of the profile's file, or empty
    phases: tuple[PhasePlan, ...]
    machine_name: str
    machine_made_of: str  # hash of the machine file, or empty
    period_s: float
    water_kg: float
    batch_kg: float
    heater_w: float
    boot_id: str = ""
    continues: str = ""
    lacks: tuple[Lack, ...] = ()  # what the machine does without


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """The run as it was after one tick. A temperature that was not to be had is NaN."""

    seq: int
    t_s: float  # run time
    mode: Mode
    phase: str
    bath_c: float
    bowl_c: float
    bowl_setpoint_c: float
    bath_setpoint_c: float
    duty: float
    heater_on: bool
    stirrer_rpm: float
    shaft_rpm: float | None
    load_w: float | None
    heat_j: float  # asked of the element so far, from the nominal power
    switches: int  # times that the relay has changed so far
    verdict: Verdict  # of the set test so far


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """One event of a tick. `phase` is the phase that it happened in."""

    seq: int
    t_s: float
    name: str  # a word of `controller.core.state.EventName`, or one of the journal's own
    phase: str
    facts: dict[str, str | float | bool]


@dataclass(frozen=True, slots=True, kw_only=True)
class Closing:
    """The last line of a run that ended in order."""

    seq: int
    t_s: float
    outcome: str
    truth: Truth | None
    signal: str = ""  # the one that ended the process, as SIGTERM; empty: none did


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """A journal as read back. `torn`: it was cut at the first line that is not whole."""

    header: Header
    samples: tuple[Sample, ...]
    events: tuple[Note, ...]
    closing: Closing | None
    torn: bool


def plan_of(phase: Phase) -> PhasePlan:
    """The part of a phase that the header keeps."""
    return PhasePlan(
        name=phase.name,
        target_c=phase.bowl_target_c,
        tolerance_k=phase.tolerance_k,
        bath_ceiling_c=phase.bath_ceiling_c,
        bath_cut_c=phase.bath_cut_c,
    )


def header_of(profile: Profile, machine: Machine, identity: Identity) -> Header:
    """The header of a run of `profile` on `machine`."""
    return Header(
        run_id=identity.run_id,
        began_utc=identity.began_utc,
        version=identity.version,
        profile_name=profile.name,
        profile_title=profile.title,
        profile_kind=profile.kind,
        profile_source=profile.source,
        profile_made_of=identity.profile_made_of,
        phases=tuple(plan_of(phase) for phase in profile.phases),
        machine_name=machine.name,
        machine_made_of=identity.machine_made_of,
        period_s=machine.period_s,
        water_kg=machine.water_kg,
        batch_kg=machine.batch_kg,
        heater_w=machine.heater_w,
        boot_id=identity.boot_id,
        continues=identity.continues,
        lacks=lacks_of(machine),
    )
