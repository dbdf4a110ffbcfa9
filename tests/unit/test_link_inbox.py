"""The inbox: bounded, and a stop always gets through."""

import pytest

from controller.link import inbox as module
from controller.link.commands import WHY, Refusal
from controller.link.inbox import ROOM, Inbox
from controller.ports import Verb
from tests.helpers.logs import listening_log
from tests.helpers.moments import SET_TEST


def make() -> Inbox:
    return Inbox(listening_log()[0])


def offer(inbox: Inbox, *payloads: bytes) -> None:
    for payload in payloads:
        inbox.offer(payload, retained=False, ask=SET_TEST)


def test_what_was_taken_is_gone() -> None:
    inbox = make()
    offer(inbox, b"pause", b"answer yes")
    assert [request.verb for request in inbox.take(SET_TEST)] == [Verb.PAUSE, Verb.ANSWER]
    assert inbox.take(SET_TEST) == ()


def test_a_stop_comes_first_and_once_however_often_it_was_sent() -> None:
    inbox = make()
    offer(inbox, b"pause", b"stop", b"stop", b"acknowledge")
    verbs = [request.verb for request in inbox.take(None)]
    assert verbs == [Verb.STOP, Verb.PAUSE, Verb.ACKNOWLEDGE]


def test_a_flood_neither_grows_nor_crowds_out_a_stop() -> None:
    inbox = make()
    offer(inbox, *[b"pause"] * (ROOM + 984), b"stop")
    assert [request.verb for request in inbox.take(None)] == [Verb.STOP] + [Verb.PAUSE] * ROOM
    assert inbox.refused[Refusal.TOO_MANY] == 984


def test_an_answer_to_a_question_that_is_over_is_dropped_and_counted() -> None:
    inbox = make()
    offer(inbox, b"answer yes")
    assert inbox.take(None) == ()
    assert inbox.refused == {Refusal.QUESTION_CHANGED: 1}


def test_refusals_are_counted_but_logged_once_in_a_while(monkeypatch: pytest.MonkeyPatch) -> None:
    now = [100.0]
    monkeypatch.setattr(module, "process_s", lambda: now[0])
    log, lines = listening_log()
    inbox = Inbox(log)
    for _ in range(500):
        assert inbox.offer(b"\xff", retained=False, ask=None) is Refusal.NOT_TEXT
    now[0] += module.LOG_GAP_S
    inbox.offer(b"\xff", retained=False, ask=None)
    assert inbox.refused[Refusal.NOT_TEXT] == 501
    assert [line["count"] for line in lines] == [1, 501]
    assert lines[0]["event"] == "message_refused"
    assert lines[0]["reason"] == "not-text"


def test_an_answer_that_adds_energy_is_logged_with_what_to_do() -> None:
    log, lines = listening_log()
    Inbox(log).offer(b"answer warm-on", retained=False, ask=SET_TEST)
    assert lines[0]["advice"] == WHY[Refusal.ADDS_ENERGY]
