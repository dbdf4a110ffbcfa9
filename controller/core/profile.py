"""A profile as the core sees it: plain numbers, already validated at the edge.

Responsible for the shape of phases and questions; not for reading files (controller/files).
"""

from enum import StrEnum

from msgspec import Struct


class Kind(StrEnum):
    """What is in the bowl."""

    DARK = "dark"
    MILK = "milk"
    WHITE = "white"
    COMPOUND = "compound"  # a coating of another fat than cocoa butter, which needs no tempering
    WATER = "water"


CHOCOLATES = (Kind.DARK, Kind.MILK, Kind.WHITE, Kind.COMPOUND)


class When(StrEnum):
    """The moment of a phase at which a question is put."""

    START = "start"  # as the phase begins
    BOWL_AT_MOST = "bowl-at-most"  # once the bowl has come down to a temperature
    REACHED = "reached"  # target reached and settled
    DWELLED = "dwelled"  # dwell is over


class Then(StrEnum):
    """What an answer leads to."""

    CONTINUE = "continue"
    DWELL_AGAIN = "dwell-again"
    STOP = "stop"


class Action(StrEnum):
    """What the question asks the cook to do, so that control and bench know what it changes."""

    NONE = "none"
    SWAP_WATER = "swap-water"
    ADD_SEED = "add-seed"
    SET_TEST = "set-test"


class Verdict(StrEnum):
    """What the set test said. No test, no verdict."""

    NONE = "none"
    IN_TEMPER = "in-temper"
    NOT_IN_TEMPER = "not-in-temper"


class LateAction(StrEnum):
    """What happens when a phase outlasts its time."""

    WARN = "warn"
    STOP = "stop"
    TRIP = "trip"


class StopStirrer(StrEnum):
    """What the stirrer does once a run has stopped."""

    OFF = "off"
    KEEP = "keep"  # keeps turning while the bowl is warm enough for the phase's `stir_from_c`


class PowerBack(StrEnum):
    """What a run cut short by a power failure or crash means at the next start.

    Heat never returns by itself; this decides only what the person is told.
    """

    ASK = "ask"  # the batch may be worth going on with: look at it first
    BEGIN_AGAIN = "begin-again"  # begin again from the first phase


class Choice(Struct, frozen=True, kw_only=True):
    """One answer of a question."""

    word: str
    adds_energy: bool
    then: Then = Then.CONTINUE
    verdict: Verdict = Verdict.NONE
    at_machine: bool = False  # only somebody who stands there can say so


class Question(Struct, frozen=True, kw_only=True):
    """Something only the cook can do or know. The phase can't end while it is open."""

    id: str
    text: str  # complete: amounts are already filled in
    when: When
    bowl_c: float | None  # for BOWL_AT_MOST
    choices: tuple[Choice, ...]
    unanswered_s: float | None  # None: wait for ever, in the phase's own safe state
    unanswered: str | None  # the choice's word taken then; never one that adds energy
    action: Action = Action.NONE
    # Of the bath's water, or of the whole batch as seed: 0 to 1. A swap without one is computed.
    share: float | None = None
    water_c: float | None = None  # of the water swapped in
    mass_kg: float | None = None  # of a computed swap, once it is put
    takes_s: float | None = None  # how long what is asked for takes: the run says when it is over

    @property
    def is_computed(self) -> bool:
        """Whether its amount is worked out as it is put."""
        return self.action is Action.SWAP_WATER and self.share is None


class Phase(Struct, frozen=True, kw_only=True):
    """One leg of the curve."""

    name: str
    bowl_target_c: float
    tolerance_k: float
    settle_s: float
    dwell_s: float
    rate_limit_k_per_min: float | None
    warm_to_c: float | None = None  # chocolate that thickens may be held warmer, up to this
    bath_ceiling_c: float  # control never asks the bath for more
    bath_cut_c: float  # heat is cut and the run tripped above this
    stirrer_rpm: float
    stir_from_c: float  # the stirrer may turn at and above this bowl temperature
    pause_at_c: float  # the bowl temperature at which a pause is safe
    late_after_s: float
    late_action: LateAction
    questions: tuple[Question, ...]


class Profile(Struct, frozen=True, kw_only=True):
    """What a run follows."""

    name: str
    title: str
    kind: Kind
    source: str  # where its numbers come from
    bowl_never_above_c: float
    bath_never_above_c: float
    phases: tuple[Phase, ...]
    stop_stirrer: StopStirrer
    power_back: PowerBack
    lost_probe_wait_s: float  # heat is withheld at once; after this the run trips
    notes: str = ""  # what else a reader should know

    @property
    def aims_at_temper(self) -> bool:
        """Whether the batch is meant to be in temper at the end: then a set test is asked for."""
        return any(
            question.action is Action.SET_TEST
            for phase in self.phases
            for question in phase.questions
        )
