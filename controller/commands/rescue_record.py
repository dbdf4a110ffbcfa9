"""What a run's record says of its batch, for a rescue: the newest estimate of temper, made older.

Responsible for finding and reading it; not for what follows (rescuing).
"""

import argparse
import math
from datetime import datetime, timedelta
from pathlib import Path

from controller.book.shelf import find
from controller.clock import wall_time
from controller.commands.places import state_folder
from controller.commands.rescue_case import Case, case_of
from controller.core.ahead import Batch
from controller.core.kept_temper import restored
from controller.core.machine import Machine
from controller.core.mishaps import SET_C, moved
from controller.core.profile import CHOCOLATES, Kind
from controller.core.records import replace
from controller.errors import UsageError
from controller.journal.cut import last_temper
from controller.journal.reader import read_run
from controller.journal.records import Run
from controller.wiring import machine_meant

# Own engineering values, not published.
FRESH_S = 600.0  # a bowl's last temperature is believed for so long
LONGEST_S = 12 * 3600.0  # older, and it is another day's batch
_S_PER_MIN = 60.0


def recorded(options: argparse.Namespace, bowl_c: float) -> Case:
    """The batch of a run, as its record has it; `bowl_c` is the bowl now, NaN if nobody says.

    Raises:
        BainwardError: there is no record, or it says nothing of temper.
    """
    run = read_run(_path(options))
    kind = next((one for one in CHOCOLATES if one == run.header.profile_kind), None)
    name = run.header.run_id
    if kind in {None, Kind.COMPOUND} or kind is None:
        raise UsageError(f"Run {name} tempers nothing; name another with --run, or say a mishap.")
    kept = last_temper(run)
    case = case_of(kind, _machine(options, run))
    temper = None if kept is None else restored(kept, case.window.softer_k)
    if kept is None or temper is None:
        raise UsageError(
            f"The record of {name} does not say what its crystals were like; say what happened, "
            "like bainward rescue too-warm --at '36 C' --for '10 min'."
        )
    gap_s = _gap_s(run)
    last_c, then_s = run.samples[-1].bowl_c, kept.age_s
    if gap_s > LONGEST_S:
        raise UsageError(
            f"The record of {name} ends {gap_s / 3600.0:.0f} h ago; say what happened and how warm "
            "the bowl is now, like bainward rescue set-in-bowl --bowl '21 C'."
        )
    if math.isnan(bowl_c) and gap_s > FRESH_S:
        raise UsageError(
            f"The record of {name} ends {gap_s / _S_PER_MIN:.0f} min ago; measure the bowl and say "
            "how warm it is, like --bowl '30 C'."
        )
    bowl_c = last_c if math.isnan(bowl_c) else bowl_c
    window, is_stirred = case.window, run.samples[-1].stirrer_rpm > 0.0
    bank = moved(temper.bank, (kept.bowl_c, last_c), then_s, window, is_stirred=is_stirred)
    bank = moved(bank, (last_c, bowl_c), gap_s, window, is_stirred=False)
    why = str(kept.facts.get("why", "")).partition(":")[0]
    head = f"Run {name}, {run.samples[-1].phase}: {why[:1].lower()}{why[1:]}."
    is_set = gap_s > FRESH_S and bowl_c < SET_C - window.softer_k
    return case._replace(batch=Batch(bowl_c, bowl_c, bank, is_set=is_set), head=head)


def _path(options: argparse.Namespace) -> Path:
    folder = options.folder
    if folder is None and options.machine is not None:
        folder = machine_meant(options.machine).journal_dir
    try:
        return find(folder or state_folder() / ("tries" if options.tries else "runs"), options.run)
    except UsageError as error:
        raise UsageError(
            f"{error} Or say what happened: bainward rescue --help lists it."
        ) from None


def _machine(options: argparse.Namespace, run: Run) -> Machine:
    """The one named; else one with the sizes that the record has."""
    machine, header = machine_meant(options.machine).machine, run.header
    if options.machine is not None:
        return machine
    return replace(
        machine, batch_kg=header.batch_kg, water_kg=header.water_kg, heater_w=header.heater_w
    )


def _gap_s(run: Run) -> float:
    """How long ago the record ends, by the wall clock, s."""
    try:
        began = datetime.fromisoformat(run.header.began_utc)
    except ValueError:
        return 0.0
    ended = began + timedelta(seconds=run.samples[-1].t_s)
    return max(0.0, (wall_time() - ended).total_seconds())
