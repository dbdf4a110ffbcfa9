"""The desk: one answer to each request, one deed to each id, and bounded in a flood."""

import json
from datetime import UTC, datetime
from typing import Any

import pytest

from controller.core.records import replace
from controller.core.requests import refusal
from controller.core.state import EventName, Mode
from controller.link.commands import WHY, Refusal
from controller.link.desk import REFUSALS_AT_ONCE, REMEMBERED, WAITING, Desk
from controller.link.inbox import FRESH_S, ROOM, Inbox
from controller.link.settings import Remote
from controller.link.tokens import LIFE_S, Tokens
from controller.link.tree import NO_ANSWER
from controller.link.wishes import Gate
from controller.ports import Event, Question, Request, Source, Verb
from tests.helpers.logs import listening_log
from tests.helpers.moments import SET_TEST

AT = "2026-01-01T00:00:00+00:00"


class Stage:
    """A desk with its inbox, on a clock of the test's."""

    def __init__(self, remote: Remote = Remote.ACCESS_LIST) -> None:
        """Nothing was asked yet."""
        self.now_s = 0.0
        self.inbox = Inbox(listening_log()[0])
        self.desk = Desk(
            Gate(remote=remote, key=b"", tokens=Tokens(0.0)),
            self.inbox,
            clock_s=lambda: self.now_s,
            wall_time=lambda: datetime(2026, 1, 1, tzinfo=UTC),
        )

    def ask(self, id_: str, command: str, **more: Any) -> bool:  # noqa: ANN401 - any field
        """Send a request that repeats the newest token; whether it was taken."""
        body = {"id": id_, "command": command, "token": self.desk.token, **more}
        taken = self.desk.hear(json.dumps(body).encode(), retained=False, ask=SET_TEST)
        return taken is not None

    def take(self, ask: Question | None = SET_TEST) -> tuple[Request, ...]:
        """What a tick gets."""
        taken = self.inbox.take(ask)
        self.desk.passed_on(taken)
        return taken

    def answers(self) -> list[dict[str, str]]:
        """What has been answered since the last call."""
        return [json.loads(text) for text in iter(self.desk.outgoing, None)]


def done(id_: str) -> dict[str, str]:
    return {"id": id_, "result": "done", "reason": "", "at": AT}


def refused(id_: str, reason: str) -> dict[str, str]:
    return {"id": id_, "result": "refused", "reason": reason, "at": AT}


def test_a_request_is_answered_by_the_tick_that_took_it() -> None:
    stage = Stage()
    assert stage.desk.last == NO_ANSWER
    assert stage.ask("a", "resume")
    stage.desk.settle(())
    assert stage.answers() == []
    assert stage.take() == (Request(verb=Verb.RESUME, source=Source.REMOTE, id="a"),)
    stage.desk.settle(())
    assert stage.answers() == [done("a")]
    assert json.loads(stage.desk.last) == done("a")
    stage.desk.settle(())
    assert stage.answers() == []


def test_what_the_tick_refuses_is_answered_with_its_reason() -> None:
    stage = Stage()
    stage.ask("a", "resume")
    stage.ask("b", "pause")
    first, _ = stage.take()
    stage.desk.settle((refusal(first, "a run that is running can't resume"),))
    assert stage.answers() == [refused("a", "a run that is running can't resume"), done("b")]


def test_the_same_id_acts_once_and_is_answered_the_same_again() -> None:
    stage = Stage()
    assert stage.ask("a", "pause")
    assert not stage.ask("a", "pause")
    assert [request.verb for request in stage.take()] == [Verb.PAUSE]
    stage.desk.settle(())
    assert not stage.ask("a", "resume")
    assert stage.take() == ()
    assert stage.answers() == [done("a"), done("a")]
    assert stage.inbox.refused == {Refusal.REPEATED: 2}


def test_a_flood_of_one_id_is_not_answered_each_time() -> None:
    stage = Stage()
    assert stage.ask("a", "pause")
    stage.take()
    stage.desk.settle(())
    for _ in range(20 * REFUSALS_AT_ONCE):
        stage.ask("a", "pause")
    assert len(stage.answers()) <= 1 + REFUSALS_AT_ONCE


PAUSED_HERE = Event(
    name=EventName.MODE_CHANGED, facts={"before": Mode.RUNNING, "after": Mode.PAUSING}
)


@pytest.mark.parametrize("how", ["as a request", "as plain text", "at the machine"])
def test_what_was_kept_back_until_after_a_pause_does_not_count(how: str) -> None:
    stage = Stage()
    before = stage.desk.token
    if how == "at the machine":
        stage.desk.settle((PAUSED_HERE,))
    elif how == "as plain text":
        stage.desk.hear_plain(b"pause", retained=False, ask=None)
    else:
        stage.ask("a", "pause")
    stage.take()
    assert not stage.ask("b", "resume", token=before)
    assert stage.take() == ()
    assert stage.answers()[-1] == refused("b", WHY[Refusal.STALE_TOKEN])
    assert stage.ask("c", "resume")


def test_a_pause_over_the_link_changes_the_token_once() -> None:
    stage = Stage()
    before = stage.desk.token
    stage.ask("a", "pause")
    after = stage.desk.token
    assert after != before
    stage.take()
    stage.desk.settle((PAUSED_HERE,))
    assert stage.desk.token == after
    stage.take()
    stage.desk.settle((PAUSED_HERE,))
    assert stage.desk.token != after


def test_other_ticks_leave_the_token_alone() -> None:
    stage = Stage()
    before = stage.desk.token
    resumed = replace(PAUSED_HERE, facts={"before": Mode.PAUSED, "after": Mode.RESUMING})
    stage.desk.settle((resumed,))
    stage.ask("a", "acknowledge")
    assert stage.desk.token == before


def test_a_refused_id_may_be_asked_again() -> None:
    stage = Stage()
    assert not stage.ask("a", "resume", token="old")
    assert stage.ask("a", "resume")
    assert stage.answers() == [refused("a", WHY[Refusal.STALE_TOKEN])]


def test_the_ids_of_long_ago_are_forgotten_so_that_memory_is_bounded() -> None:
    stage = Stage()
    for number in range(2 * REMEMBERED):
        assert stage.ask(f"n{number}", "pause")
        stage.take()
        stage.desk.settle(())
    assert not stage.ask(f"n{REMEMBERED}", "pause")
    assert stage.ask("n0", "pause")
    assert len(stage.answers()) == WAITING


def test_each_stop_with_an_id_is_answered() -> None:
    stage = Stage()
    for id_ in "ab":
        stage.ask(id_, "stop")
    assert [request.id for request in stage.take()] == ["a", "b"]
    stage.desk.settle(())
    assert stage.answers() == [done("a"), done("b")]


def test_a_flood_of_requests_leaves_the_way_free_for_a_stop() -> None:
    stage = Stage()
    for number in range(1000):
        stage.ask(f"n{number}", "pause")
    assert stage.ask("halt", "stop")
    taken = stage.take()
    assert taken[0] == Request(verb=Verb.STOP, source=Source.LINK, id="halt")
    assert len(taken) == 1 + ROOM
    assert stage.inbox.refused[Refusal.TOO_MANY] == 1000 - ROOM


def test_a_flood_of_nonsense_is_counted_and_only_some_of_it_answered() -> None:
    stage = Stage()
    for _ in range(1000):
        stage.desk.hear(b"nonsense", retained=False, ask=None)
    assert len(stage.answers()) == REFUSALS_AT_ONCE
    assert stage.inbox.refused == {Refusal.MALFORMED: 1000}
    stage.now_s += 60.0
    stage.desk.hear_plain(b"nonsense", retained=False, ask=None)
    assert stage.answers() == [refused("none", WHY[Refusal.UNKNOWN_WORD])]


def test_a_slip_in_what_is_announced_is_answered_with_what_was_meant() -> None:
    stage = Stage()
    for words in (b"Announce added 200 kg", b"announce heat"):
        stage.desk.hear_plain(words, retained=False, ask=None)
    slip, unknown = stage.answers()
    assert slip["reason"].endswith("did you mean 200 g?")
    assert unknown["reason"] == WHY[Refusal.UNKNOWN_DEED]


def test_what_the_broker_kept_is_counted_and_not_answered() -> None:
    stage = Stage()
    for hear in (stage.desk.hear, stage.desk.hear_plain):
        assert hear(b'{"id":"a","command":"stop"}', retained=True, ask=None) is None
    assert stage.answers() == []
    assert stage.inbox.refused == {Refusal.RETAINED: 2}
    assert stage.take() == ()


def test_an_answer_to_a_question_that_is_over_is_refused() -> None:
    stage = Stage()
    assert stage.ask("a", "answer", choice="warm-on")
    assert stage.take(ask=None) == ()
    assert stage.answers() == [refused("a", WHY[Refusal.QUESTION_CHANGED])]


def test_an_answer_that_heats_reaches_the_loop_as_a_request() -> None:
    stage = Stage()
    stage.ask("a", "answer", choice="warm-on")
    (request,) = stage.take()
    assert (request.source, request.choice, request.ask_id) == (
        Source.REMOTE,
        "warm-on",
        "set-test",
    )


def test_what_adds_energy_and_waited_too_long_for_the_loop_is_refused(
    monkeypatch: Any,  # noqa: ANN401 - pytest's
) -> None:
    clock_s = [0.0]
    monkeypatch.setattr("controller.link.inbox.process_s", lambda: clock_s[0])
    stage = Stage()
    stage.ask("a", "resume")
    stage.ask("b", "pause")
    clock_s[0] = FRESH_S + 0.1
    assert [request.id for request in stage.take()] == ["b"]
    assert stage.answers() == [refused("a", WHY[Refusal.TOO_LATE])]


def test_the_token_changes_with_time_and_with_use_and_is_not_shown_in_mode_off() -> None:
    stage = Stage()
    first = stage.desk.token
    assert stage.desk.token == first
    stage.ask("a", "resume")
    second = stage.desk.token
    assert second != first
    stage.ask("b", "acknowledge")
    assert stage.desk.token == second
    stage.now_s += LIFE_S
    assert stage.desk.token != second
    assert Stage(Remote.OFF).desk.token == "none"


def test_a_wall_clock_that_jumps_changes_only_the_stamp() -> None:
    stage = Stage()
    years = iter([1970, 2099, 1980])
    stage.desk._wall_time = lambda: datetime(next(years), 1, 1, tzinfo=UTC)  # noqa: SLF001 - a clock set while it runs
    for id_ in "abc":
        assert stage.ask(id_, "resume")
        stage.take()
        stage.desk.settle(())
    assert [answer["result"] for answer in stage.answers()] == ["done"] * 3
