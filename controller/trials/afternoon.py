"""The demo's afternoon: a planned batch on the bench, its cook somebody with other things to do.

Responsible for what the cook does, and when; not for the plan, for what is printed, or for the page
(commands/demo_batch).
"""

from dataclasses import dataclass, replace
from pathlib import Path

import structlog

from controller.clock import VirtualClock
from controller.core.machine import Machine
from controller.core.profile import Profile
from controller.errors import UsageError
from controller.files.attach_shape import BenchAttach
from controller.files.machine_file import MachineFile
from controller.planning.plan import TOP_UP_C
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
USUAL_S, LATE_S, WAITS_S = 40.0, 360.0, 300.0
_G_PER_KG = 1000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Afternoon:
    """All that it is made of."""

    profile: Profile
    machine: Machine  # as planned
    machine_file: MachineFile
    room_c: float
    humidity: float
    top_up_kg: float  # at most, by the plan
    record: Path
    began_utc: str


class Cook:
    """Does what the bench's cook does, but one thing late; and tops up what goes on thickening."""

    def __init__(self, bench: Bench, cook: Panel, profile: Profile, top_up_kg: float) -> None:
        """Stand by; `cook` is the bench's own, who answers at once."""
        self._bench, self._cook, self._top_up_kg = bench, cook, top_up_kg
        self._takes_s = {
            one.id: one.takes_s or USUAL_S for phase in profile.phases for one in phase.questions
        } | {LATE_ID: LATE_S, KIND_ID: 0.0}
        self._ask_id: str | None = None
        self._asked_s = 0.0
        self._thick_s: float | None = None  # when the run first held it warmer
        self._is_topped_up = False

    def tell(self, moment: Moment) -> None:
        """Look at the machine."""
        if self._thick_s is None and moment.state.temper.warmed_k > 0.0:
            self._thick_s = moment.now_s

    def take(self, now_s: float, ask: Question | None) -> tuple[Request, ...]:
        """What the cook says, after having done it."""
        ask_id = None if ask is None else ask.id
        if ask_id != self._ask_id:
            self._ask_id, self._asked_s = ask_id, now_s
        if self._thick_s is not None and not self._is_topped_up and ask is None:
            return self._topped_up(now_s, self._thick_s)
        is_due = ask is not None and now_s - self._asked_s >= self._takes_s.get(ask.id, USUAL_S)
        return self._cook.take(now_s, ask if is_due else None)

    def _topped_up(self, now_s: float, thick_s: float) -> tuple[Request, ...]:
        """Melt into the bowl, and a word of it, once a warmer bowl has shown what it does."""
        if now_s - thick_s < WAITS_S:
            return ()
        self._is_topped_up = True
        plant = self._bench.plant
        plant.advance(now_s)
        plant.top_up(mass_kg=self._top_up_kg, content_c=TOP_UP_C)
        said = announced(f"topped-up {_G_PER_KG * self._top_up_kg:.0f} g at {TOP_UP_C:.0f} C")
        return () if said is None else (_announcing(said),)


def _announcing(said: Announcement) -> Request:
    return Request(verb=Verb.ANNOUNCE, announcement=said)


def spent(afternoon: Afternoon, tellers: tuple[Teller, ...]) -> Result:
    """Run it to its end, through the same loop, control, interlocks and guard as a real run.

    Raises:
        BainwardError: it can't be put together, or the program failed.
    """
    plan, machine, profile = afternoon.machine_file.attach, afternoon.machine, afternoon.profile
    if not isinstance(plan, BenchAttach):
        raise UsageError(f"A demo simulates, and machine {machine.name} is a real one.")
    plan = replace(plan, answer_after_s=0.0)
    bench = attach_bench(plan, machine, profile, room_c=afternoon.room_c)
    bench.plant.parameters = replace(bench.plant.parameters, room_humidity=afternoon.humidity)
    cook = Cook(bench, bench.operator, profile, afternoon.top_up_kg)
    run_id = afternoon.record.stem
    return execute(
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
