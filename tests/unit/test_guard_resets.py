"""What must be true before a trip is cleared: a row for each cause, held by guard and command."""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace

import pytest

from controller.commands.proving import unproven
from controller.core.interlock_rows import Effect
from controller.core.interlocks import INTERLOCKS
from controller.core.interlocks import Cause as TripCause
from controller.guard.decision import MORE, Cause
from controller.guard.latch import Memory
from controller.guard.messages import Rearm
from controller.guard.resets import (
    RULES,
    STRICTEST,
    Confirm,
    Demand,
    Proof,
    ResetRule,
    demanded,
    rule_of,
)
from controller.ports import Fault, Reading, Sensor, missing
from tests.helpers.guard_keeping import LIMITS, Scene

SECOND_MS = 1_000
TRIPS = {str(row.cause) for row in INTERLOCKS if row.effect is Effect.TRIP}
GUARDS = {str(cause) for cause in Cause} - {Cause.NONE, Cause.CONTROLLER_TRIPPED}
# Nothing but a person who has inspected the machine clears these.
GRAVE = {
    *("relay-stuck-on", "bath-over-limit", "bowl-over-limit", "heat-without-effect"),
    *("limits-changed", "bath-probes-disagree", "heater-power-wrong"),
    *("bath-over-cap", "heater-live-when-off", "heater-dead-when-on"),
    *("probes-apart-cold", "first-switch-stuck", "second-switch-stuck"),
}


def remembered(word: str) -> Memory:
    """What a guard has on its disk that tripped for this."""
    if word in GUARDS:
        return Memory(latched=Cause(word), since_s=7)
    return Memory(latched=Cause.CONTROLLER_TRIPPED, since_s=7, tripped=word)


def cleared(scene: Scene, confirmed: Confirm, wait_s: int = 11) -> bool:
    """Whether the guard lets this word clear what it has latched, so long after its start."""
    for _ in range(wait_s):
        scene.cycle(after_ms=SECOND_MS)
    count = len(scene.keeper.guard.causes)
    rearm = Rearm(seen=scene.latched, count=count, confirmed=confirmed)
    scene.cycle(rearm=rearm, waiting=[None])
    return scene.says().latched is Cause.NONE


def test_every_cause_that_latches_has_its_rule_and_no_other() -> None:
    assert set(RULES) == TRIPS | GUARDS


def test_the_grave_ones_want_somebody_who_inspected_the_machine() -> None:
    assert {word for word, rule in RULES.items() if rule.confirm is Confirm.INSPECTED} == GRAVE


def test_every_rule_is_one_sentence() -> None:
    for rule in (*RULES.values(), STRICTEST):
        assert rule.must.endswith(".")
        assert rule.must.count(". ") == 0


@pytest.mark.parametrize("word", sorted(TRIPS | GUARDS))
@pytest.mark.parametrize("confirmed", Confirm)
def test_the_guard_clears_a_cause_by_its_own_word_alone(word: str, confirmed: Confirm) -> None:
    is_enough = confirmed is RULES[word].confirm
    assert cleared(Scene(remembered(word)), confirmed) is is_enough


@pytest.mark.parametrize("word", sorted(TRIPS | GUARDS))
def test_the_guard_believes_what_it_measures_over_what_a_person_says(word: str) -> None:
    rule = RULES[word]
    for spoil, proofs in SPOILT:
        scene = Scene(remembered(word), mains=True)
        spoil(scene)
        # A heater that is live when off is a cause of its own, whatever came first.
        is_enough = proofs.isdisjoint(rule.proofs) and spoil is not _live
        assert cleared(scene, rule.confirm) is is_enough


def _silent(scene: Scene) -> None:
    scene.world.bath_mc = None


def _hot(scene: Scene) -> None:
    scene.world.bath_mc = LIMITS.cap_mc + 1


def _live(scene: Scene) -> None:
    scene.world.live = True


SPOILT = (
    (_silent, {Proof.GUARD, Proof.COOL}),
    (_hot, {Proof.COOL}),
    (_live, {Proof.DEAD}),
)


@pytest.mark.parametrize(
    ("cause", "bad_mc"), [(Cause.GUARD_PROBE_LOST, None), (Cause.BATH_OVER_CAP, 63_000)]
)
def test_ten_seconds_in_a_row_must_be_sound(cause: Cause, bad_mc: int | None) -> None:
    confirmed = RULES[cause].confirm
    for wait_s, is_enough in ((9, False), (11, True)):
        scene = Scene(remembered(cause))
        cleared(scene, Confirm.FILLED)  # the wrong word, after eleven sound seconds
        scene.world.bath_mc = bad_mc
        scene.cycle(after_ms=SECOND_MS)
        scene.world.bath_mc = 40_000
        assert cleared(scene, confirmed, wait_s) is is_enough


def test_a_bath_at_its_limit_counts_as_cool() -> None:
    scene = Scene(remembered("bath-over-cap"))
    scene.world.bath_mc = LIMITS.cap_mc
    assert cleared(scene, Confirm.INSPECTED)


def test_a_word_of_a_newer_controller_falls_under_the_strictest_rule() -> None:
    assert rule_of("something-new") is STRICTEST
    assert rule_of(MORE) is STRICTEST  # what no longer found a place may be the gravest
    assert not cleared(Scene(remembered("something-new")), Confirm.LOOKED)
    assert cleared(Scene(remembered("something-new")), Confirm.INSPECTED)


def test_a_trip_of_the_controller_goes_by_the_controller_s_word() -> None:
    assert rule_of("level-lost") is RULES["level-lost"]
    assert rule_of(Cause.BATH_OVER_CAP) is RULES["bath-over-cap"]
    assert TripCause("level-lost") is TripCause.LEVEL_LOST


def test_of_two_words_the_graver_is_wanted() -> None:
    assert list(Confirm) == [Confirm.LOOKED, Confirm.FILLED, Confirm.INSPECTED]
    for first in RULES:
        for second in RULES:
            both = demanded((first, second))
            words = {RULES[first].confirm, RULES[second].confirm}
            assert both.confirm is [word for word in Confirm if word in words][-1]
            assert set(both.proofs) == {*RULES[first].proofs, *RULES[second].proofs}
            assert set(both.musts) == {RULES[first].must, RULES[second].must}


def test_nothing_latched_demands_nothing() -> None:
    assert demanded(()) == Demand(musts=())


@pytest.mark.parametrize("confirmed", Confirm)
def test_a_graver_cause_is_not_cleared_by_the_milder_one_s_word(confirmed: Confirm) -> None:
    for first, later in (("tick-late", "relay-stuck-on"), ("relay-stuck-on", "tick-late")):
        scene = Scene(replace(remembered(first), also=(later,)))
        assert cleared(scene, confirmed) is (confirmed is Confirm.INSPECTED)
    scene = Scene(replace(remembered("lease-lapsed"), also=("level-lost",)))
    assert cleared(scene, confirmed) is (confirmed is Confirm.FILLED)


def test_what_any_of_the_causes_has_measured_must_hold() -> None:
    for spoil, proofs in SPOILT:
        scene = Scene(
            replace(remembered("tick-late"), also=("guard-probe-lost", "relay-stuck-on")),
            mains=True,
        )
        spoil(scene)
        wanted = {Proof.GUARD, Proof.COOL, Proof.DEAD}
        assert cleared(scene, Confirm.INSPECTED) is proofs.isdisjoint(wanted)


# What the command looks at before it asks anybody


@dataclass
class Scripted:
    """A thermometer with a reading for each look, the last one for ever."""

    said: list[Reading]
    looks: int = 0

    def read(self, now_s: float) -> Reading:  # noqa: ARG002 - the Sensor's contract
        """The next."""
        self.looks += 1
        return self.said[min(self.looks, len(self.said)) - 1]


@dataclass
class Ticking:
    """A clock that a wait moves."""

    s: float = 0.0
    waits: list[float] = field(default_factory=list)

    def now_s(self) -> float:
        """Its seconds."""
        return self.s

    other_s = now_s

    def wait_until(self, when_s: float) -> None:
        """Move there."""
        self.s = max(self.s, when_s)
        self.waits.append(when_s)

    def wake(self) -> None:
        """Nobody waits."""


def doubt(rule: ResetRule, clock: Ticking | None = None, **sensors: Sensor) -> str:
    """What the command says against clearing it."""

    @contextmanager
    def opened() -> Iterator[Mapping[str, Sensor]]:
        yield sensors

    return unproven(rule.proofs, opened, clock or Ticking())


GOOD = Reading(30.0)
BATH = RULES["bath-probe-missing"]


@pytest.mark.parametrize(
    "bad",
    [
        missing(),
        Reading(85.0),
        Reading(-5.1),
        Reading(30.0, age_s=5.1),
        Reading(30.0, 0.0, Fault.DEVICE),
    ],
)
@pytest.mark.parametrize("at", [0, 5, 10])
def test_a_probe_must_be_believable_for_ten_seconds_in_a_row(bad: Reading, at: int) -> None:
    said = [*([GOOD] * at), bad, GOOD]
    assert "bath probe gives no believable value" in doubt(BATH, bath=Scripted(said))


def test_a_probe_that_was_sound_for_ten_seconds_is_believed() -> None:
    clock, bath = Ticking(), Scripted([GOOD])
    assert doubt(BATH, clock, bath=bath, bowl=Scripted([missing()])) == ""
    assert (bath.looks, clock.s) == (11, 10.0)


def test_both_probes_are_looked_at_where_both_are_in_doubt() -> None:
    rule = RULES["probes-crossed"]
    assert "bowl probe" in doubt(rule, bath=Scripted([GOOD]), bowl=Scripted([missing()]))
    assert doubt(rule, bath=Scripted([GOOD])) == ""  # the machine does without the other


def test_a_cause_that_no_thermometer_proves_opens_none() -> None:
    assert unproven(RULES["tick-late"].proofs, lambda: pytest.fail("opened"), Ticking()) == ""
