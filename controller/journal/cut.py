"""What the record of a cut run tells of the moment that it was cut.

Responsible for reading it out, across runs that went on with one another; not for what may be
offered (controller.core.recovery).
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path

from controller.core.kept_machine import KeptMachine, kept_machine
from controller.core.kept_temper import KeptTemper
from controller.core.profile import Action, Choice, Phase, Profile, Then
from controller.core.recovery_rows import Cut
from controller.core.state import ENDED, EventName, Mode
from controller.errors import BainwardError
from controller.journal.reader import SUFFIX, find_unfinished, read_run
from controller.journal.records import CLOCK_READ, TEMPER_JUDGED, Identity, Note, Run, Sample

CHAIN_MAX = 10  # own engineering value: no batch is worth more than so many cuts
OVER = ENDED | {Mode.STOPPING, Mode.IDLE}  # nothing was under way: not begun, or ending in order


@dataclass(frozen=True, slots=True, kw_only=True)
class CutRun:
    """A run that broke off, oldest first with those that it went on with."""

    runs: tuple[Run, ...]

    @property
    def last(self) -> Run:
        """The run that was cut."""
        return self.runs[-1]

    @property
    def sample(self) -> Sample:
        """The last sample before the cut."""
        return self.last.samples[-1]


def find_cut(folder: Path, machine: str) -> CutRun | None:
    """The newest run of `machine` in `folder` if it broke off under way, else None.

    Raises:
        AccessError: its record can't be read.
    """
    run = find_unfinished(folder, machine)
    if run is None or not run.samples or (run.samples[-1].mode in OVER and not _cause(run)):
        return None
    return CutRun(runs=tuple(reversed([run, *_before(folder, run)])))


def cut_of(cut: CutRun, profile: Profile, identity: Identity) -> Cut:
    """What decides on the cut run, when `profile` is to be run as `identity`."""
    name = cut.sample.phase
    names = [phase.name for phase in profile.phases]
    is_same = _is_same(cut.last, identity) and name in names
    phase = profile.phases[names.index(name)] if is_same else None
    lately = _this_time(cut.runs, name)
    samples = [s for run in lately for s in run.samples if s.phase == name]
    answers = [note for run in lately for note in run.events if _is_answer(note)]
    return Cut(
        phase=names.index(name) if is_same else 0,
        bath_c=cut.sample.bath_c,
        bowl_c=cut.sample.bowl_c,
        hottest_c=max((s.bowl_c for s in samples if math.isfinite(s.bowl_c)), default=math.nan),
        is_seeded=any(
            note.facts.get("action") == Action.ADD_SEED
            for run in cut.runs
            for note in run.events
            if _is_answer(note)
        ),
        dwelled_s=_dwelled_s(lately, phase) if phase else 0.0,
        answered=_answered((n for n in answers if n.phase == name), phase)
        if phase
        else frozenset(),
        temper=last_temper(cut.last) if is_same else None,
        machine=last_machine(cut.runs) if is_same else None,
        tripped=_cause(cut.last),
        is_same=is_same,
    )


def _this_time(runs: Sequence[Run], phase: str) -> tuple[Run, ...]:
    """What the runs did since they came into the phase: one may have gone back to it.

    A run that begins in it has gone on with the one before.
    """
    found: list[Run] = []
    for run in reversed(runs):
        entries = [note for note in run.events if note.name == EventName.PHASE_ENTERED]
        here = [note for note in entries if note.facts.get("phase") == phase]
        since_s = here[-1].t_s if len(here) > 1 else -math.inf
        events = tuple(note for note in run.events if note.t_s >= since_s)
        samples = tuple(one for one in run.samples if one.t_s >= since_s)
        found.append(replace(run, events=events, samples=samples))
        if here and here[-1] is not entries[0]:
            break
    return tuple(reversed(found))


def wall_at_cut(run: Run) -> datetime | None:
    """Wall time of the last sample, if the clock was held to a time server then; else None."""
    note = _last_clock(run)
    if note is None or note.facts.get("synchronised") is not True:
        return None
    try:
        read = datetime.fromisoformat(str(note.facts.get("utc")))
    except ValueError:
        return None
    return read + timedelta(seconds=run.samples[-1].t_s - note.t_s) if read.tzinfo else None


def boot_s_at_cut(run: Run) -> float | None:
    """Seconds since that boot at the last sample, or None where the record does not tell."""
    note = _last_clock(run)
    read_s = note.facts.get("boot_s") if note else None
    if note is None or not isinstance(read_s, float):
        return None
    return read_s + run.samples[-1].t_s - note.t_s


def _before(folder: Path, run: Run) -> list[Run]:
    """The runs that `run` went on with, newest first."""
    found: list[Run] = []
    while run.header.continues and len(found) < CHAIN_MAX:
        try:
            run = read_run(folder / f"{Path(run.header.continues).name}{SUFFIX}")
        except BainwardError:
            break
        found.append(run)
    return found


def _last_clock(run: Run) -> Note | None:
    return next((note for note in reversed(run.events) if note.name == CLOCK_READ), None)


def _cause(run: Run) -> str:
    trips = (note for note in run.events if note.name == EventName.TRIP_LATCHED)
    return next((str(note.facts.get("cause", "unknown")) for note in trips), "")


def _last_judged(run: Run) -> Note | None:
    return next((one for one in reversed(run.events) if one.name == TEMPER_JUDGED), None)


def last_machine(runs: Sequence[Run]) -> KeptMachine | None:
    """The machine as it was last noted to have been learned; a run cut at once noted nothing."""
    for run in reversed(runs):
        note = _last_judged(run)
        kept = None if note is None else kept_machine(note.facts)
        if kept is not None:
            return kept
    return None


def last_temper(run: Run) -> KeptTemper | None:
    """What was last noted of temper, if nothing went unrecorded since."""
    note = _last_judged(run)
    if note is None:
        return None
    bowl_c = next((s.bowl_c for s in run.samples if s.t_s >= note.t_s), math.nan)
    return KeptTemper(facts=note.facts, bowl_c=bowl_c, age_s=run.samples[-1].t_s - note.t_s)


def _is_same(run: Run, identity: Identity) -> bool:
    """Whether the run was made of what is at hand now; without hashes nobody knows."""
    header = run.header
    ours = (identity.profile_made_of, identity.machine_made_of, identity.version)
    theirs = (header.profile_made_of, header.machine_made_of, header.version)
    return all(theirs) and theirs == ours


def _is_answer(note: Note) -> bool:
    return note.name == EventName.QUESTION_ANSWERED


def _answered(answers: Iterable[Note], phase: Phase) -> frozenset[str]:
    """Questions of the phase that need not be asked again: a set test must, after a gap."""
    questions = {question.id: question for question in phase.questions}
    done = set()
    for note in answers:
        question = questions.get(str(note.facts.get("id")))
        if question is None or question.action is Action.SET_TEST:
            continue
        choice = _choice(question.choices, str(note.facts.get("choice")))
        if choice is not None and choice.then is Then.CONTINUE:
            done.add(question.id)
    return frozenset(done)


def _choice(choices: Sequence[Choice], word: str) -> Choice | None:
    return next((choice for choice in choices if choice.word == word), None)


def _dwelled_s(runs: Iterable[Run], phase: Phase) -> float:
    """Dwell by the record: time between samples in tolerance once the target had been reached."""
    total_s = 0.0
    for run in runs:
        reached_s = next(
            (
                note.t_s
                for note in run.events
                if note.name == EventName.TARGET_REACHED and note.phase == phase.name
            ),
            math.inf,
        )
        samples = [s for s in run.samples if s.phase == phase.name and s.t_s >= reached_s]
        within = [abs(s.bowl_c - phase.bowl_target_c) <= phase.tolerance_k for s in samples]
        pairs = zip(samples, samples[1:], within, within[1:], strict=False)
        total_s += sum(b.t_s - a.t_s for a, b, was, still in pairs if was and still)
    return total_s
