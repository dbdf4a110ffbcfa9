"""Whole runs with faults, judged by the true plant as an ordeal judges its own.

Responsible for running them; not for what must come of them.
"""

from dataclasses import replace

from controller.trials import Trial
from controller.trials.ordeal_draws import Injection
from controller.trials.ordeal_watch import Found, Watch
from controller.trials.staging import staged
from controller.trials.trial import set_up
from controller.wiring import execute

GIVE_UP_S = 6000.0


def found_of(machine: str, fitted: tuple[str, ...], *faults: str) -> Found:
    """What came of them in a run of `dark`; times are of the run."""
    trial = Trial(profile="dark", machine=machine, fitted=fitted, faults=faults)
    stage = set_up(replace(trial, give_up_after_s=GIVE_UP_S))
    watch = Watch(stage.bench, stage.order.profile, stage.order.clock.now_s)
    watch.begin(stage.plans[0].fault)
    execute(staged(replace(stage.order, tellers=(watch,)), stage.bench, stage.plans))
    first = stage.plans[0]
    return watch.found(
        Injection(fault=first.fault, phase=str(first.phase), after_s=first.after_s, size=None)
    )
