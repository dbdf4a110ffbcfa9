"""Rules about one question: its moment, its amounts, its choices, and silence.

Responsible for whether a question can be put and answered; not for its text's wording.
"""

from collections.abc import Callable

from controller.core.profile import Action, Then, Verdict, When
from controller.files.rule_cases import SLACK, QuestionCase, at_least, at_most, repeated
from controller.files.temperatures import quoted

QuestionRule = Callable[[QuestionCase], str | None]

_TAKE_SHARE = frozenset({Action.SWAP_WATER, Action.ADD_SEED})
_MAY_DWELL_AGAIN = frozenset({When.REACHED, When.DWELLED})


def _bowl_goes_with_when(case: QuestionCase) -> str | None:
    question = case.question
    waits = question.when is When.BOWL_AT_MOST
    if waits and question.bowl_c is None:
        return 'is missing, for when = "bowl-at-most" needs it; write bowl = "33.5 C"'
    if not waits and question.bowl_c is not None:
        return f'has no meaning with when = {quoted(question.when)}; write when = "bowl-at-most"'
    return None


def _bowl_comes_down_so_far(case: QuestionCase) -> str | None:
    bowl_c, target_c = case.question.bowl_c, case.phase.bowl_target_c
    if bowl_c is None or bowl_c >= target_c - SLACK:
        return None
    return (
        f"the bowl stops at its target, so this is never asked; write at least {at_least(target_c)}"
    )


def _share_goes_with_action(case: QuestionCase) -> str | None:
    question = case.question
    if question.action is Action.ADD_SEED and question.share is None:
        return 'is missing, for action = "add-seed" needs it; write share = "10 %"'
    if question.action not in _TAKE_SHARE and question.share is not None:
        return 'has no meaning without action = "add-seed" or "swap-water"; leave it out'
    return None


def _water_goes_with_action(case: QuestionCase) -> str | None:
    question = case.question
    if question.action is not Action.SWAP_WATER and question.water_c is not None:
        return 'has no meaning without action = "swap-water"; leave it out'
    return None


def _water_is_cold(case: QuestionCase) -> str | None:
    water_c, target_c = case.question.water_c, case.phase.bowl_target_c
    if water_c is None or water_c < target_c:
        return None
    return f"water for a swap must be colder than the target; write less than {at_most(target_c)}"


def _text_is_complete(case: QuestionCase) -> str | None:
    has_amounts = not (_share_goes_with_action(case) or _water_goes_with_action(case))
    text = case.question.text
    if case.question.is_computed:
        if "{mass}" not in text:
            return "does not say how much to swap, which is worked out as it is asked; write {mass}"
        text = text.replace("{mass}", "")
    if not has_amounts or not {"{", "}"} & set(text):
        return None
    return (
        "holds a {…} that nothing fills; write {mass} only with share or a water swap, {water} "
        "only with a water swap, and no other braces"
    )


def _choices_are_told_apart(case: QuestionCase) -> str | None:
    twice = repeated(tuple(choice.word for choice in case.question.choices))
    return f"two choices have the word {quoted(twice)}; give each its own" if twice else None


def _some_choice_goes_on(case: QuestionCase) -> str | None:
    if any(choice.then is not Then.DWELL_AGAIN for choice in case.question.choices):
        return None
    return 'no choice lets the phase end; write then = "continue" or "stop" in one of them'


def _dwelling_again_adds_energy(case: QuestionCase) -> str | None:
    again = (one for one in case.question.choices if one.then is Then.DWELL_AGAIN)
    silent = next((choice for choice in again if not choice.adds_energy), None)
    if silent is None:
        return None
    return f"{quoted(silent.word)} dwells again, which takes heat; write adds_energy = true"


def _dwells_again_after_dwell(case: QuestionCase) -> str | None:
    question = case.question
    again = any(choice.then is Then.DWELL_AGAIN for choice in question.choices)
    if not again or question.when in _MAY_DWELL_AGAIN:
        return None
    return (
        f'nothing has dwelled yet when = {quoted(question.when)}; write then = "continue" or '
        'when = "dwelled"'
    )


def _verdict_needs_a_test(case: QuestionCase) -> str | None:
    judged = any(choice.verdict is not Verdict.NONE for choice in case.question.choices)
    if not judged or case.question.action is Action.SET_TEST:
        return None
    return 'only a set test gives a verdict; write action = "set-test" or leave verdict out'


def _set_test_gives_a_verdict(case: QuestionCase) -> str | None:
    question = case.question
    given = {choice.verdict for choice in question.choices}
    if question.action is not Action.SET_TEST or {*Verdict} - {Verdict.NONE} <= given:
        return None
    return (
        'a set test must be able to go both ways; write verdict = "in-temper" in one of its '
        'choices and verdict = "not-in-temper" in another'
    )


def _silence_is_whole(case: QuestionCase) -> str | None:
    question = case.question
    if (question.unanswered is None) is (question.unanswered_s is None):
        return None
    return "needs both unanswered_after and unanswered_choice; write both, or neither to wait"


def _silence_is_a_choice(case: QuestionCase) -> str | None:
    question = case.question
    words = [choice.word for choice in question.choices]
    if question.unanswered is None or question.unanswered in words:
        return None
    return f"{quoted(question.unanswered)} is not a choice; write one of {', '.join(words)}"


def _silence_adds_no_energy(case: QuestionCase) -> str | None:
    question = case.question
    taken = (choice for choice in question.choices if choice.word == question.unanswered)
    if not any(choice.adds_energy for choice in taken):
        return None
    return "nobody's silence may add energy; write a choice with adds_energy = false"


def _silence_waits_for_the_deed(case: QuestionCase) -> str | None:
    question = case.question
    if question.takes_s is None or question.unanswered_s is None:
        return None
    if question.unanswered_s > question.takes_s:
        return None
    return "nobody can answer before what is asked for is over; write more than takes, or leave it"


def _silence_is_nobody_there(case: QuestionCase) -> str | None:
    question = case.question
    taken = (choice for choice in question.choices if choice.word == question.unanswered)
    if not any(choice.at_machine for choice in taken):
        return None
    return "nobody's silence can stand at the machine; write a choice without at_machine"


QUESTION_RULES: tuple[tuple[str, QuestionRule], ...] = (
    ("bowl", _bowl_goes_with_when),
    ("bowl", _bowl_comes_down_so_far),
    ("share", _share_goes_with_action),
    ("water", _water_goes_with_action),
    ("water", _water_is_cold),
    ("text", _text_is_complete),
    ("choice", _choices_are_told_apart),
    ("choice", _some_choice_goes_on),
    ("choice", _dwelling_again_adds_energy),
    ("choice", _dwells_again_after_dwell),
    ("choice", _verdict_needs_a_test),
    ("choice", _set_test_gives_a_verdict),
    ("unanswered_choice", _silence_is_whole),
    ("unanswered_choice", _silence_is_a_choice),
    ("unanswered_choice", _silence_adds_no_energy),
    ("unanswered_choice", _silence_is_nobody_there),
    ("unanswered_after", _silence_waits_for_the_deed),
)
