"""The command `calibrate`.

Responsible for opening the thermometer and for the order of what is said; not for the step itself
(commissioning/calibrating).
"""

import argparse

from controller.book.pen import refuse_unwritable
from controller.commands.sites import opened_site
from controller.commissioning import calibrating as steps
from controller.commissioning.site import Site
from controller.errors import Exit
from controller.wiring import thermometers_of


def calibrate(options: argparse.Namespace) -> Exit:
    """Take one point of a thermometer's calibration, and finish it when they are enough.

    Raises:
        BainwardError: it can't be done; the sentence says why, and what to do.
    """
    site, which = opened_site(options.machine), str(options.which)
    if options.undo:
        value_k = steps.undo(site, which)
        site.person.say(f"Taken back: the {which}'s thermometer is corrected by {value_k:g} K.")
        return Exit.DONE
    site.begin(steps.STEPS[which])
    refuse_unwritable(site.path.resolve())  # which is corrected
    if (said := steps.complete(site, which)) is not None:
        site.person.say(f"Written into the machine file now, as found before: {said}.")
        return Exit.DONE
    place = _place(options, site)
    steps.check_place(place, which)
    site.person.say(steps.HOW[place.name].format(which=which))
    with thermometers_of(site.machine_file) as sensors:
        point = steps.take_point(site, which, place, sensors[which])
    site.person.say(
        f"It rests at {point.read_c:.3f} °C where it is {point.true_c:.3f} °C ({point.name})."
    )
    _finish(site, which)
    return Exit.DONE


def _place(options: argparse.Namespace, site: Site) -> steps.Place:
    if options.beside is not None:
        return steps.Place(name=steps.BESIDE, true_c=options.beside, sure_k=options.sure)
    return steps.Place(
        name=options.at or steps.next_place(site, options.which),
        pressure_hpa=options.pressure,
        altitude_m=options.altitude,
    )


def _finish(site: Site, which: str) -> None:
    before_k = steps.offset_k(site, which)
    found = steps.finish(site, which)
    if found is None:
        missing = steps.next_place(site, which)
        site.person.say(
            f"Kept. Next: `bainward calibrate {which} --machine {site.path} --at {missing}`"
            + (" with --pressure or --altitude." if missing == steps.BOILING else ".")
        )
        return
    site.person.say(steps.sheet(which, found, before_k))
