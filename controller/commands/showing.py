"""The commands `probes` and `prove`: which thermometer is which, and what cuts the heat.

Responsible for opening what they need; not for the steps themselves (commissioning).
"""

import argparse
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial

from controller.clock import Clock
from controller.commands.sites import opened_site
from controller.commissioning.naming import name_probes
from controller.commissioning.proofs import Step
from controller.commissioning.proving import Guard, Prover
from controller.errors import Exit
from controller.guard.client import GuardedHeater
from controller.wiring.looking import seen_thermometers


def probes(options: argparse.Namespace) -> Exit:
    """Name each thermometer by the warmth of a hand.

    Raises:
        BainwardError: one can't be named; the sentence says why, and what to write.
    """
    site = opened_site(options.machine)
    site.begin(Step.PROBES)
    with seen_thermometers(site.machine_file, site.clock) as seen:
        name_probes(site, seen)
    site.person.say(f"All are named. Next: `bainward prove --machine {site.path}`, cold.")
    return Exit.DONE


def prove(options: argparse.Namespace) -> Exit:
    """Prove each cut of the heat.

    Raises:
        BainwardError: something doesn't cut as it must, or nobody is there to look.
    """
    site = opened_site(options.machine)
    site.begin(Step.PROVE)
    guard = site.machine_file.guard
    sockets = () if guard is None else guard.sockets  # every real machine's file has it
    Prover(site, partial(met, sockets, site.clock)).run()
    site.person.say(f"All of it cuts. Next: `bainward calibrate bath --machine {site.path}`.")
    return Exit.DONE


@contextmanager
def met(places: tuple[str, ...], clock: Clock) -> Iterator[Guard]:
    """A running guard, met anew, and taken leave of at the end.

    Raises:
        HardwareError: none answers.
        BusyError: it serves a run.
    """
    heater = GuardedHeater(places)
    try:
        yield Guard(heater, heater)
    finally:
        heater.farewell(clock.now_s())
        heater.close()
