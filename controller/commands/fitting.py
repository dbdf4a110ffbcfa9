"""The command `fit`: a step of heat with water, and what it says of the machine.

Responsible for running the test where none is there, and for what is printed; not for the fit
(commissioning).
"""

import argparse
from pathlib import Path

from controller.commands.places import runs_folder
from controller.commands.sites import opened_site
from controller.commissioning.fitting import METER_SD, NAMEPLATE_SD, ROOM_SD_K, Known
from controller.commissioning.proofs import Step
from controller.commissioning.site import Site
from controller.commissioning.step_test import (
    PROFILE,
    facts_of,
    judged,
    newest_test,
    sheet,
    why_not,
)
from controller.core.machine import Machine
from controller.errors import Exit, UsageError
from controller.journal.reader import read_run
from controller.journal.records import Run

UNSEEN_ROOM = 4.0  # so much less sure is a room that nobody measured: own engineering value


def fit(options: argparse.Namespace) -> Exit:
    """Find heat capacity, losses and delays, and date it.

    Raises:
        BainwardError: it can't be done, or the machine is another than its file says.
    """
    site = opened_site(options.machine)
    site.begin(Step.FIT)
    run = _recorded(options, site)
    if run is None:
        site.person.say(
            "The step test runs now, for an hour or so: water in the bowl as much as the batch "
            "would weigh, lid on, and then leave it alone but stay beside it."
        )
        ended = _run_test(options.machine)
        run = newest_test(runs_folder(site.machine_file.journal_dir), site.name, site.now())
        if ended is not Exit.DONE or run is None:
            site.person.say("The step test did not end by itself, so nothing is fitted.")
            return Exit.UNPROVEN if ended is Exit.DONE else ended
    machine = site.machine_file.machine
    known = known_of(options, machine)
    found = judged(run, known, machine)
    site.person.say(sheet(found, known, machine))
    site.done(Step.FIT, facts_of(found))
    site.person.say(
        "Next, with cold water in bath and bowl again, since this is too warm to begin with: "
        f"`bainward run water-trial --machine {site.path}`."
    )
    return Exit.DONE


def known_of(options: argparse.Namespace, machine: Machine) -> Known:
    """Power and room, and how sure they are."""
    is_measured = options.power is not None
    return Known(
        power_w=options.power if is_measured else machine.heater_w,
        power_sd=METER_SD if is_measured else NAMEPLATE_SD,
        room_c=machine.room_c if options.room is None else options.room,
        room_sd_k=ROOM_SD_K if options.room is not None else UNSEEN_ROOM * ROOM_SD_K,
    )


def _recorded(options: argparse.Namespace, site: Site) -> Run | None:
    """The record that is meant, or the newest that may be fitted.

    Raises:
        UsageError: the one that is meant can't be.
    """
    if options.record is None:
        if options.again:
            return None
        return newest_test(runs_folder(site.machine_file.journal_dir), site.name, site.now())
    run = read_run(options.record)
    wrong = why_not(run)
    if wrong is None and run.header.machine_name != site.name:
        wrong = f"is of machine {run.header.machine_name}"
    if wrong is not None:
        raise UsageError(
            f"{options.record} {wrong}: name a record of the step test of {site.name}."
        )
    return run


def _run_test(machine: Path) -> Exit:
    """The step test, as `bainward run` runs any profile."""
    from controller.commands.options import parser  # noqa: PLC0415 - it imports our own words
    from controller.commands.running import run_profile  # noqa: PLC0415 - start-up time

    words = ["run", str(PROFILE), "--machine", str(machine)]
    return run_profile(parser().parse_args(words))
