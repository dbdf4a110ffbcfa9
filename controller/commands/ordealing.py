"""The command `bainward ordeal`: faults in all phases on drawn machines, judged by the plant.

Responsible for what it prints and for how it ends; not for trying faults (controller.trials).
"""

import argparse
import sys
from collections.abc import Sequence
from functools import partial
from pathlib import Path

from controller.commands.sweeping import numbers_meant, swept, usual_table
from controller.core.profile import Profile
from controller.errors import Exit, UsageError
from controller.files.complaints import nearest
from controller.files.profile_file import load_profile, shipped_profiles
from controller.files.temperatures import quoted
from controller.report.table import OUTCOME, Row
from controller.trials.ordeal import WHOLE, try_machine
from controller.trials.ordeal_draws import paired_faults, tried_faults
from controller.trials.ordeal_rough import handle_roughly
from controller.trials.ordeal_summary import (
    Tried,
    drawn_of,
    faults_text,
    lost_text,
    rough_text,
    tried_of,
)
from controller.trials.ordeal_targets import targets_text
from controller.trials.ordeal_welded import welded_text
from controller.trials.sweep import Sweep
from controller.trials.sweep_work import FAILED, REFUSED, RunOne, Work, build_text
from controller.trials.sweep_workers import on_cores
from controller.wiring import BY_WORD, machine_meant

FOLDER = "ordeals"


def ordeal(options: argparse.Namespace) -> Exit:
    """Try it, or go on with it, and print what came of it.

    Raises:
        BainwardError: profile, faults or table can't be used, or workers were lost for good.
    """
    work = _work(options)
    plan = Sweep(
        work=work,
        numbers=numbers_meant(options),
        table=options.table or usual_table(work, FOLDER, _named(options)),
    )
    rows, _ = swept(plan, on_cores(options.processes))
    if rows is None:
        return Exit.STOPPED
    sys.stdout.write(lost_text(rows, work.profile))
    tried = [] if options.rough else tried_of(rows)
    sys.stdout.write("\n")
    sys.stdout.write(
        rough_text(rows, work.profile)
        if options.rough
        else faults_text(tried, work.profile, in_pairs=options.pairs, drawn=drawn_of(rows))
    )
    if not options.pairs:
        sys.stdout.write(welded_text(tried, _profile(options)))
        sys.stdout.write(targets_text([(one.found, one.fittings) for one in tried]))
    sys.stdout.write(f"Table: {plan.table}\n")
    return _exit_of(rows, tried)


def _exit_of(rows: Sequence[Row], tried: Sequence[Tried]) -> Exit:
    """How it ends: the worst of what came of it."""
    if any(row[OUTCOME] == FAILED for row in rows) or any(one.found.crash for one in tried):
        return Exit.CRASHED
    if all(row[OUTCOME] == REFUSED for row in rows):
        return Exit.BAD_FILE
    is_bad = any(one.is_due and one.is_missed for one in tried)
    is_false = any(row.get("trip") or row.get(WHOLE) for row in rows)
    return Exit.TRIPPED if is_bad or is_false else Exit.DONE


def _named(options: argparse.Namespace) -> str:
    """What its usual table is named besides: one of few faults is not to replace one of many."""
    kind, many = _kind(options), f"{options.machines}"
    if not options.rough:
        many += f"x{options.each}"
    first = "" if options.first == 1 else f"from-{options.first}"
    return "-".join(word for word in (kind, many, first) if word)


def _kind(options: argparse.Namespace) -> str:
    return "rough" if options.rough else "pairs" if options.pairs else ""


def _profile(options: argparse.Namespace) -> Profile:
    return load_profile(options.profile, machine_meant(None).machine)


def _work(options: argparse.Namespace) -> Work:
    profile = _profile(options)
    is_shipped = options.profile in shipped_profiles()
    phases = tuple(phase.name for phase in profile.phases)
    rough: RunOne = partial(handle_roughly, phases=phases)
    break_each: RunOne = partial(try_machine, count=options.each, in_pairs=options.pairs)
    faults = _known(options.fault)
    if options.rough and faults:
        raise UsageError("--rough breaks nothing, and --fault names what to break: give one.")
    _check_pairs(options, faults)
    return Work(
        profile=options.profile,
        profile_text=None if is_shipped else Path(options.profile).read_text(encoding="utf-8-sig"),
        seed=options.seed,
        faults=faults,
        build=build_text(),
        run_one=rough if options.rough else break_each,
        what="rough handling"
        if options.rough
        else f"{options.each} {_kind(options) or 'faults'} on each",
    )


def _check_pairs(options: argparse.Namespace, faults: tuple[str, ...]) -> None:
    """Complain of pairs that can't be drawn.

    Raises:
        UsageError: nothing is to be broken, or too few faults are given that can come in mid-run.
    """
    if not options.pairs:
        return
    if options.rough:
        raise UsageError("--rough breaks nothing, and --pairs breaks two at a time: give one.")
    if len(set(paired_faults([BY_WORD[word] for word in faults]))) < 2:  # noqa: PLR2004 - a pair
        raise UsageError(
            "--pairs needs two faults that can come in the middle of a run: name another with "
            "--fault, or none, to draw from the worst."
        )


def _known(words: list[str]) -> tuple[str, ...]:
    """The faults to draw from, each of which an ordeal can try.

    Raises:
        UsageError: one of them is none.
    """
    known = [str(fault) for fault in tried_faults()]
    for word in words:
        if word not in known:
            close = nearest(word, known)
            hint = f"did you mean {close}?" if close else f"there are {', '.join(known)}."
            raise UsageError(f"An ordeal can't try the fault {quoted(word)}; {hint}")
    return tuple(dict.fromkeys(words))
