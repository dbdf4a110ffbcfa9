"""What a message from outside may ask for: the whole table of acceptance and refusal."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.core.announcement import Deed
from controller.link.commands import (
    PLAIN_MAX_BYTES,
    WHY,
    Accepted,
    Refusal,
    judge,
    still_fits,
)
from controller.ports import Question, Request, Source, Verb
from tests.helpers.moments import SET_TEST

TAKEN = [
    (b"stop", Verb.STOP, ""),
    (b"pause", Verb.PAUSE, ""),
    (b"acknowledge", Verb.ACKNOWLEDGE, ""),
    (b"answer yes", Verb.ANSWER, "yes"),
    (b"answer no", Verb.ANSWER, "no"),
    (b"Stop", Verb.STOP, ""),
    (b" STOP\r\n", Verb.STOP, ""),
    (b"Answer  Yes ", Verb.ANSWER, "yes"),
]

REFUSED = [
    (b"", Refusal.UNKNOWN_WORD),
    (b"start", Refusal.UNKNOWN_WORD),
    (b"resume", Refusal.UNKNOWN_WORD),
    (b"reset", Refusal.UNKNOWN_WORD),
    (b"stop now", Refusal.UNKNOWN_WORD),
    (b"stop\x00", Refusal.UNKNOWN_WORD),
    (b"stopstop", Refusal.UNKNOWN_WORD),
    (b'{"command": "stop"}', Refusal.UNKNOWN_WORD),
    (b"\xef\xbb\xbfstop", Refusal.UNKNOWN_WORD),
    (b"\xff\xfe", Refusal.NOT_TEXT),
    (b"\xed\xa0\x80", Refusal.NOT_TEXT),  # a lone surrogate
    (b"stop".ljust(PLAIN_MAX_BYTES + 1), Refusal.TOO_LONG),
    (b"x" * 1_000_000, Refusal.TOO_LONG),
    (b"announce", Refusal.UNKNOWN_DEED),
    (b"announce heat", Refusal.UNKNOWN_DEED),
    (b"announce added 2 t", Refusal.UNKNOWN_DEED),
    (b"answer", Refusal.NO_SUCH_CHOICE),
    (b"answer maybe", Refusal.NO_SUCH_CHOICE),
    (b"answer warm-on", Refusal.ADDS_ENERGY),
    (b"answer WARM-ON", Refusal.ADDS_ENERGY),
]


def test_whether_it_may_be_left_is_asked_in_plain_words() -> None:
    verdict = judge(b" Leave 20 min\n", retained=False, ask=SET_TEST)
    assert isinstance(verdict, Accepted)
    assert verdict.request == Request(verb=Verb.LEAVE, source=Source.LINK, for_s=1200.0)
    assert verdict.word == "leave 20 min"
    assert not verdict.adds_energy
    for payload in (b"leave", b"leave 20", b"leave 9 h", b"leave now"):
        assert judge(payload, retained=False, ask=None) is Refusal.UNKNOWN_WORD


@pytest.mark.parametrize(("payload", "verb", "choice"), TAKEN)
def test_plain_words_that_lower_risk_are_taken(payload: bytes, verb: Verb, choice: str) -> None:
    verdict = judge(payload, retained=False, ask=SET_TEST)
    ask_id = SET_TEST.id if verb is Verb.ANSWER else ""
    assert isinstance(verdict, Accepted)
    assert verdict.request == Request(verb=verb, source=Source.LINK, ask_id=ask_id, choice=choice)
    assert verdict.word == f"{verb} {choice}".strip()


def test_a_deed_is_taken_as_knowledge_from_the_link() -> None:
    verdict = judge(b" Announce Swapped 50 % at 15 C\n", retained=False, ask=None)
    assert isinstance(verdict, Accepted)
    assert verdict.word == "announce swapped 50 % at 15.0 C"
    assert verdict.request.source is Source.LINK
    assert verdict.request.announcement is not None
    assert verdict.request.announcement.deed is Deed.SWAPPED
    assert still_fits(verdict.request, None) is None


@pytest.mark.parametrize(("payload", "reason"), REFUSED)
def test_everything_else_is_refused_with_its_reason(payload: bytes, reason: Refusal) -> None:
    assert judge(payload, retained=False, ask=SET_TEST) is reason


@pytest.mark.parametrize("payload", [payload for payload, *_ in (*TAKEN, *REFUSED)])
def test_a_message_that_the_broker_kept_is_never_taken(payload: bytes) -> None:
    assert judge(payload, retained=True, ask=SET_TEST) is Refusal.RETAINED


def test_an_answer_without_a_question_is_refused() -> None:
    assert judge(b"answer yes", retained=False, ask=None) is Refusal.NO_QUESTION


def test_the_longest_plain_command_is_taken() -> None:
    payload = b"stop".ljust(PLAIN_MAX_BYTES)
    assert isinstance(judge(payload, retained=False, ask=None), Accepted)


@pytest.mark.parametrize("reason", list(Refusal))
def test_every_refusal_says_what_to_do(reason: Refusal) -> None:
    assert WHY[reason].endswith(".")


ANSWER = Request(verb=Verb.ANSWER, source=Source.LINK, ask_id="set-test", choice="yes")
OTHER = Question(
    id="add-seed",
    text="Add the seed.",
    when=SET_TEST.when,
    bowl_c=None,
    choices=SET_TEST.choices,
    unanswered_s=None,
    unanswered=None,
)


@pytest.mark.parametrize(
    ("request_", "ask", "expected"),
    [
        (ANSWER, SET_TEST, None),
        (ANSWER, None, Refusal.QUESTION_CHANGED),
        (ANSWER, OTHER, Refusal.QUESTION_CHANGED),
        (Request(verb=Verb.PAUSE), None, None),
        (
            Request(verb=Verb.ANSWER, ask_id="set-test", choice="x"),
            SET_TEST,
            Refusal.NO_SUCH_CHOICE,
        ),
        (
            Request(verb=Verb.ANSWER, ask_id="set-test", choice="warm-on"),
            SET_TEST,
            Refusal.ADDS_ENERGY,
        ),
    ],
)
def test_an_answer_fits_only_the_question_it_was_given_to(
    request_: Request, ask: Question | None, expected: Refusal | None
) -> None:
    assert still_fits(request_, ask) is expected


@given(payload=st.binary(max_size=300), retained=st.booleans())
def test_no_payload_breaks_the_judge_or_adds_energy(payload: bytes, retained: bool) -> None:
    verdict = judge(payload, retained=retained, ask=SET_TEST)
    if isinstance(verdict, Accepted):
        assert not retained
        assert verdict.request.source is Source.LINK
        assert verdict.request.verb in {Verb.STOP, Verb.PAUSE, Verb.ACKNOWLEDGE, Verb.ANSWER}
        assert verdict.request.choice in {"", "yes", "no"}
