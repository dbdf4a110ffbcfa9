"""A maker's whole way, from the first page of advice to a machine that may heat chocolate.

Responsible for the order: each step waits for those before it, a defect blocks it with a sentence,
and health tells what is still lacking; not for every defect of a step (its own unit tests).
"""

import re
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest

from controller.commissioning.calibrating import (
    BESIDE,
    BOILING,
    ICE,
    Place,
    check_place,
    finish,
    take_point,
)
from controller.commissioning.naming import name_probes
from controller.commissioning.proof_file import refuse_unproven
from controller.commissioning.proofs import Step, lacking, steps_of
from controller.commissioning.proving import Prover
from controller.core.profile import Kind
from controller.errors import BainwardError, UnprovenError
from controller.files.machine_file import load_machine_file
from hardware.bench.faults import BenchFault
from tests.helpers.workshop import Workshop

ADVICE = ("--batch", "1.2 kg", "--probe", "1-wire", "--mains", "120 V")
BOILS_C = 97.051  # at 912 hPa: IAPWS-IF97, region 4
AT_BOILING = Place(name=BOILING, pressure_hpa=912.0)


def lacks(workshop: Workshop) -> list[Step]:
    """What is still to be shown."""
    site = workshop.site()
    steps = steps_of(site.machine_file)
    return [one.step for one in lacking(site.read(), site.machine_file, site.now(), steps)]


def blocked(deed: Callable[[], object], said: str) -> None:
    """It is refused in one sentence that says this."""
    with pytest.raises(BainwardError, match=said) as refused:
        deed()
    text = str(refused.value)
    assert "\n" not in text
    assert text.endswith((".", "?"))


def may_not_heat(workshop: Workshop, command: str) -> None:
    """Neither chocolate nor health passes; both say what to do next."""
    machine_file = load_machine_file(workshop.path)
    now = workshop.kitchen.clock.wall()
    blocked(lambda: refuse_unproven(machine_file, "dark", Kind.DARK, now), f"`bainward {command}")
    told = workshop.health()["proofs of commissioning"]
    assert f"`bainward {command}" in told[0].says


def named(workshop: Workshop) -> None:
    """`bainward probes`: first with two thermometers that the machine file takes for each other."""
    workshop.maker.warms["bath"] = "bowl"  # what hangs in the bath is the one called bowl
    with workshop.thermometers() as seen:
        blocked(lambda: name_probes(workshop.site(), seen), "which is bowl's by the machine file")
    workshop.maker.warms["bath"] = "bath"
    with workshop.thermometers() as seen:
        name_probes(workshop.site(), seen)


def proven(workshop: Workshop) -> None:
    """`bainward prove`: first with a second switch that is stuck closed."""
    kitchen = workshop.kitchen
    kitchen.fault(BenchFault.SECOND_SWITCH_WELDED)
    blocked(Prover(workshop.site(), kitchen.opened).run, "so the second is stuck")
    kitchen.bench.clear(BenchFault.SECOND_SWITCH_WELDED)
    Prover(workshop.site(), kitchen.opened).run()


def point(workshop: Workshop, which: str, place: Place, held_c: float | None = None) -> object:
    """One point of a calibration, read by the real driver of a thermometer that a hand holds."""
    workshop.kitchen.hand(which, "" if held_c is None else f"{held_c}\n")
    with workshop.thermometers() as seen:
        sensor = next(one.sensor for one in seen if which in one.roles)
        take_point(workshop.site(), which, place, sensor)
    return finish(workshop.site(), which)


def calibrated(workshop: Workshop) -> None:
    """`bainward calibrate` of both, the bath's through ice and boiling water."""
    blocked(lambda: check_place(Place(name=BOILING), "bath"), "add --pressure")
    ice = Place(name=ICE)
    blocked(lambda: point(workshop, "bath", ice), "it isn't there, or it is broken")
    assert point(workshop, "bath", ice, held_c=0.0) is None  # one point is none
    assert point(workshop, "bath", AT_BOILING, held_c=BOILS_C) is not None
    assert point(workshop, "bowl", Place(name=BESIDE, true_c=31.2), held_c=31.2) is not None
    for which in ("bath", "bowl"):
        workshop.kitchen.hand(which, "")


def test_a_maker_goes_from_the_first_page_to_a_machine_that_is_known(tmp_path: Path) -> None:
    workshop = Workshop(tmp_path, *ADVICE)
    assert "DANGER: mains beside hot water." in workshop.page
    chosen = re.search(r'heater = "(\d+) W"', workshop.page)
    assert chosen is not None
    machine = load_machine_file(workshop.path).machine
    assert machine.heater_w == float(chosen[1])
    assert lacks(workshop) == list(Step)
    may_not_heat(workshop, "probes")
    blocked(lambda: workshop.site().begin(Step.PROVE), "do this first: `bainward probes")
    named(workshop)
    may_not_heat(workshop, "prove")
    blocked(lambda: workshop.site().begin(Step.BATH), "do this first: `bainward prove")
    proven(workshop)
    may_not_heat(workshop, "calibrate bath")
    blocked(lambda: workshop.site().begin(Step.FIT), "do this first: `bainward calibrate bath")
    calibrated(workshop)
    assert lacks(workshop) == [Step.FIT, Step.TRIAL]
    may_not_heat(workshop, "fit")


def test_what_was_shown_of_other_parts_or_too_long_ago_is_to_be_shown_again(
    tmp_path: Path,
) -> None:
    workshop = Workshop(tmp_path, *ADVICE)
    named(workshop)
    proven(workshop)
    workshop.rewrite('path = "tree/lines/heater"', 'path = "tree/lines/other"')
    assert lacks(workshop)[0] is Step.PROVE
    told = workshop.health()["proofs of commissioning"][0].says
    assert "on other parts than kitchen's machine file names now" in told
    workshop.rewrite('path = "tree/lines/other"', 'path = "tree/lines/heater"')
    assert lacks(workshop)[0] is Step.BATH
    workshop.kitchen.clock.at_s += timedelta(days=190).total_seconds()
    told = workshop.health()["proofs of commissioning"][0].says
    assert "which counts 183 days: do it with `bainward prove" in told
    with pytest.raises(UnprovenError, match="do this first: `bainward prove"):
        workshop.site().begin(Step.BATH)
