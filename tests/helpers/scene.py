"""Small profiles, machines and evidence for tests of the core, and a rig that steps the tick.

Responsible for plausible defaults (own invention) and a plain bath; not for any expectation.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from controller.core.consistency import Consistency
from controller.core.evidence import Evidence, Memory, ProbeEvidence, ProbeMemory
from controller.core.machine import Machine
from controller.core.profile import (
    Action,
    Choice,
    Kind,
    LateAction,
    Phase,
    PowerBack,
    Profile,
    Question,
    StopStirrer,
    Then,
    Verdict,
    When,
)
from controller.core.signals import (
    Commands,
    Fault,
    Permit,
    Reading,
    Readings,
    Request,
    Source,
    Verb,
)
from controller.core.state import Event, EventName, Mode, Progress, RelayMemory, State, Watch
from controller.core.tick import initial_state, tick
from tests.helpers.records import replace

ROOM_C = 20.0
CODE_K = 0.0625  # the step of a common digital thermometer
TRANSFER_W_PER_K = 10.0
BOWL_J_PER_K = 2600.0

DONE = Choice(word="done", adds_energy=False)
LONGER = Choice(word="longer", adds_energy=True, then=Then.DWELL_AGAIN)
FIRM = Choice(word="firm", adds_energy=False, verdict=Verdict.IN_TEMPER)
SOFT = Choice(word="soft", adds_energy=False, verdict=Verdict.NOT_IN_TEMPER)
GIVE_UP = Choice(word="give-up", adds_energy=False, then=Then.STOP)


def question(name: str = "look", **changes: Any) -> Question:  # noqa: ANN401 - any field of the dataclass
    """A question put as its phase begins and waiting for ever; `changes` replaces any field."""
    given = Question(
        id=name,
        text="Is all of it done?",
        when=When.START,
        bowl_c=None,
        choices=(DONE, LONGER, FIRM, SOFT, GIVE_UP),
        unanswered_s=None,
        unanswered=None,
        action=Action.NONE,
    )
    return replace(given, **changes)


def phase(name: str = "melt", **changes: Any) -> Phase:  # noqa: ANN401 - any field of the dataclass
    """A phase to 40 °C that settles for 3 s and dwells for 5 s; `changes` replaces any field."""
    given = Phase(
        name=name,
        bowl_target_c=40.0,
        tolerance_k=0.5,
        settle_s=3.0,
        dwell_s=5.0,
        rate_limit_k_per_min=None,
        bath_ceiling_c=50.0,
        bath_cut_c=55.0,
        stirrer_rpm=30.0,
        stir_from_c=34.0,
        pause_at_c=36.0,
        late_after_s=3600.0,
        late_action=LateAction.WARN,
        questions=(),
    )
    return replace(given, **changes)


def profile(*phases: Phase, **changes: Any) -> Profile:  # noqa: ANN401 - any field of the dataclass
    """A profile of these phases, or of a melt and a hold."""
    given = Profile(
        name="small",
        title="A small profile",
        kind=Kind.DARK,
        source="own invention",
        bowl_never_above_c=58.0,
        bath_never_above_c=60.0,
        phases=phases or (phase(), phase("hold", bowl_target_c=32.0, stir_from_c=28.0)),
        stop_stirrer=StopStirrer.OFF,
        power_back=PowerBack.ASK,
        lost_probe_wait_s=10.0,
    )
    return replace(given, **changes)


def machine(**changes: Any) -> Machine:  # noqa: ANN401 - any field of the dataclass
    """A machine with nothing fitted that need not be; `changes` replaces any field."""
    given = Machine(
        name="small",
        period_s=1.0,
        bath_max_c=62.0,
        bowl_max_c=60.0,
        water_kg=3.0,
        vessel_j_per_k=500.0,
        batch_kg=1.5,
        heater_w=500.0,
        loss_w_per_k=2.5,
        room_c=ROOM_C,
        min_on_s=2.0,
        min_off_s=2.0,
        bath_offset_k=0.0,
        bowl_offset_k=0.0,
        has_level=False,
        has_shaft=False,
        has_load=False,
    )
    return replace(given, **changes)


def readings(bath_c: float = 40.0, bowl_c: float = 40.0, **changes: Any) -> Readings:  # noqa: ANN401 - any field of the dataclass
    """Good readings at these temperatures; `changes` replaces any field."""
    return replace(Readings(bath=Reading(bath_c), bowl=Reading(bowl_c)), **changes)


def state(**changes: Any) -> State:  # noqa: ANN401 - any field of the dataclass
    """A run well into its first phase at 40 °C, relay open; `changes` also takes progress' own."""
    ours = {key: changes.pop(key) for key in list(changes) if key in Progress.__struct_fields__}
    probe = ProbeMemory(value_c=40.0, code_c=40.0)
    given = State(
        run_s=100.0,
        mode=Mode.RUNNING,
        bath_c=40.0,
        bowl_c=40.0,
        progress=Progress(phase_s=100.0, start_bowl_c=20.0),
        relay=RelayMemory(held_s=100.0),
        watch=Watch(memory=Memory(bath=probe, bowl=probe)),
    )
    given = replace(given, **changes)
    return replace(given, progress=replace(given.progress, **ours)) if ours else given


def probe(value_c: float = 40.0, **changes: Any) -> ProbeEvidence:  # noqa: ANN401 - any field of the dataclass
    """One thermometer that is believed; `changes` replaces any field."""
    given = ProbeEvidence(
        value_c=value_c,
        raw_c=value_c,
        age_s=0.0,
        fault=Fault.NONE,
        is_plausible=True,
        jumps=0,
        unchanged_s=0.0,
    )
    return replace(given, **changes)


def evidence(**changes: Any) -> Evidence:  # noqa: ANN401 - any field of the dataclass
    """Evidence that shows everything safe, all of it fitted; `changes` replaces any field."""
    given = Evidence(
        bath=probe(45.0),
        bowl=probe(40.0),
        bath_cut_c=55.0,
        bowl_limit_c=58.0,
        bowl_most_c=40.0,
        bowl_ahead_c=40.0,
        frozen_model_k=0.0,
        heat_since_change_s=0.0,
        bowl_heat_since_change_s=0.0,
        bowl_model_k=0.0,
        bowl_lead_k=0.0,
        stuck_hits=0,
        unverified_s=0.0,
        held_back_s=-1.0,
        permit=Permit(latched="none", age_s=0.0, bath_c=45.0),
        level=Reading(1.0),
        shaft=Reading(30.0),
        wanted_rpm=30.0,
        stirring_s=60.0,
        clock_ahead_s=0.0,
        limits_intact=True,
        late_s=0.0,
        period_s=1.0,
        late_ticks=0,
        run_s=6000.0,
        phase_s=600.0,
        phase=phase(),
        phase_is_overdue=False,
        seen=Consistency(),
        vitals=None,
    )
    return replace(given, **changes)


def asks(verb: Verb, source: Source = Source.LOCAL) -> Request:
    """A person's wish."""
    return Request(verb=verb, source=source)


def answers(choice: str, ask_id: str = "", source: Source = Source.LOCAL) -> Request:
    """A person's answer."""
    return Request(verb=Verb.ANSWER, source=source, ask_id=ask_id, choice=choice)


def names(events: tuple[Event, ...]) -> list[EventName]:
    """What happened, without the facts."""
    return [event.name for event in events]


@dataclass(kw_only=True)
class Rig:
    """A bath and a bowl around the tick. With `is_live` false both stay where a test puts them."""

    profile: Profile = field(default_factory=profile)
    machine: Machine = field(default_factory=machine)
    bath_c: float = ROOM_C
    bowl_c: float = ROOM_C
    is_live: bool = True
    element_works: bool = True
    is_welded: bool = False
    state: State = field(default_factory=initial_state)
    commands: Commands | None = None
    events: list[Event] = field(default_factory=list)

    def readings(self) -> Readings:
        """What the probes say now; a still rig flickers by one code, as a live probe does."""
        flicker_k = 0.0 if self.is_live or round(self.state.run_s) % 2 else CODE_K
        return readings(
            round(self.bath_c / CODE_K) * CODE_K + flicker_k,
            round(self.bowl_c / CODE_K) * CODE_K + flicker_k,
        )

    def step(self, *requests: Request, dt_s: float = 1.0, **changes: Any) -> tuple[Event, ...]:  # noqa: ANN401 - any field of the readings
        """One tick, then a second of physics. `changes` replaces readings."""
        seen = replace(self.readings(), requests=requests, **changes)
        self.state, self.commands, events = tick(self.state, self.profile, self.machine, seen, dt_s)
        self.events += events
        if self.is_live:
            self._flow(heat=(self.commands.heater_on or self.is_welded) and self.element_works)
        return events

    def _flow(self, *, heat: bool) -> None:
        """Explicit Euler over one second: plenty for a bath with a time constant of minutes."""
        lead_w = TRANSFER_W_PER_K * (self.bath_c - self.bowl_c)
        heat_w = self.machine.heater_w if heat else 0.0
        loss_w = self.machine.loss_w_per_k * (self.bath_c - ROOM_C)
        self.bath_c += (heat_w - loss_w - lead_w) / self.machine.bath_j_per_k
        self.bowl_c += lead_w / BOWL_J_PER_K

    def start(self) -> "Rig":
        """Press start."""
        self.step(asks(Verb.START))
        return self

    def run(self, seconds: int, until: Callable[["Rig"], bool] = lambda _: False) -> "Rig":
        """Let time pass, at most until something is so."""
        for _ in range(seconds):
            if until(self):
                break
            self.step()
        return self

    def is_in(self, mode: Mode) -> bool:
        """Whether the run is in that procedural state."""
        return self.state.mode is mode

    @property
    def heater_on(self) -> bool:
        """Whether the last tick asked for heat."""
        return self.commands is not None and self.commands.heater_on

    @property
    def heater_off(self) -> bool:
        """Whether the last tick asked for no heat. Spelt out, since mypy narrows properties."""
        return self.commands is not None and not self.commands.heater_on

    @property
    def causes(self) -> list[str]:
        """Causes of the trips, oldest first."""
        return [trip.cause for trip in self.state.trips]

    def facts(self, name: EventName) -> list[dict[str, str | float | bool]]:
        """The facts of every event of that name so far."""
        return [event.facts for event in self.events if event.name is name]


STILL = replace(profile(), phases=(phase(dwell_s=9e9),))  # never leaves its first phase


def heating(**changes: Any) -> Rig:  # noqa: ANN401 - any field of the rig
    """A rig in full heat: both at 30 °C, well below the target, nothing moving by itself."""
    given: dict[str, Any] = {"profile": STILL, "bath_c": 30.0, "bowl_c": 30.0, "is_live": False}
    rig = Rig(**given | changes)
    rig.start().run(10)
    assert rig.heater_on
    return rig
