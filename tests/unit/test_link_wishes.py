"""What a JSON request may ask for: the whole table of acceptance and refusal, in each mode."""

import json
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from controller.link.commands import REQUEST_MAX_BYTES, WHY, Accepted, Refusal
from controller.link.settings import Remote
from controller.link.tokens import LIFE_S, Tokens
from controller.link.wishes import Command, Gate, Wish, judge_wish, signature, wish_of
from controller.ports import Question, Source, Verb
from tests.helpers.moments import SET_TEST

KEY = b"k" * 64
TOKEN = "right"
WARM_ON = {"command": "answer", "choice": "warm-on", "ask": SET_TEST.id}
RESUME = {"command": "resume"}


def gate(remote: Remote, key: bytes = KEY) -> Gate:
    return Gate(remote=remote, key=key, tokens=Tokens(0.0, lambda: TOKEN))


def wish(**fields: Any) -> Wish:  # noqa: ANN401 - any field
    made = wish_of(json.dumps({"id": "a", **fields}).encode())
    assert isinstance(made, Wish)
    return made


def signed(*, by: bytes = KEY, **fields: Any) -> Wish:  # noqa: ANN401 - any field
    return wish(**fields, mac=signature(by, wish(**fields)))


def judged(given_: Wish, remote: Remote, ask: Question | None = SET_TEST) -> Accepted | Refusal:
    return judge_wish(given_, gate(remote), ask, 0.0)


@pytest.mark.parametrize("remote", Remote)
@pytest.mark.parametrize("word", ["stop", "pause", "acknowledge"])
def test_what_lowers_risk_needs_neither_token_nor_signature(remote: Remote, word: str) -> None:
    verdict = judged(wish(command=word), remote)
    assert isinstance(verdict, Accepted)
    assert (verdict.request.verb, verdict.request.source) == (Verb(word), Source.LINK)
    assert verdict.request.id == "a"


@pytest.mark.parametrize("remote", Remote)
def test_an_answer_without_heat_needs_neither(remote: Remote) -> None:
    verdict = judged(wish(command="answer", choice=" Yes"), remote)
    assert isinstance(verdict, Accepted)
    assert (verdict.request.choice, verdict.request.source) == ("yes", Source.LINK)


HEATS = [RESUME, WARM_ON]


@pytest.mark.parametrize("fields", HEATS, ids=["resume", "warm-on"])
def test_heat_needs_a_mode_a_token_and_a_signature(fields: dict[str, Any]) -> None:
    for remote, given_, expected in [
        (Remote.OFF, wish(**fields, token=TOKEN), Refusal.REMOTE_OFF),
        (Remote.OFF, signed(**fields, token=TOKEN), Refusal.REMOTE_OFF),
        (Remote.ACCESS_LIST, wish(**fields), Refusal.STALE_TOKEN),
        (Remote.ACCESS_LIST, wish(**fields, token="wrong"), Refusal.STALE_TOKEN),
        (Remote.ACCESS_LIST, wish(**fields, token=TOKEN), None),
        (Remote.SIGNED, wish(**fields, token=TOKEN), Refusal.BAD_SIGNATURE),
        (Remote.SIGNED, wish(**fields, token=TOKEN, mac="00" * 32), Refusal.BAD_SIGNATURE),
        (Remote.SIGNED, wish(**fields, token=TOKEN, mac="é"), Refusal.BAD_SIGNATURE),
        (Remote.SIGNED, signed(by=b"x" * 64, **fields, token=TOKEN), Refusal.BAD_SIGNATURE),
        (Remote.SIGNED, signed(**fields, token="wrong"), Refusal.STALE_TOKEN),
        (Remote.SIGNED, signed(**fields, token=TOKEN), None),
    ]:
        verdict = judged(given_, remote)
        if expected is None:
            assert isinstance(verdict, Accepted)
            assert verdict.request.source is Source.REMOTE
        else:
            assert verdict is expected


def test_a_signature_is_for_all_of_a_request() -> None:
    mac = signature(KEY, wish(**WARM_ON, token=TOKEN))
    for fields in (
        {**RESUME, "token": TOKEN},
        {**WARM_ON, "token": TOKEN, "id": "b"},
        {**WARM_ON, "token": TOKEN, "profile": "x"},
    ):
        assert judged(wish(**{**fields, "mac": mac}), Remote.SIGNED) is Refusal.BAD_SIGNATURE


def test_an_answer_to_another_question_is_none_to_this_one() -> None:
    for remote in (Remote.ACCESS_LIST, Remote.SIGNED):
        other = signed(command="answer", choice="warm-on", ask="power-cut", token=TOKEN)
        assert judged(other, remote) is Refusal.QUESTION_CHANGED
        assert judged(other, remote, None) is Refusal.NO_QUESTION


def test_a_signed_answer_names_its_question() -> None:
    unnamed = signed(command="answer", choice="warm-on", token=TOKEN)
    assert judged(unnamed, Remote.SIGNED) is Refusal.ASK_UNNAMED
    assert isinstance(judged(unnamed, Remote.ACCESS_LIST), Accepted)


@pytest.mark.parametrize("key", ["token", "choice", "profile", "ask", "mac"])
def test_no_text_holds_a_line_end_that_could_stand_for_two_others(key: str) -> None:
    for text in ("a\nb", "\n", "a\r", "\x00"):
        payload = json.dumps({"id": "a", "command": "answer", key: text}).encode()
        assert wish_of(payload) is Refusal.MALFORMED


def test_without_a_key_nothing_is_signed() -> None:
    fields = {**RESUME, "token": TOKEN}
    verdict = judge_wish(signed(by=b"", **fields), gate(Remote.SIGNED, b""), None, 0.0)
    assert verdict is Refusal.BAD_SIGNATURE


def test_an_accepted_request_spends_the_token_and_a_refused_one_does_not() -> None:
    names = iter(["first", "second"])
    tokens = Tokens(0.0, lambda: next(names))
    held = Gate(remote=Remote.ACCESS_LIST, key=b"", tokens=tokens)
    assert judge_wish(wish(**RESUME, token="x"), held, None, 0.0) is Refusal.STALE_TOKEN
    assert isinstance(judge_wish(wish(**RESUME, token="first"), held, None, 1.0), Accepted)
    assert judge_wish(wish(**RESUME, token="first"), held, None, 1.0) is Refusal.STALE_TOKEN


def test_a_token_that_is_too_old_does_not_heat() -> None:
    held = gate(Remote.ACCESS_LIST)
    late = judge_wish(wish(**RESUME, token="other"), held, None, 2 * LIFE_S)
    assert late is Refusal.STALE_TOKEN


@pytest.mark.parametrize("remote", Remote)
@pytest.mark.parametrize("word", ["start", "reset"])
def test_a_run_is_begun_and_a_trip_reset_only_at_the_machine(remote: Remote, word: str) -> None:
    verdict = judged(signed(command=word, profile="dark", token=TOKEN), remote)
    assert verdict is Refusal.ONLY_HERE


def test_an_answer_must_be_one_of_the_choices_of_an_open_question() -> None:
    assert judged(wish(**WARM_ON), Remote.OFF, ask=None) is Refusal.NO_QUESTION
    assert judged(wish(command="answer"), Remote.OFF) is Refusal.NO_SUCH_CHOICE
    assert judged(wish(command="answer", choice="x"), Remote.OFF) is Refusal.NO_SUCH_CHOICE


MALFORMED = [
    b"",
    b"{}",
    b"[]",
    b"null",
    b"NaN",
    b"stop",
    b'"stop"',
    b"\xff\xfe",
    b'\xef\xbb\xbf{"id":"a","command":"stop"}',  # a byte order mark
    b'{"id":"a","command":"stop"} x',
    b'{"id":"a","command":"stop"}{}',
    b'{"id":"a","command":"stop",}',
    b'{"id":"a","command":"STOP"}',
    b'{"id":"a","command":"heat"}',
    b'{"id":"a","command":"limit","value":90}',
    b'{"id":"a","command":"run","path":"../x.toml"}',
    b'{"id":"a","command":["stop"]}',
    b'{"id":"a","command":null}',
    b'{"id":"","command":"stop"}',
    b'{"id":"a b","command":"stop"}',
    b'{"id":"a\\n","command":"stop"}',
    b'{"id":"' + b"a" * 65 + b'","command":"stop"}',
    b'{"id":7,"command":"stop"}',
    b'{"id":"\\ud800","command":"stop"}',  # a lone surrogate
    b'{"id":"a","command":"resume","token":{"a":1}}',
    b'{"id":"a","command":"resume","token":' + b"9" * 1900 + b"}",
    b'{"id":"a","command":"resume","token":"' + b"t" * 129 + b'"}',
    b'{"id":"a","id":"b","command":"stop"}',
    b'{"id":"a","command":"pause","command":"resume"}',
    b'{"id":"a","command":"pause","comm\\u0061nd":"resume"}',
    b'{"id":"a","command":"stop","more":1}',
    b"[" * REQUEST_MAX_BYTES,
    b'{"id":' * 300,
]


@pytest.mark.parametrize("payload", MALFORMED)
def test_what_is_no_request_is_refused(payload: bytes) -> None:
    assert wish_of(payload) is Refusal.MALFORMED


def test_a_long_request_is_not_even_read() -> None:
    sound = b'{"id":"a","command":"stop"}'
    assert isinstance(wish_of(sound.ljust(REQUEST_MAX_BYTES)), Wish)
    assert wish_of(sound.ljust(REQUEST_MAX_BYTES + 1)) is Refusal.TOO_LONG


@settings(deadline=None)  # a busy computer is no fault
@given(st.binary(max_size=400))
def test_bytes_are_a_request_or_refused_and_nothing_else(payload: bytes) -> None:
    assert isinstance(wish_of(payload), Wish | Refusal)


@settings(deadline=None)  # the same
@given(
    command=st.sampled_from(list(Command)),
    texts=st.lists(st.text(max_size=40), min_size=4, max_size=4),
    remote=st.sampled_from([Remote.OFF, Remote.SIGNED]),
)
def test_nobody_without_the_key_heats(command: Command, texts: list[str], remote: Remote) -> None:
    token, choice, profile, mac = texts
    made = Wish(id="a", command=command, token=token, choice=choice, profile=profile, mac=mac)
    for tried in (TOKEN, token):
        verdict = judged(Wish(id="a", command=command, token=tried, choice="warm-on"), remote)
        assert isinstance(verdict, Refusal) or not verdict.adds_energy
    verdict = judged(made, remote)
    assert isinstance(verdict, Refusal) or not verdict.adds_energy


def test_every_refusal_says_what_to_do() -> None:
    assert set(WHY) == set(Refusal)
    assert all(text.endswith(".") for text in WHY.values())
