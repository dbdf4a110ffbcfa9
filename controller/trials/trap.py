"""The trap of seeding on the bench: the same seed all at once, and with its last third held back.

Responsible for the two trials and for what is read off their records; not for words on a terminal
(commands/demoing). The two profiles stand in profiles/examples.
"""

from dataclasses import dataclass
from pathlib import Path

from controller.book.asked import Asked, questions
from controller.core.profile import Action
from controller.errors import AccessError
from controller.files.profile_file import load_profile
from controller.files.toml_file import package_folder
from controller.journal.reader import read_run
from controller.journal.records import Run
from controller.ports import Truth
from controller.trials.trial import Trial, run_trial
from controller.wiring import machine_meant

AT_ONCE, HELD_BACK = "seed-at-once", "seed-held-back"
LATER_S = 600.0  # own choice: by then nobody sees a piece any more


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """One portion of seed."""

    mass_kg: float
    bowl_c: float  # as it went in
    later_c: float  # and ten minutes later


@dataclass(frozen=True, slots=True, kw_only=True)
class Fate:
    """What became of a batch and its seed."""

    record: Path
    portions: tuple[Given, ...]
    set_test: str
    truth: Truth


def example(name: str) -> Path:
    """The file of a profile that is shipped as an example."""
    return package_folder("profiles") / "examples" / f"{name}.toml"


def seeded(
    name: str,
    record: Path,
    *,
    machine: str = "reference",
    law: str | None = None,
    began_utc: str | None = None,
) -> Fate:
    """Run that example to its end, by the bench's cook, and read its record.

    Raises:
        BainwardError: the record can't be written, or the program failed.
    """
    profile = load_profile(str(example(name)), machine_meant(machine).machine)
    trial = Trial(profile=profile, machine=machine, law=law)
    truth = run_trial(trial, journal=record, began_utc=began_utc).truth
    run = read_run(record)
    if run.closing is None:
        raise AccessError(
            f"The record {record} breaks off; free the disk, or name another folder with "
            "--journal-dir."
        )
    asked = questions(run)
    shares = {one.id: one.share or 0.0 for phase in profile.phases for one in phase.questions}
    tests = [str(one.choice) for one in asked if one.action == Action.SET_TEST]
    return Fate(
        record=record,
        portions=tuple(
            _given(one, run, shares[one.id]) for one in asked if one.action == Action.ADD_SEED
        ),
        set_test=tests[-1] if tests else "",
        truth=truth,
    )


def _given(asked: Asked, run: Run, share: float) -> Given:
    at_s = asked.at_s + (asked.took_s or 0.0)
    return Given(
        mass_kg=share * run.header.batch_kg,
        bowl_c=_bowl_c(run, at_s - 1.0),
        later_c=_bowl_c(run, at_s + LATER_S),
    )


def _bowl_c(run: Run, at_s: float) -> float:
    return min(run.samples, key=lambda sample: abs(sample.t_s - at_s)).bowl_c
