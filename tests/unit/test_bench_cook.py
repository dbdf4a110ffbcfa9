"""The scripted cook: when it answers, what its hands do, how it judges."""

import pytest

from controller.core.profile import Then, When
from controller.ports import Action, Choice, Kind, Question, Request, Source, Verb, Verdict
from hardware.bench.cook import Cook
from hardware.bench.faults import BenchFault, Faults
from hardware.bench.machines import REFERENCE
from hardware.bench.plant import Plant
from hardware.bench.upsets import Scene
from tests.helpers.records import replace

BATCH_KG = 1.5


class Kitchen:
    """A cook at a plant, with a truth of our choosing."""

    def __init__(self, *, kind: Kind = Kind.DARK, verdict: Verdict = Verdict.IN_TEMPER) -> None:
        """1 kg in the bowl, half a kilogram of seed to come."""
        self.plant = Plant(parameters=REFERENCE, kind=kind, mass_kg=1.0, room_c=20.0)
        self.verdict = verdict
        self.faults = Faults(Scene(plant=self.plant, batch_kg=BATCH_KG, seed=1))
        self.cook = Cook(
            plant=self.plant,
            batch_kg=BATCH_KG,
            answer_after_s=60.0,
            judge=lambda: self.verdict,
            faults=self.faults,
            kind=kind,
        )

    def answers(self, ask: Question | None, moments_s: list[float]) -> list[tuple[float, str]]:
        """When which choices came while a question stood open."""
        return [
            (moment_s, request.choice)
            for moment_s in moments_s
            for request in self.cook.take(moment_s, ask)
        ]


def a_question(
    *choices: Choice,
    name: str = "look",
    action: Action = Action.NONE,
    share: float | None = None,
    water_c: float | None = None,
) -> Question:
    """A question, with "done" as its only choice if none is given."""
    return Question(
        id=name,
        text="Look.",
        when=When.START,
        bowl_c=None,
        choices=choices or (Choice(word="done", adds_energy=False),),
        unanswered_s=None,
        unanswered=None,
        action=action,
        share=share,
        water_c=water_c,
    )


PASSED = Choice(word="set", adds_energy=False, verdict=Verdict.IN_TEMPER)
FAILED = Choice(
    word="not-set", adds_energy=False, then=Then.DWELL_AGAIN, verdict=Verdict.NOT_IN_TEMPER
)
STOPPED = Choice(word="stop", adds_energy=False, then=Then.STOP, verdict=Verdict.NOT_IN_TEMPER)
SKIPPED = Choice(word="skipped", adds_energy=False)
EVERY_30_S = [30.0 * tick for tick in range(12)]


def test_without_a_question_the_cook_is_silent() -> None:
    assert Kitchen().answers(None, EVERY_30_S) == []


def test_an_answer_is_a_local_request_that_names_its_question() -> None:
    kitchen = Kitchen()
    kitchen.cook.take(0.0, a_question())
    assert kitchen.cook.take(60.0, a_question()) == (
        Request(verb=Verb.ANSWER, source=Source.LOCAL, ask_id="look", choice="done"),
    )


def test_a_question_is_answered_once_a_while_after_it_opened() -> None:
    assert Kitchen().answers(a_question(), EVERY_30_S) == [(60.0, "done")]


def test_the_first_choice_is_taken() -> None:
    other = Choice(word="other", adds_energy=False)
    first = Choice(word="first", adds_energy=True)
    assert Kitchen().answers(a_question(first, other), EVERY_30_S) == [(60.0, "first")]


def test_a_question_that_opens_again_is_answered_again() -> None:
    kitchen = Kitchen()
    assert kitchen.answers(a_question(), [0.0, 60.0]) == [(60.0, "done")]
    assert kitchen.answers(None, [61.0]) == []
    assert kitchen.answers(a_question(), [500.0, 559.0, 560.0, 600.0]) == [(560.0, "done")]


def test_the_next_question_gets_its_own_time() -> None:
    kitchen = Kitchen()
    assert kitchen.answers(a_question(), [0.0, 60.0]) == [(60.0, "done")]
    assert kitchen.answers(a_question(name="next"), [61.0, 120.0, 121.0]) == [(121.0, "done")]


def test_a_question_withdrawn_in_time_changes_nothing() -> None:
    kitchen = Kitchen()
    ask = a_question(action=Action.ADD_SEED, share=0.2)
    assert kitchen.answers(ask, [0.0, 59.0]) == []
    assert kitchen.answers(None, [60.0, 200.0]) == []
    assert kitchen.plant.mass_kg == 1.0


def test_swapping_water_mixes_the_new_with_the_old_and_the_pot() -> None:
    # 3 kg of water, pot 400 J/K, all at 20 °C; half of the water comes at 80 °C:
    # 20 + 1.5 x 4180 x 60 / 12940 = 49.07 °C, by hand.
    kitchen = Kitchen()
    ask = a_question(action=Action.SWAP_WATER, share=0.5, water_c=80.0)
    kitchen.plant.advance(60.0)
    kitchen.answers(ask, [0.0, 60.0])
    assert kitchen.plant.bath_c == pytest.approx(49.07, abs=0.01)


def test_a_mass_is_weighed_out_of_what_is_really_in_the_pot() -> None:
    # 1.5 kg is half of 3 kg, and all of 1.2 kg (15 °C in a pot of 400 J/K at 20 °C: 15.37 °C).
    ask = replace(a_question(action=Action.SWAP_WATER, share=0.4, water_c=80.0), mass_kg=1.5)
    kitchen = Kitchen()
    kitchen.answers(ask, [0.0, 60.0])
    assert kitchen.plant.bath_c == pytest.approx(49.07, abs=0.05)
    small = Kitchen()
    small.plant.spill(share=0.6)
    small.answers(replace(ask, water_c=15.0), [0.0, 60.0])
    assert small.plant.bath_c == pytest.approx(15.37, abs=0.02)
    assert small.plant.water_kg == pytest.approx(1.2)


def test_nothing_is_swapped_in_a_pot_that_has_run_dry() -> None:
    ask = replace(a_question(action=Action.SWAP_WATER, share=0.4, water_c=80.0), mass_kg=1.5)
    kitchen = Kitchen()
    kitchen.plant.spill(share=1.0)
    assert kitchen.answers(ask, [0.0, 60.0]) == [(60.0, "done")]
    assert kitchen.plant.water_kg == 0.0


def test_the_hands_move_at_their_own_moment_and_not_at_the_last_one() -> None:
    kitchen = Kitchen()
    kitchen.plant.advance(0.0)
    kitchen.plant.heat(500.0)
    kitchen.answers(a_question(action=Action.ADD_SEED, share=0.2), [0.0, 60.0])
    assert kitchen.plant.element_on_j == pytest.approx(500.0 * 60.0)


def test_seed_is_a_share_of_the_whole_batch_and_wakes_the_memory() -> None:
    kitchen = Kitchen()
    ask = a_question(action=Action.ADD_SEED, share=0.2)
    assert kitchen.answers(ask, EVERY_30_S) == [(60.0, "done")]
    assert kitchen.plant.mass_kg == pytest.approx(1.0 + 0.2 * BATCH_KG)


@pytest.mark.parametrize("action", [Action.SWAP_WATER, Action.ADD_SEED])
def test_without_a_share_the_hands_do_nothing(action: Action) -> None:
    kitchen = Kitchen()
    assert kitchen.answers(a_question(action=action, water_c=5.0), EVERY_30_S) == [(60.0, "done")]
    assert kitchen.plant.mass_kg == 1.0
    assert kitchen.plant.bath_c == pytest.approx(20.0, abs=0.1)


def test_water_of_unknown_temperature_is_not_swapped() -> None:
    kitchen = Kitchen()
    kitchen.answers(a_question(action=Action.SWAP_WATER, share=1.0), EVERY_30_S)
    assert kitchen.plant.balance().carried_j == 0.0


@pytest.mark.parametrize(
    ("truth", "word"), [(Verdict.IN_TEMPER, "set"), (Verdict.NOT_IN_TEMPER, "not-set")]
)
def test_the_set_test_is_judged_by_the_truth(truth: Verdict, word: str) -> None:
    ask = a_question(SKIPPED, FAILED, STOPPED, PASSED, action=Action.SET_TEST)
    assert Kitchen(verdict=truth).answers(ask, EVERY_30_S) == [(60.0, word)]


def test_the_set_test_of_water_has_no_verdict() -> None:
    ask = a_question(PASSED, FAILED, SKIPPED, action=Action.SET_TEST)
    kitchen = Kitchen(kind=Kind.WATER, verdict=Verdict.NONE)
    assert kitchen.answers(ask, EVERY_30_S) == [(60.0, "skipped")]


def test_an_honest_cook_says_nothing_where_no_choice_is_true() -> None:
    ask = a_question(PASSED, action=Action.SET_TEST)
    assert Kitchen(verdict=Verdict.NOT_IN_TEMPER).answers(ask, EVERY_30_S) == []


def test_a_late_cook_takes_so_much_longer_until_he_is_himself_again() -> None:
    kitchen = Kitchen()
    kitchen.faults.inject(BenchFault.ANSWER_LATE, 90.0)
    assert kitchen.answers(a_question(), EVERY_30_S) == [(150.0, "done")]
    kitchen.faults.clear(BenchFault.ANSWER_LATE)
    assert kitchen.answers(a_question(name="next"), EVERY_30_S) == [(60.0, "done")]


def test_a_cook_who_never_answers_does_nothing_either() -> None:
    kitchen = Kitchen()
    kitchen.faults.inject(BenchFault.ANSWER_NEVER)
    ask = a_question(action=Action.ADD_SEED, share=0.2)
    assert kitchen.answers(ask, [0.0, 3600.0, 86_400.0]) == []
    assert kitchen.plant.mass_kg == 1.0


def test_seed_forgotten_is_said_to_be_in() -> None:
    kitchen = Kitchen()
    kitchen.faults.inject(BenchFault.SEED_FORGOTTEN)
    ask = a_question(action=Action.ADD_SEED, share=0.2)
    assert kitchen.answers(ask, EVERY_30_S) == [(60.0, "done")]
    assert kitchen.plant.mass_kg == 1.0


def test_seed_that_came_early_does_not_come_again() -> None:
    kitchen = Kitchen()
    kitchen.faults.inject(BenchFault.SEED_EARLY, 0.2)
    assert kitchen.plant.mass_kg == pytest.approx(1.0 + 0.2 * BATCH_KG)
    ask = a_question(action=Action.ADD_SEED, share=0.2)
    assert kitchen.answers(ask, EVERY_30_S) == [(60.0, "done")]
    assert kitchen.plant.mass_kg == pytest.approx(1.0 + 0.2 * BATCH_KG)


def test_a_swap_forgotten_is_said_to_be_done() -> None:
    kitchen = Kitchen()
    kitchen.faults.inject(BenchFault.SWAP_FORGOTTEN)
    ask = a_question(action=Action.SWAP_WATER, share=0.5, water_c=80.0)
    assert kitchen.answers(ask, EVERY_30_S) == [(60.0, "done")]
    assert kitchen.plant.balance().carried_j == 0.0


@pytest.mark.parametrize(
    ("truth", "word"), [(Verdict.IN_TEMPER, "not-set"), (Verdict.NOT_IN_TEMPER, "set")]
)
def test_a_cook_may_misjudge_the_set_test(truth: Verdict, word: str) -> None:
    ask = a_question(SKIPPED, FAILED, STOPPED, PASSED, action=Action.SET_TEST)
    kitchen = Kitchen(verdict=truth)
    kitchen.faults.inject(BenchFault.ANSWER_WRONG)
    assert kitchen.answers(ask, EVERY_30_S) == [(60.0, word)]
