"""Rough handling: what cooks do to a machine that is whole, for which it must not trip.

Responsible for the draws and for running them; not for how many trips are too many (summary).
"""

from collections.abc import Callable, Mapping
from random import Random

from controller.core.state import EventName
from controller.ports import Moment
from controller.report.table import Cell
from controller.trials.ordeal_draws import FITTINGS, drawn_fittings
from controller.trials.trial import Trial, run_trial
from controller.wiring import BenchFault

DEEDS_MOST = 8
DELAY_MOST_S = 1800.0
GIVE_UP_S = 8 * 3600.0
S_PER_H = 3600.0
HOURS = "hours"
DEEDS = "deeds"
TOLD = "told"  # the causes of all alarms

# What is done, with how much of it: own inventions, none of them a defect of the machine.
ROUGH: Mapping[BenchFault, Callable[[Random], str]] = {
    BenchFault.LID_OFF: lambda chance: f"/{chance.randint(1, 20)}min",
    BenchFault.WATER_SWAPPED: lambda chance: f":{chance.randint(5, 40)}%",
    BenchFault.WATER_SPILLED: lambda chance: f":{chance.randint(2, 12)}%",
    BenchFault.CHOCOLATE_ADDED: lambda chance: f":{chance.randint(30, 200)}g",
    BenchFault.BATH_PROBE_INTERMITTENT: lambda chance: f":3%/{chance.randint(1, 20)}min",
    BenchFault.BOWL_PROBE_INTERMITTENT: lambda chance: f":3%/{chance.randint(1, 20)}min",
    BenchFault.BATH_PROBE_OFFSET: lambda chance: f":{chance.choice((-0.3, 0.3))}K",
    BenchFault.BOWL_PROBE_OFFSET: lambda chance: f":{chance.choice((-0.3, 0.3))}K",
    # Mains of 10 % more or less make a fifth of the element's power.
    BenchFault.HEATER_WRONG: lambda chance: (
        f":{chance.randint(81, 121)}%/{chance.randint(1, 60)}min"
    ),
    BenchFault.ANSWER_LATE: lambda chance: f":{chance.randint(1, 15)}min",
}


def drawn_deeds(seed: int, number: int, phases: tuple[str, ...]) -> tuple[str, ...]:
    """What is done to the machine of that number, as faults are written; none to some."""
    chance = Random(f"{seed}/{number}/rough")  # noqa: S311 - a draw, not a secret
    deeds = []
    for fault in chance.sample(sorted(ROUGH), chance.randint(0, DEEDS_MOST)):
        told = ROUGH[fault](chance)
        size, slash, lasts = told.partition("/")
        when = f"@{chance.choice(phases)}+{round(chance.uniform(1.0, DELAY_MOST_S))}s"
        deeds.append(f"{fault}{size}{when}{slash}{lasts}")
    return tuple(deeds)


def handle_roughly(
    machine: str, profile: str, _: tuple[str, ...], *, phases: tuple[str, ...]
) -> Mapping[str, Cell]:
    """One drawn machine, handled roughly for a whole run."""
    seed, number = (int(part) for part in machine.rsplit("-", 2)[1:])
    deeds = drawn_deeds(seed, number, phases)
    fittings = drawn_fittings(seed, number)
    trial = Trial(
        profile=profile,
        machine=machine,
        faults=deeds,
        fitted=fittings,
        give_up_after_s=GIVE_UP_S,
    )
    alarms = _Alarms()
    outcome = run_trial(trial, tellers=(alarms,))
    done: dict[str, Cell] = {
        HOURS: outcome.lasted_s / S_PER_H,
        DEEDS: " ".join(deeds),
        FITTINGS: " ".join(fittings),
        TOLD: " ".join(alarms.causes),
    }
    return {**outcome.row(), **done}


class _Alarms:
    """A teller that notes what was told."""

    def __init__(self) -> None:
        self.causes: list[str] = []

    def tell(self, moment: Moment) -> None:
        """Take in one tick."""
        self.causes += [
            str(event.facts["cause"])
            for event in moment.events
            if event.name is EventName.ALARM_RAISED
        ]
