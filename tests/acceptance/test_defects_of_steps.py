"""Each defect that a step of commissioning can find is planted, and blocks with its own sentence.

Responsible for what a defect blocks, and for no sentence being without one; not for the defects
themselves (tests/helpers/step_defects) or a sound machine's way (test_from_parts_to_trial).
"""

from collections.abc import Iterator
from functools import cache
from typing import NamedTuple

import pytest

from controller.commissioning.proof_file import refuse_unproven
from controller.commissioning.proofs import Step, needed_before
from controller.commissioning.site import Site
from controller.core.profile import Kind
from controller.errors import BainwardError, Exit
from controller.files.machine_file import load_machine_file
from tests.helpers.commissioned import COMPUTER
from tests.helpers.sentences import ROOT, Spot, fragments, passed, raises
from tests.helpers.step_defects import DEFECTS
from tests.helpers.steps import Refusal, Stage, folder_in_memory

STEPS = "controller/commissioning"
COMMANDS = "controller/commands"
# Arithmetic, the person, a word for the computer, and values that the command line refuses itself.
SILENT = {"__init__", "fitting", "least_squares", "person", "computer", "quantities"}
MODULES = (
    *(
        f"{STEPS}/{path.name}"
        for path in sorted((ROOT / STEPS).glob("*.py"))
        if path.stem not in SILENT
    ),
    *(f"{COMMANDS}/{name}.py" for name in ("showing", "calibrating", "fitting", "trusting")),
)


class Seen(NamedTuple):
    """What came of a defect."""

    refusal: Refusal
    heats_not: str  # what a run of chocolate says then


@cache
def seen(name: str) -> Seen:
    """Plant it, take its step, and try to go on."""
    defect = DEFECTS[name]
    with folder_in_memory() as folder:
        stage = Stage(folder, defect.step)
        defect.plant(stage)
        if stage.path.exists():
            stage.machine_file = load_machine_file(stage.path)
        refusal = None if defect.shown else stage.take()
        heats_not, came = no_chocolate(stage)
        for later in Step:
            if defect.step in needed_before(stage.machine_file, later):
                no_step(stage, later)
        if defect.shown:
            refusal = Refusal(heats_not, Exit.UNPROVEN, came)
    assert refusal is not None, "nothing was refused"
    return Seen(refusal, heats_not)


def no_chocolate(stage: Stage) -> tuple[str, frozenset[tuple[str, int]]]:
    """What a run with chocolate says instead of heating."""
    with pytest.raises(BainwardError) as refused:
        refuse_unproven(stage.machine_file, "dark", Kind.DARK, stage.clock.wall(), on=COMPUTER)
    return str(refused.value), frozenset(passed(refused.value))


def no_step(stage: Stage, later: Step) -> None:
    """A step that comes later waits."""
    site = Site(
        machine_file=stage.machine_file,
        path=stage.path,
        clock=stage.clock,
        now=stage.clock.wall,
        person=stage.person,
        computer=COMPUTER,
    )
    with pytest.raises(BainwardError):
        site.begin(later)


@pytest.mark.parametrize("name", DEFECTS)
def test_a_defect_blocks_its_step_and_all_that_comes_after_with_its_sentence(name: str) -> None:
    defect, found = DEFECTS[name], seen(name)
    refusal = found.refusal
    assert defect.says in refusal.said, refusal.said
    assert refusal.code is defect.code
    if defect.step is not Step.TRIAL:  # whose sheet has a line for each
        assert "\n" not in refusal.said
        assert refusal.said.endswith((".", "?", "`"))
    assert "bainward " in found.heats_not or refusal.said == found.heats_not


# Prose of the steps' modules that refuses nothing: places, prompts, what a sound step says, and
# what only a caller's mistake meets.
REFUSES_NOTHING = {
    *("naming.WHERE", "naming._table"),
    *("proving.(SEEN, LOOKED, TOLD)", "proving.LIVE", "proving.READY", "proving.STOP_PRESS"),
    *("proving.STOP_RELEASE", "proving.CUT_OUT_TRIP", "proving.CUT_OUT_RESET"),
    *("calibrating.HOW", "calibrating.sheet", "calibrating._glance_text"),
    *("calibrating._LOOSE", "calibrating._LOOSE_BESIDE"),
    *("calibration.boiling_point", "correction.corrected_text", "correction._be_sure"),
    *("step_test.sheet", "step_test.advice", "trusting._proves_nothing"),
}
WELL = {
    *(" is to be shown again within ", "not counted: a person looked", "Water trial:"),
    "All of it passes: the machine may heat chocolate.",
}


def test_no_sentence_of_a_step_is_without_a_defect() -> None:
    said = [text for name in DEFECTS for text in (seen(name).refusal.said, seen(name).heats_not)]
    unsaid = {
        one
        for module in MODULES
        for one in fragments(module)
        if not any(one.text in text for text in said)
    }
    left = {one for one in unsaid if one.at not in REFUSES_NOTHING and one.text not in WELL}
    assert not left, "no defect makes it say so"
    assert {one.at for one in unsaid} >= REFUSES_NOTHING
    assert {one.text for one in unsaid} >= WELL


def test_no_refusal_of_a_step_is_without_a_defect() -> None:
    came = {at for name in DEFECTS for at in seen(name).refusal.came}
    unmet = [one for one in all_raises() if not any(one.holds(at) for at in came)]
    assert not unmet, "no defect leads there"


def all_raises() -> Iterator[Spot]:
    """Of all modules of the steps."""
    for module in MODULES:
        yield from raises(module)
