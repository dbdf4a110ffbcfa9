"""What can be wrong before anything is heated: thermometers, guard and what cuts the heat.

Responsible for planting it and for the sentence of each; not for what it blocks (step_defects).
"""

from collections.abc import Callable

from controller.commissioning.proofs import Step
from controller.errors import Exit
from controller.guard.decision import Cause, Limits
from hardware.bench.faults import BenchFault
from tests.helpers.steps import Defect, Stage, no_room

PROBES, PROVE, BATH, BOWL, FIT, TRIAL = Step
NO_MAINS = ('[guard.mains_live]\nkind = "file"\npath = "tree/lines/mains-live"\n', "")
GUARD_AT = "28-0000000000b3"


# Thermometers by a warm hand


def warms(turn: str, what: str) -> Callable[[Stage], object]:
    """Asked for one, somebody takes another into the hand; or none."""
    return lambda stage: stage.person.warms.update({turn: what})


def in_hand(name: str) -> Callable[[Stage], object]:
    """Somebody holds it from minutes before its turn on, whatever is said."""

    def plant(stage: Stage) -> None:
        before = stage.clock.due

        def due(now_s: float) -> None:
            (stage.folder / "tree/hands" / name).write_text("33\n", encoding="utf-8")
            before(now_s)

        stage.clock.due = due
        for _ in range(12):
            stage.clock.wait_until(stage.clock.now_s() + 10.0)

    return plant


def both_in_one_hand(stage: Stage) -> None:
    """The guard's thermometer lies beside the bath's once that is warmed."""
    stage.person.beside["bath"] = "guard"


def no_bus(stage: Stage) -> None:
    """The kernel has none of them."""
    stage.is_silent = True


def broken(fault: BenchFault) -> Callable[[Stage], object]:
    """Something of the bench is."""
    return lambda stage: stage.kitchen.fault(fault)


# What cuts the heat


def does(
    word: str, deed: Callable[[Stage], object], answer: str = "yes"
) -> Callable[[Stage], object]:
    """Asked for that, somebody does this instead."""

    def done(stage: Stage) -> str:
        deed(stage)
        return answer

    return lambda stage: stage.person.does(word, lambda: done(stage))


def nothing(_stage: Stage) -> None:
    """Said, and not so."""


def by_itself(stage: Stage) -> None:
    """A cut-out that closes again as it cools."""
    stage.kitchen.hand("cut-out", "1")
    stage.kitchen.hand("cut-out", "0")


def both_welded(stage: Stage) -> None:
    """Nothing is left to open."""
    stage.kitchen.fault(BenchFault.RELAY_WELDED)
    stage.kitchen.fault(BenchFault.SECOND_SWITCH_WELDED)


def hot(stage: Stage) -> None:
    """Somebody has filled hot water in."""
    stage.kitchen.bench.swap_water(share=0.9, water_c=70.0)


def latched(stage: Stage) -> None:
    """A trip that nobody has cleared."""
    stage.kitchen.guard = stage.kitchen.guard._replace(latched=Cause.LEASE_LAPSED)


def grudging(stage: Stage) -> None:
    """A guard whose own limit is lower than any bath."""
    stage.kitchen.limits = Limits(cap_mc=5_000, over_ms=60_000)


def looked(
    begins: str, answer: str, *, fitted: tuple[str, ...] = ("second-switch",)
) -> Callable[[Stage], object]:
    """Voltage that no input sees is looked at by a person, who sees this after those words."""

    def plant(stage: Stage) -> None:
        stage.build(NO_MAINS, fitted=fitted)
        stage.person.does("voltage", lambda: sees(stage))

    def sees(stage: Stage) -> str:
        last = next(said for said in reversed(stage.person.said) if "look at the element" in said)
        if last.startswith(begins):
            return answer
        return "yes" if last.startswith("The heater is on") else "no"

    return plant


def deaf(stage: Stage) -> None:
    """A guard that heats on without a word."""
    stage.kitchen.is_deaf = True


def deaf_unseen(stage: Stage) -> None:
    """The same where only its own word is there."""
    looked("-", "no")(stage)
    stage.kitchen.is_deaf = True


COLD = {
    # bainward probes
    "its proofs can't be kept": Defect(PROBES, no_room, "can't be written (", Exit.NO_PERMISSION),
    "bath and bowl are taken for each other": Defect(
        PROBES, warms("bath", "bowl"), "which is bowl's by the machine file, and not what"
    ),
    "the guard has the bath's": Defect(PROBES, warms("guard", "bath"), "under [guard.probe] kind"),
    "another id is in the machine file": Defect(
        PROBES,
        lambda stage: stage.build(("28-0000000000b1", "28-0000000000ff")),
        'for bath: write under [attach.bath] kind = "1-wire", id = "28-0000000000b1", and give the',
    ),
    "nobody warms one": Defect(PROBES, warms("bath", ""), "No thermometer rose by 2 K in 3 min"),
    "the bath's wire is off": Defect(
        PROBES, broken(BenchFault.BATH_PROBE_OPEN), "28-0000000000b1 gives no value: see that"
    ),
    "the bowl's wires touch": Defect(
        PROBES, broken(BenchFault.BOWL_PROBE_SHORT), "28-0000000000b2 gives no value: see that"
    ),
    "the guard's wire is off": Defect(
        PROBES, broken(BenchFault.GUARD_PROBE_OPEN), f"{GUARD_AT} gives no value: see that"
    ),
    "the bowl's is frozen": Defect(
        PROBES, broken(BenchFault.BOWL_PROBE_FROZEN), "No thermometer rose by 2 K in 3 minutes: see"
    ),
    "the bus is not there": Defect(PROBES, no_bus, "No thermometer gives a value: see to plugs"),
    "it is in the hand before its turn": Defect(
        PROBES,
        in_hand("bath"),
        "28-0000000000b1 was at 33 °C before, as in a hand: let go of it until it",
    ),
    "two in one hand": Defect(PROBES, both_in_one_hand, "Several of the machine's thermometers"),
    # bainward prove
    "nobody says that it may heat": Defect(
        PROVE, does("Water covers", nothing, "no"), "Nothing was proven: fill the bath with cold"
    ),
    "nobody does what is asked": Defect(
        PROVE, does("Let the cut-out trip", nothing, "no"), "That was not done, so it is not shown"
    ),
    "no guard runs": Defect(
        PROVE,
        lambda stage: setattr(stage, "is_met", False),
        "start it with `bainward guard --machine FILE` in another terminal",
        Exit.HARDWARE,
    ),
    "the guard has latched": Defect(
        PROVE,
        latched,
        "The guard has latched (lease-lapsed): the program that leads the run fell silent",
    ),
    "the bath is hot": Defect(PROVE, hot, "cuts are proven on a bath of at most 45 °C: see to it"),
    "the guard's thermometer is unplugged": Defect(
        PROVE, broken(BenchFault.GUARD_PROBE_OPEN), "The guard's own thermometer gives no value, so"
    ),
    "the guard gives no heat": Defect(PROVE, grudging, "The guard gave no heat, so that nothing"),
    "the first switch is welded": Defect(
        PROVE,
        broken(BenchFault.RELAY_WELDED),
        "second switch closed the heater is live, so the first",
    ),
    "the second switch is welded": Defect(
        PROVE, broken(BenchFault.SECOND_SWITCH_WELDED), "first switch closed the heater is live, so"
    ),
    "both are welded": Defect(
        PROVE, both_welded, "live though nothing asks for it: unplug the machine now; a switch is"
    ),
    "a switch stays open": Defect(
        PROVE, broken(BenchFault.RELAY_OPEN), "Told to be on, the heater stays dead: unplug, and"
    ),
    "the mains-live wire is off": Defect(
        PROVE, broken(BenchFault.MAINS_LIVE_DEAD), "stays dead: unplug, and check plug, fuse"
    ),
    "the mains-live wire is before the switches": Defect(
        PROVE, broken(BenchFault.MAINS_LIVE_STUCK), "or the mains-live wire is on the wrong side"
    ),
    "the cut-out had tripped before": Defect(
        PROVE, lambda stage: stage.kitchen.hand("cut-out", "1"), "check plug, fuse, cut-out, stop"
    ),
    "the stop button was pressed before": Defect(
        PROVE, lambda stage: stage.kitchen.hand("stop-button", "1"), "cut-out, stop button, both"
    ),
    "the guard hears nothing and heats on": Defect(
        PROVE, deaf, "keeps heat on though it has heard nothing for 4 s: unplug"
    ),
    "the same, and no input sees it": Defect(PROVE, deaf_unseen, "The guard keeps heat on though"),
    "the cut-out is not in series": Defect(
        PROVE,
        does("Let the cut-out trip", nothing),
        "has tripped, and the heater gets voltage: unplug",
    ),
    "the cut-out resets by itself": Defect(
        PROVE,
        does("Let the cut-out trip", by_itself),
        "or it resets by itself and must be one that only",
    ),
    "the cut-out stays tripped": Defect(
        PROVE, does("reset it by hand", nothing), "Told to be on, the heater stays dead"
    ),
    "the stop button cuts nothing": Defect(
        PROVE,
        does("Press the stop", nothing),
        "is pressed, and the heater gets voltage: unplug the",
    ),
    "the stop button stays pressed": Defect(
        PROVE, does("Release", nothing), "Told to be on, the heater stays dead"
    ),
    "somebody sees voltage that nobody asked for": Defect(
        PROVE, looked("Nothing", "yes"), "The heater is live though nothing asks for it: unplug"
    ),
    "somebody sees voltage through one switch": Defect(
        PROVE, looked("The first switch", "yes"), "so the second is stuck: unplug the machine and"
    ),
    "somebody sees no voltage": Defect(
        PROVE, looked("The heater is on", "no"), "Told to be on, the heater stays dead: unplug"
    ),
    "somebody sees voltage behind a cut-out that has tripped": Defect(
        PROVE, looked("Heat is asked", "yes"), "The cut-out has tripped, and the heater gets"
    ),
}
