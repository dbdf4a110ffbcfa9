"""A maker's whole way, from the first page of advice to a machine that may heat chocolate.

Responsible for the order: each step waits for those before it, a defect blocks it with a sentence,
and health tells what is still lacking; not for every defect of a step (test_defects_of_steps).
"""

from collections.abc import Callable, Iterator
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
from controller.commissioning.fitting import Known
from controller.commissioning.naming import name_probes
from controller.commissioning.proof_file import refuse_unproven
from controller.commissioning.proofs import Step, steps_of
from controller.commissioning.proving import Prover
from controller.commissioning.step_test import PROFILE, facts_of, judged, why_not
from controller.commissioning.trial_sheet import passes, sheet_of, sheet_text
from controller.core.profile import Kind, Profile
from controller.errors import BainwardError
from controller.files.machine_file import load_machine_file
from controller.files.profile_file import load_profile
from hardware.bench.faults import BenchFault
from tests.helpers.commissioned import COMPUTER
from tests.helpers.records import replace
from tests.helpers.steps import folder_in_memory
from tests.helpers.workshop import Workshop

# What the bench's machine is: 3 kg of water, and an element of 500 W that its maker had already.
ADVICE = ("--batch", "1 kg", "--water", "3 kg", "--heater", "500 W", "--mains", "120 V")
BOILS_C = 97.051  # at 912 hPa: IAPWS-IF97, region 4
AT_BOILING = Place(name=BOILING, pressure_hpa=912.0)


def lacks(workshop: Workshop) -> list[Step]:
    """What is still to be shown."""
    site = workshop.site()
    return [one.step for one in site.lacks(steps_of(site.machine_file))]


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
    blocked(
        lambda: refuse_unproven(machine_file, "dark", Kind.DARK, now, on=COMPUTER),
        f"`bainward {command}",
    )
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
    clock = workshop.kitchen.clock
    for _ in range(60):  # back in their places, they come to rest in ten minutes
        clock.wait_until(clock.now_s() + 10.0)


def short(profile: Profile, *targets_c: float, dwell_s: float) -> Profile:
    """The same with lower temperatures and shorter dwells, to be over sooner."""
    phases = tuple(
        replace(phase, bowl_target_c=target_c, dwell_s=dwell_s, settle_s=30.0)
        for phase, target_c in zip(profile.phases, targets_c, strict=True)
    )
    return replace(profile, phases=phases)


def fitted(workshop: Workshop) -> None:
    """`bainward fit`: first with an element of another power than the machine file says."""
    machine = load_machine_file(workshop.path).machine
    profile = load_profile(str(PROFILE), machine)
    run = workshop.run(short(profile, 29.0, dwell_s=1300.0))
    assert why_not(run) is None
    known = Known(power_w=500.0, power_sd=0.05, room_c=machine.room_c, room_sd_k=0.5)
    blocked(
        lambda: judged(run, known._replace(power_w=300.0), machine),
        "measure the element's power, and write what they are",
    )
    site = workshop.site()
    site.done(Step.FIT, facts_of(judged(run, known, machine)))


def tried(workshop: Workshop) -> None:
    """`bainward run water-trial`: first with a bath that somebody has filled with hot water."""
    machine = load_machine_file(workshop.path).machine
    profile = short(load_profile("water-trial", machine), 23.0, 25.0, dwell_s=60.0)
    workshop.kitchen.bench.swap_water(share=1.0, water_c=60.0)
    rows = sheet_of(workshop.run(profile))
    assert not passes(rows)
    assert "FAIL  the run ended by itself" in sheet_text(rows)
    workshop.a_day_later()
    rows = sheet_of(workshop.run(profile))
    assert passes(rows), sheet_text(rows)
    workshop.site().done(Step.TRIAL, {row.what: row.found for row in rows})


def counts_no_more(workshop: Workshop) -> None:
    """What was shown of other parts, or too long ago, is to be shown again."""
    workshop.rewrite('path = "tree/lines/heater"', 'path = "tree/lines/other"')
    assert lacks(workshop) == [Step.PROVE, Step.FIT, Step.TRIAL]
    told = workshop.health()["proofs of commissioning"][0].says
    assert "on other parts than kitchen's machine file names now" in told
    workshop.rewrite('path = "tree/lines/other"', 'path = "tree/lines/heater"')
    assert lacks(workshop) == []
    workshop.kitchen.clock.at_s += timedelta(days=190).total_seconds()
    may_not_heat(workshop, "prove")
    told = workshop.health()["proofs of commissioning"][0].says
    assert "which counts 183 days: do it with `bainward prove" in told
    blocked(lambda: workshop.site().begin(Step.BATH), "do this first: `bainward prove")


@pytest.fixture
def folder() -> Iterator[Path]:
    """Where files cost no disk."""
    with folder_in_memory() as path:
        yield path


def test_a_maker_goes_from_the_first_page_to_a_machine_that_may_heat_chocolate(
    folder: Path,
) -> None:
    workshop = Workshop(folder, *ADVICE)
    assert "DANGER: mains beside hot water." in workshop.page
    machine = load_machine_file(workshop.path).machine
    assert (machine.heater_w, machine.mains_v, machine.batch_kg) == (500.0, 120.0, 1.0)
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
    may_not_heat(workshop, "fit")
    blocked(lambda: workshop.site().begin(Step.TRIAL), "do this first: `bainward fit")
    fitted(workshop)
    may_not_heat(workshop, "run water-trial")
    tried(workshop)
    assert lacks(workshop) == []
    machine_file = load_machine_file(workshop.path)
    refuse_unproven(machine_file, "dark", Kind.DARK, workshop.kitchen.clock.wall(), on=COMPUTER)
    # A bench has no systemd, and its files bear the real date.
    assert set(workshop.health()) == {"units and guard's service", "time of day"}
    counts_no_more(workshop)
