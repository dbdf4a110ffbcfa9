"""What can be wrong with a calibration and with proofs that were kept.

Responsible for planting it and for the sentence of each; not for what it blocks (step_defects).
"""

from collections.abc import Callable
from datetime import timedelta

from msgspec.structs import replace as replaced

from controller.commissioning.proof_file import proofs_path
from controller.commissioning.proofs import OFFSET, Former, Proofs, Step
from controller.errors import Exit
from hardware.bench.faults import BenchFault
from tests.helpers.steps import BOILS_C, Defect, Point, Stage

PROBES, PROVE, BATH, BOWL, FIT, TRIAL = Step


# Thermometers at known temperatures


def held(*points: Point) -> Callable[[Stage], object]:
    """It is there at these points."""
    return lambda stage: setattr(stage, "points", list(points))


def beside(held_c: float, said_c: float) -> Point:
    """In one cup with another that shows this."""
    return Point(held_c, ("--beside", f"{said_c} C"))


def in_ice(fault: BenchFault) -> Callable[[Stage], object]:
    """In ice, and something is broken."""

    def plant(stage: Stage) -> None:
        stage.points = stage.points[:1]
        stage.bench.inject(fault)

    return plant


def drifting(stage: Stage) -> None:
    """It never comes to rest."""
    stage.points = [Point(5.0)]
    stage.meanwhile = lambda now_s: stage.bench.hold_probe("bath", 5.0 - 0.005 * now_s)


def odd_table(stage: Stage) -> None:
    """A machine file that is written so that it can't be changed by a program."""
    stage.build(("schema = 1\n", 'schema = 1\nprobes.bowl_offset = "0 K"\n'))


def taken_away(stage: Stage) -> None:
    """The machine file goes while the thermometer is watched."""
    stage.points = [beside(31.2, 31.2)]
    stage.meanwhile = lambda now_s: stage.path.unlink(missing_ok=True) if now_s > 60.0 else None


# What was shown before


def shown(change: Callable[[Proofs], Proofs]) -> Callable[[Stage], object]:
    """The step was shown, and this has been done to the file since."""

    def plant(stage: Stage) -> None:
        site = stage.site()
        site.done(stage.step, {OFFSET: "0.000 K"})
        site.keep(change)
        stage.clock.at_s += 60.0

    return plant


def copied(stage: Stage) -> None:
    """All of it was shown, on a machine that is built alike."""
    proven = {str(one): stage.site().shown(one, {OFFSET: "0.000 K"}) for one in Step}
    elsewhere = {word: replaced(done, on="elsewhere") for word, done in proven.items()}
    stage.site().keep(lambda old: replaced(old, steps=elsewhere))


def half_copied(stage: Stage) -> None:
    """Each cut but the last was shown there, and nobody here says that it may heat."""
    done = replaced(stage.site().shown(PROVE, {"by": "measured"}), on="elsewhere")
    words = ("off-is-dead", "second-opens", "first-opens", "on-is-live", "guard-bites")
    parts = {f"{PROVE}/{word}": done for word in (*words, "cut-out", "stop-button")}
    stage.site().keep(lambda old: replaced(old, parts=parts))
    stage.person.does("Water covers", lambda: "no")


def undated(old: Proofs) -> Proofs:
    """Somebody has written into the file when it was."""
    done = replaced(old.steps[PROVE], done_utc="last spring")
    return replaced(old, steps={**old.steps, str(PROVE): done})


def set_back(stage: Stage) -> None:
    """The step was shown, and then the clock is set back by days."""
    shown(lambda old: old)(stage)
    stage.clock.at_s -= timedelta(days=3).total_seconds()


def years_later(stage: Stage) -> None:
    """All of it was shown, and that is long ago."""
    for step in Step:
        stage.site().done(step, {OFFSET: "0.000 K"})
    stage.clock.at_s += timedelta(days=400).total_seconds()


def edited(old: str, new: str) -> Callable[[Stage], object]:
    """The file of proofs was."""

    def plant(stage: Stage) -> None:
        path = proofs_path(stage.path)
        text = path.read_text(encoding="utf-8")
        assert old in text
        path.write_text(text.replace(old, new), encoding="utf-8")

    return plant


def a_folder(stage: Stage) -> None:
    """Where the file of proofs should be."""
    proofs_path(stage.path).unlink()
    proofs_path(stage.path).mkdir()


def forgotten(step: Step) -> Callable[[Stage], object]:
    """A step before it was never taken."""
    return lambda stage: stage.site().keep(
        lambda old: replaced(old, steps={k: v for k, v in old.steps.items() if k != step})
    )


def rewritten(old: str, new: str) -> Callable[[Stage], object]:
    """The step was shown, and then the machine file got another line."""

    def plant(stage: Stage) -> None:
        shown(lambda proofs: proofs)(stage)
        text = stage.path.read_text(encoding="utf-8")
        assert old in text
        stage.path.write_text(text.replace(old, new, 1), encoding="utf-8")

    return plant


def former(value_k: float) -> Callable[[Stage], object]:
    """What an undo would bring back."""

    def plant(stage: Stage) -> None:
        stage.points = [Point(None, ("--undo",))]
        one = Former(key="bath_offset", value_k=value_k, step=None)
        stage.site().keep(lambda old: replaced(old, former=(one,)))

    return plant


KEPT = {
    # bainward calibrate
    "boiling water without its pressure": Defect(
        BATH, held(Point(0.0), Point(BOILS_C)), "add --pressure, as a barometer shows", Exit.USAGE
    ),
    "beside another, far from where it counts": Defect(
        BOWL, held(beside(60.0, 60.0)), "60 °C is too far from the 31 °C at which", Exit.USAGE
    ),
    "it isn't in the ice": Defect(
        BATH, held(Point(None)), "it isn't there, or it is broken; see to it and try again"
    ),
    "it doesn't rest": Defect(BATH, drifting, "it still drifts by -0.31 K/min after 15 minutes"),
    "its readings jump": Defect(
        BATH, in_ice(BenchFault.BATH_PROBE_JUMPING), "its readings still spread over"
    ),
    "it gives no values": Defect(
        BATH, in_ice(BenchFault.BATH_PROBE_OPEN), "it gave too few values in 15 minutes; see to its"
    ),
    "it is too far off": Defect(
        BATH,
        held(Point(4.0), Point(BOILS_C + 3.0, ("--pressure", "912 hPa"))),
        "more than the 2 K that may be corrected; replace it",
    ),
    "its points contradict each other": Defect(
        BATH,
        held(Point(4.0), Point(BOILS_C + 3.0, ("--pressure", "912 hPa")), beside(31.2, 31.2)),
        "the points contradict each other: ",
    ),
    "the machine file is written otherwise": Defect(
        BOWL,
        odd_table,
        "is written so that only you can change it: write bowl_offset =",
        Exit.BAD_FILE,
    ),
    "the machine file goes": Defect(BATH, taken_away, "can't be read (No such", Exit.NO_PERMISSION),
    "nothing is there to take back": Defect(
        BATH, held(Point(None, ("--undo",))), "is there to take back", Exit.USAGE
    ),
    "what is there to take back can't be": Defect(
        BATH,
        former(99.0),
        "was corrected by 99 K before, which no machine file may say",
        Exit.USAGE,
    ),
    "there is no such thermometer": Defect(
        BOWL,
        lambda stage: stage.build(
            ("load_signal = false", "load_signal = false\nbowl_probe = false"),
            ('[attach.bowl]\nkind = "1-wire"\nid = "28-0000000000b2"\n', ""),
        ),
        "has nothing to calibrate-bowl: it does without what that is of",
        Exit.USAGE,
    ),
    "another correction is in the machine file": Defect(
        BATH,
        rewritten("[fitted]", '[probes]\nbath_offset = "0.3 K"\n\n[fitted]'),
        "found to want a correction of 0.000 K, and the machine file says 0.3 K",
        shown=True,
    ),
    # What was shown before
    "all of it is long ago": Defect(
        PROBES, years_later, "which counts 365 days; do this next: `bainward probes", shown=True
    ),
    "another line switches the heater": Defect(
        PROVE,
        rewritten('path = "tree/lines/heater"', 'path = "tree/lines/other"'),
        "on other parts than kitchen's machine file names now; do this next: `bainward prove",
        shown=True,
    ),
    "it was shown at a time to come": Defect(
        PROVE,
        set_back,
        "which is still to come by this computer's clock: set the clock",
        shown=True,
    ),
    "a calibration without its correction": Defect(
        BATH,
        lambda stage: stage.site().done(BATH, {}),
        "The bath's thermometer was calibrated without a word of what it wants added; do this",
        shown=True,
    ),
    "it was shown on a day that is none": Defect(
        PROVE,
        shown(undated),
        'shown on machine kitchen at "last spring", which is no date, so that nobody knows',
        shown=True,
    ),
    "proofs that were copied from another computer": Defect(
        PROVE,
        copied,
        "with another computer than this, whose lines may lead to another machine than kitchen",
        shown=True,
    ),
    "parts of a step that were copied with them": Defect(PROVE, half_copied, "Nothing was proven"),
    "nobody named the thermometers": Defect(
        PROVE, forgotten(PROBES), "Which thermometer is which has not been shown on machine kitchen"
    ),
    "nothing that cuts heat was proven": Defect(
        BATH, forgotten(PROVE), "That switches, cut-out, stop button and guard cut the heat has not"
    ),
    "the bath's was not calibrated": Defect(
        FIT, forgotten(BATH), "How true the bath's thermometer is has not been shown"
    ),
    "the bowl's was not calibrated": Defect(
        FIT, forgotten(BOWL), "How true the bowl's thermometer is has not been shown"
    ),
    "the machine was not fitted": Defect(
        TRIAL, forgotten(FIT), "What heats and what cools the bath has not been shown on machine"
    ),
    "a folder where the proofs should be": Defect(
        PROVE, a_folder, "can't be read (Is a directory); make it readable", Exit.NO_PERMISSION
    ),
    "a damaged file of proofs": Defect(
        PROVE, edited('"steps"', '"stepps"'), "can't be understood (", Exit.BAD_FILE
    ),
    "proofs of a version to come": Defect(
        PROVE,
        edited('"schema": 1', '"schema": 2'),
        "has schema 2, and this bainward",
        Exit.BAD_FILE,
    ),
    "another machine's proofs": Defect(
        PROVE, edited('"kitchen"', '"pantry"'), "proven of machine pantry, not of", Exit.BAD_FILE
    ),
}
