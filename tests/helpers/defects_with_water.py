"""What can be wrong with a step test and a water trial, or with the machine that they are of.

Responsible for planting it and for the sentence of each; not for what it blocks (step_defects).
"""

import math
from collections.abc import Callable
from dataclasses import replace

from controller.commissioning.proofs import Step
from controller.errors import Exit
from controller.journal.records import Run, Sample
from tests.helpers.steps import Defect, Stage, a_step_test, a_trial, no_room

PROBES, PROVE, BATH, BOWL, FIT, TRIAL = Step
LARGE = ('batch = "0.4 kg"', 'batch = "1.5 kg"')  # as in the record of a step test


# What a step test says


def left_by(
    change: Callable[[Run], Run], *changes: tuple[str, str], words: tuple[str, ...] = ()
) -> Callable[[Stage], object]:
    """A step test of 1.5 kg is there, with this in it."""

    def plant(stage: Stage) -> None:
        stage.build(LARGE, *changes)
        stage.left, stage.words = change(a_step_test()), words

    return plant


def recorded(change: Callable[[Run], Run]) -> Callable[[Stage], object]:
    """A record that is meant by name."""

    def plant(stage: Stage) -> None:
        stage.build(LARGE)
        stage.words = ("--record", "mine.jsonl")
        stage.records["mine.jsonl"] = change(a_step_test())

    return plant


def read(run: Run, change: Callable[[int, Sample], Sample]) -> Run:
    """The same with other readings."""
    return replace(run, samples=tuple(change(at, one) for at, one in enumerate(run.samples)))


def as_it_is(run: Run) -> Run:
    """A sound one."""
    return run


def stirred_up(run: Run) -> Run:
    """Somebody opens the lid and fills in water, again and again."""
    return read(
        run, lambda _, one: replace(one, bath_c=one.bath_c + (3.0 if one.t_s // 400 % 2 else 0.0))
    )


def late(run: Run) -> Run:
    """The bath's thermometer is wrapped up: it shows what was so two minutes ago."""
    return read(run, lambda at, one: replace(one, bath_c=run.samples[max(0, at - 30)].bath_c))


def apart(run: Run) -> Run:
    """The bowl hangs over the water: a bath of 3 kg warms alone, and the bowl hardly."""
    bath_c = bowl_c = run.samples[0].bath_c
    samples, before = [], run.samples[0]
    for one in run.samples:
        span_s = one.t_s - before.t_s
        across_w = 1.5 * (bath_c - bowl_c)
        bath_c += (
            one.heat_j - before.heat_j - span_s * (across_w + 3.0 * (bath_c - 20.0))
        ) / 12_900.0
        bowl_c += span_s * across_w / 2_000.0
        samples.append(replace(one, bath_c=bath_c, bowl_c=bowl_c))
        before = one
    return replace(run, samples=tuple(samples))


def apart_tested(stage: Stage) -> None:
    """The same of a small batch, as the machine file has it."""
    stage.left = apart(a_step_test())


def no_test(outcome: Exit) -> Callable[[Stage], object]:
    """It runs now, and ends so."""
    return lambda stage: setattr(stage, "test_ends", outcome)


# What a water trial shows


def ran(change: Callable[[Run], Run], outcome: Exit = Exit.DONE) -> Callable[[Stage], object]:
    """A trial with this in it."""

    def plant(stage: Stage) -> None:
        stage.run, stage.outcome = change(a_trial()), outcome

    return plant


def later(phase: str, change_one: Callable[[Sample], Sample]) -> Callable[[Run], Run]:
    """With other readings in the second half of a phase."""

    def change(run: Run) -> Run:
        mine = [at for at, one in enumerate(run.samples) if one.phase == phase]
        half = set(mine[len(mine) // 2 :])
        return read(run, lambda at, one: change_one(one) if at in half else one)

    return change


def without(name: str) -> Callable[[Run], Run]:
    """Without such events."""
    return lambda run: replace(run, events=tuple(one for one in run.events if one.name != name))


def answered_no(run: Run) -> Run:
    """The person who looked says no."""
    events = tuple(
        replace(one, facts={**one.facts, "choice": "no"})
        if one.name == "question_answered"
        else one
        for one in run.events
    )
    return replace(run, events=events)


WATER = {
    # bainward fit
    "the step test trips": Defect(
        FIT, no_test(Exit.TRIPPED), "did not end by itself, so nothing is fitted", Exit.TRIPPED
    ),
    "the step test leaves no record": Defect(FIT, no_test(Exit.DONE), "so nothing is fitted"),
    "a record of another machine": Defect(
        FIT,
        recorded(lambda run: replace(run, header=replace(run.header, machine_name="pantry"))),
        "mine.jsonl is of machine pantry: name a record of the step test of kitchen",
        Exit.USAGE,
    ),
    "a record of another profile": Defect(
        FIT,
        recorded(lambda run: replace(run, header=replace(run.header, profile_name="dark"))),
        "is of profile dark, and only step-test can be fitted",
        Exit.USAGE,
    ),
    "a record that was broken off": Defect(
        FIT, recorded(lambda run: replace(run, closing=None)), "did not end by itself", Exit.USAGE
    ),
    "a short test": Defect(
        FIT,
        left_by(lambda run: replace(run, samples=run.samples[:100])),
        "The step test can't be used: it is shorter than 25 min; run it anew",
    ),
    "a dead element": Defect(
        FIT,
        left_by(lambda run: read(run, lambda _, one: replace(one, bath_c=20.0, bowl_c=20.0))),
        "the bath rose by 0.0 K, and 8 K are needed",
    ),
    "readings of no machine": Defect(
        FIT,
        left_by(lambda run: read(run, lambda _, one: replace(one, bath_c=1e4 * one.bath_c))),
        "its readings fit no machine; run it anew",
    ),
    "somebody opens the lid again and again": Defect(
        FIT, left_by(stirred_up), "K are left unexplained): leave lid, water, door and bowl alone"
    ),
    "half of the water": Defect(
        FIT,
        left_by(as_it_is, ('water = "3 kg"', 'water = "1.5 kg"')),
        "and the machine file makes 13.2 kJ/K: weigh the water of bath and bowl, measure",
    ),
    "another element": Defect(
        FIT,
        left_by(as_it_is, words=("--power", "300 W")),
        "and the machine file makes 19.5 kJ/K: weigh the water of bath and bowl, measure",
    ),
    "no lid": Defect(
        FIT,
        left_by(as_it_is, ('loss = "3 W/K"', 'loss = "0.5 W/K"')),
        "W/K, and the machine file says 0.5 W/K: see to lid and draught, or write what it is",
    ),
    "the bath's thermometer is wrapped up": Defect(
        FIT, left_by(late), "follows the heater by 163 s: put it into moving water, and see that"
    ),
    "the bowl hangs over the water": Defect(
        FIT, apart_tested, "W/K pass between bath and bowl: see that the stirrer turns"
    ),
    # bainward run water-trial
    "a trial that can't be kept": Defect(TRIAL, no_room, "can't be written (", Exit.NO_PERMISSION),
    "the trial trips": Defect(
        TRIAL, ran(lambda run: replace(run, closing=None), Exit.TRIPPED), "broke off", Exit.TRIPPED
    ),
    "the trial ends before its end": Defect(
        TRIAL,
        ran(lambda run: replace(run, closing=None)),
        "FAIL  the run ended by itself                     broke off  done",
    ),
    "somebody who looked says no": Defect(
        TRIAL, ran(answered_no), "FAIL  a person was asked: look"
    ),
    "a temperature is never reached": Defect(
        TRIAL,
        ran(without("target_reached")),
        "FAIL  hold: 40 °C reached                             never",
    ),
    "no reading while it holds": Defect(
        TRIAL,
        ran(later("hold", lambda one: replace(one, bowl_c=math.nan))),
        "FAIL  hold: held within",
    ),
    "it is held badly": Defect(
        TRIAL,
        ran(later("hold", lambda one: replace(one, bowl_c=39.4))),
        "FAIL  hold: held within                              0.60 K  at most 0.25 K",
    ),
    "the bowl gets too warm": Defect(
        TRIAL,
        ran(later("warm", lambda one: replace(one, bowl_c=33.0))),
        "FAIL  warm: bowl over its target                     1.00 K",
    ),
    "the bath gets too hot": Defect(
        TRIAL,
        ran(later("hold", lambda one: replace(one, bath_c=47.0))),
        "FAIL  hold: hottest bath                           47.00 °C",
    ),
    "the stirrer stands": Defect(
        TRIAL,
        ran(later("hold", lambda one: replace(one, shaft_rpm=0.0))),
        "FAIL  the stirrer turned",
    ),
}
