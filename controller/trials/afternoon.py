"""The demo's afternoon: a planned batch on the bench, its cook somebody with other things to do.

Responsible for what the cook does, and when; not for the plan, for what is printed, or for the page
(commands/demo_batch).
"""

import re
from dataclasses import dataclass, replace
from pathlib import Path

import structlog

from controller.clock import VirtualClock
from controller.core.advice import Matter
from controller.core.machine import Machine
from controller.core.profile import Profile
from controller.errors import UsageError
from controller.files.attach_shape import BenchAttach
from controller.files.machine_file import MachineFile
from controller.ports import (
    KIND_ID,
    Announcement,
    Moment,
    Panel,
    Question,
    Request,
    Teller,
    Verb,
    announced,
)
from controller.trials.trial import askers
from controller.wiring import (
    Bench,
    Order,
    Result,
    attach_bench,
    execute,
    guarded,
    identity,
)

LATE_ID = "late-seed"  # asked while somebody is at the door
# Own choices: a cook who is there, one who is called away, and one who sees whether warmth helps.
USUAL_S, LATE_S, FETCHES_S = 40.0, 360.0, 120.0
_ADVISED = re.compile(r"announce (topped-up .+? C)\b")


@dataclass(frozen=True, slots=True, kw_only=True)
class Afternoon:
    """All that it is made of."""

    profile: Profile
    machine: Machine  # as planned
    machine_file: MachineFile
    room_c: float
    humidity: float
    record: Path
    began_utc: str


class Cook:
    """Does what the bench's cook does, but one thing late; and tops up once, as the run advises."""

    def __init__(self, bench: Bench, cook: Panel, profile: Profile) -> None:
        """Stand by; `cook` is the bench's own, who answers at once."""
        self._bench, self._cook = bench, cook
        self._takes_s = {
            one.id: one.takes_s or USUAL_S for phase in profile.phases for one in phase.questions
        } | {LATE_ID: LATE_S, KIND_ID: 0.0}
        self._ask_id: str | None = None
        self._asked_s = 0.0
        self._advised: Announcement | None = None  # the top-up that the run asks for,
        self._advised_s = 0.0  # since then
        self.topped_up_kg = 0.0

    def tell(self, moment: Moment) -> None:
        """Look at the machine."""
        advice = moment.state.advice
        found = _ADVISED.search(advice.text) if advice.matter is Matter.TOP_UP else None
        if self._advised is None and found is not None:
            self._advised, self._advised_s = announced(found[1]), moment.now_s

    def take(self, now_s: float, ask: Question | None) -> tuple[Request, ...]:
        """What the cook says, after having done it."""
        ask_id = None if ask is None else ask.id
        if ask_id != self._ask_id:
            self._ask_id, self._asked_s = ask_id, now_s
        if self._advised is not None and not self.topped_up_kg and ask is None:
            return self._topped_up(now_s, self._advised)
        is_due = ask is not None and now_s - self._asked_s >= self._takes_s.get(ask.id, USUAL_S)
        return self._cook.take(now_s, ask if is_due else None)

    def _topped_up(self, now_s: float, advised: Announcement) -> tuple[Request, ...]:
        """The melt that was asked for, once it is fetched, and a word of it."""
        if now_s - self._advised_s < FETCHES_S:
            return ()
        self.topped_up_kg = advised.mass_kg
        plant = self._bench.plant
        plant.advance(now_s)
        plant.top_up(mass_kg=advised.mass_kg, content_c=advised.temp_c)
        return (Request(verb=Verb.ANNOUNCE, announcement=advised),)


def spent(afternoon: Afternoon, tellers: tuple[Teller, ...]) -> tuple[Result, float]:
    """Run it to its end, through the same loop, control, interlocks and guard as a real run.

    How it ended, and how much it was topped up by, kg.

    Raises:
        BainwardError: it can't be put together, or the program failed.
    """
    plan, machine, profile = afternoon.machine_file.attach, afternoon.machine, afternoon.profile
    if not isinstance(plan, BenchAttach):
        raise UsageError(f"A demo simulates, and machine {machine.name} is a real one.")
    plan = replace(plan, answer_after_s=0.0)
    bench = attach_bench(plan, machine, profile, room_c=afternoon.room_c)
    bench.plant.parameters = replace(bench.plant.parameters, room_humidity=afternoon.humidity)
    cook = Cook(bench, bench.operator, profile)
    run_id = afternoon.record.stem
    result = execute(
        Order(
            profile=profile,
            machine=machine,
            attached=replace(guarded(bench, machine), panels=(cook,)),
            clock=VirtualClock(),
            identity=identity(run_id, afternoon.began_utc, profile, machine),
            journal_path=afternoon.record,
            link=None,
            panels=askers(),
            tellers=(cook, *tellers),
            log=structlog.get_logger(),
        )
    )
    return result, cook.topped_up_kg
