"""What one connection shows, message by message, on a sender that only takes notes."""

import json
import math
from collections.abc import Callable
from functools import partial

from controller.core.state import EventName, Mode
from controller.core.words import trip_sentence
from controller.link.chronicle import Chronicle
from controller.link.commands import WHY, Refusal
from controller.link.desk import Desk
from controller.link.inbox import Inbox
from controller.link.publisher import LONGEST, RESERVE, Publisher
from controller.link.settings import Remote
from controller.link.tokens import Tokens
from controller.link.tree import tree
from controller.link.wishes import Gate
from controller.ports import Event, Reading, Verb, missing
from tests.helpers.logs import listening_log
from tests.helpers.moments import SET_TEST, TRIP, moment, profile, state
from tests.helpers.records import replace

BASE = "homie/5/kitchen"
SET = f"{BASE}/control/command/set"


class Notes:
    """A sender whose messages stay here."""

    def __init__(self) -> None:
        """No message yet, and room for all."""
        self.sent: list[tuple[str, str, bool]] = []
        self.subscribed: tuple[str, ...] = ()
        self.then: Callable[[bool], None] = lambda _: None
        self.room = 256

    def publish(self, topic: str, payload: str, *, retain: bool = True) -> None:
        """Note one message."""
        self.sent.append((topic.removeprefix(f"{BASE}/"), payload, retain))

    def subscribe(self, topics: tuple[str, ...], then: Callable[[bool], None]) -> None:
        """Note what was asked for; the test answers through `then`."""
        self.subscribed, self.then = topics, then

    def drain(self) -> list[tuple[str, str]]:
        """Topics and payloads noted since the last call."""
        drained = [(topic, payload) for topic, payload, _ in self.sent]
        self.sent.clear()
        return drained


class Stage:
    """A publisher with its notes, inbox and log."""

    def __init__(self, *, hub: bool = False, fahrenheit: bool = False) -> None:
        """Nothing is shown yet."""
        self.notes = Notes()
        log, self.lines = listening_log()
        self.inbox = Inbox(log)
        self.chronicle = Chronicle()
        gate = Gate(remote=Remote.OFF, key=b"", tokens=Tokens(0.0))
        desk = Desk(gate, self.inbox)
        self.publisher = Publisher(
            self.notes,
            device_id="kitchen",
            tree_for=lambda fitted: tree(profile(), run_id="a", fitted=fitted, desk=desk),
            desk=desk,
            chronicle=self.chronicle,
            hub=hub,
            fahrenheit=fahrenheit,
            log=log,
        )
        self.show = partial(self.publisher.show, now_s=0.0)

    def make_ready(self) -> None:
        """Announce a run whose set test is open."""
        self.show(moment(state(ask=SET_TEST)))
        self.notes.then(True)
        self.notes.drain()


def test_a_device_is_announced_in_homies_order() -> None:
    stage = Stage()
    stage.show(moment())
    topics = [topic for topic, _ in stage.notes.drain()]
    assert topics[:2] == ["$state", "$description"]
    assert "bowl/temperature" in topics[2:]
    assert "$state" not in topics[2:]  # not ready before /set is subscribed
    assert SET in stage.notes.subscribed
    stage.notes.then(True)
    assert stage.notes.drain() == [("$state", "ready")]


def test_everything_that_describes_the_device_is_kept_by_the_broker() -> None:
    stage = Stage()
    stage.show(moment(state(trips=(TRIP,))))
    stage.notes.then(True)
    assert {retain for _, _, retain in stage.notes.sent} == {True}


def test_a_refused_subscription_is_logged_and_the_values_still_count() -> None:
    stage = Stage()
    stage.show(moment())
    stage.notes.drain()
    stage.notes.then(False)
    assert stage.notes.drain() == [("$state", "ready")]
    assert stage.lines[0]["event"] == "subscription_refused"


def test_the_same_moment_is_shown_once() -> None:
    stage = Stage()
    once = moment()
    stage.show(once)
    stage.notes.drain()
    stage.show(once)
    assert stage.notes.drain() == []


def test_later_only_changes_are_sent() -> None:
    stage = Stage()
    stage.make_ready()
    stage.show(moment(state(ask=None)))
    assert dict(stage.notes.drain()).keys() == {
        "ask/question",
        "ask/choices",
        "ask/heating",
        "ask/id",
        "run/headline",
        "run/summary",
    }


def test_with_no_room_left_values_wait() -> None:
    stage = Stage()
    stage.make_ready()
    stage.notes.room = RESERVE
    stage.show(moment())
    assert stage.notes.drain() == []
    stage.notes.room = RESERVE + 1
    stage.show(moment())
    assert stage.notes.drain() != []


def test_a_load_seen_later_is_described_anew_while_not_ready() -> None:
    stage = Stage()
    stage.make_ready()
    stage.show(moment(load_w=1.5))
    sent = stage.notes.drain()
    assert [payload for topic, payload in sent if topic == "$state"] == ["init"]
    assert ("stirrer/load", "1.50") in sent
    stage.notes.then(True)
    assert stage.notes.drain() == [("$state", "ready")]
    stage.show(moment(load_w=None))
    assert ("stirrer/load", "") in stage.notes.drain()


def test_a_value_that_an_earlier_run_left_and_this_one_lacks_is_taken_off_the_broker() -> None:
    stage = Stage()
    stage.show(moment(state(bowl_c=math.nan)))
    assert ("bowl/temperature", "") in stage.notes.drain()


def test_parts_that_an_earlier_run_had_are_taken_off_the_broker() -> None:
    stage = Stage()
    stage.show(moment(lid=Reading(1.0)))
    sent = stage.notes.drain()
    assert {topic for topic, payload in sent if not payload} >= {"stirrer/load", "stop/pressed"}
    assert ("lid/open", "false") in sent
    stage.notes.then(True)
    stage.notes.drain()
    stage.show(moment(lid=missing()))
    assert stage.notes.drain() == [("lid/open", "")]


def test_a_text_too_long_for_a_small_broker_is_cut() -> None:
    stage = Stage()
    long = replace(SET_TEST, text="ä" * (LONGEST + 1))
    wordy = replace(TRIP, what="ö" * (LONGEST + 1))
    stage.show(moment(state(ask=long, trips=(wordy,))))
    sent = dict(stage.notes.drain())
    assert sent["ask/question"] == "ä" * LONGEST
    assert sent["$alert/level-lost"] == ("Heat is off. " + "ö" * LONGEST)[:LONGEST]


def test_an_alert_stands_while_the_trip_does() -> None:
    stage = Stage()
    stage.make_ready()
    stage.show(moment(state(trips=(TRIP,), ask=SET_TEST)))
    assert ("$alert/level-lost", trip_sentence(TRIP)) in stage.notes.drain()
    stage.show(moment(state(trips=(TRIP,), ask=SET_TEST, run_s=126.0)))
    assert "$alert/level-lost" not in dict(stage.notes.drain())
    stage.show(moment(state(ask=SET_TEST)))
    assert ("$alert/level-lost", "") in stage.notes.drain()


def test_an_alert_is_in_fahrenheit_where_the_machine_speaks_so() -> None:
    stage = Stage(fahrenheit=True)
    trip = replace(TRIP, what="The bath is at 71.0 °C.")
    stage.show(moment(state(trips=(trip,), mode=Mode.ABORTED)))
    assert "The bath is at 159.8 °F." in dict(stage.notes.drain())["$alert/level-lost"]


def test_an_alert_of_an_earlier_run_is_taken_off_the_broker() -> None:
    stage = Stage()
    stage.show(moment(state(trips=(TRIP,))))
    stage.notes.drain()
    stage.publisher.hear(f"{BASE}/$alert/tick-late", b"old", True)
    stage.publisher.hear(f"{BASE}/$alert/level-lost", b"ours", True)
    stage.publisher.hear(f"{BASE}/$alert/phase-late", b"", False)
    assert stage.notes.drain() == [("$alert/tick-late", "")]


def test_an_old_will_that_comes_late_is_overruled() -> None:
    stage = Stage()
    stage.make_ready()
    stage.publisher.hear(f"{BASE}/$state", b"lost", False)
    assert stage.notes.drain() == [("$state", "ready")]
    stage.publisher.hear(f"{BASE}/$state", b"ready", False)
    assert stage.notes.drain() == []


def test_a_lost_seen_before_ready_changes_nothing() -> None:
    stage = Stage()
    stage.show(moment())
    stage.notes.drain()
    stage.publisher.hear(f"{BASE}/$state", b"lost", True)
    assert stage.notes.drain() == []


def test_a_command_is_echoed_once_taken_and_not_kept() -> None:
    stage = Stage()
    stage.make_ready()
    stage.publisher.hear(SET, b"Answer Yes", False)
    assert stage.notes.sent == [("control/command", "answer yes", False)]
    assert [request.choice for request in stage.inbox.take(SET_TEST)] == ["yes"]


def test_a_refused_command_is_not_echoed() -> None:
    stage = Stage()
    stage.make_ready()
    stage.publisher.hear(SET, b"stop", True)
    assert stage.notes.drain() == []
    assert stage.inbox.refused == {Refusal.RETAINED: 1}


def test_without_room_a_command_is_taken_and_not_echoed() -> None:
    stage = Stage()
    stage.make_ready()
    stage.notes.room = 0
    stage.publisher.hear(SET, b"stop", False)
    assert stage.notes.drain() == []
    assert [request.verb for request in stage.inbox.take(None)] == [Verb.STOP]


def test_a_command_before_the_first_moment_is_judged_without_a_question() -> None:
    stage = Stage()
    stage.publisher.hear(SET, b"answer yes", False)
    assert stage.inbox.refused == {Refusal.NO_QUESTION: 1}


def test_a_message_on_a_topic_that_is_no_text_is_counted() -> None:
    stage = Stage()
    stage.publisher.hear("", b"stop", False)
    assert stage.inbox.refused == {Refusal.BAD_TOPIC: 1}


def test_the_last_moment_is_shown_whole_whatever_the_intervals() -> None:
    stage = Stage()
    last = moment(state(bowl_c=43.22))
    stage.show(moment())
    stage.notes.drain()
    stage.publisher.show_last(last, 0.0)
    assert ("bowl/temperature", "43.22") in stage.notes.drain()


def test_a_last_moment_that_is_also_the_first_is_announced() -> None:
    stage = Stage()
    stage.publisher.show_last(moment(), 0.0)
    topics = [topic for topic, _ in stage.notes.drain()]
    assert topics[:2] == ["$state", "$description"]


def test_after_goodbye_the_own_will_is_not_overruled() -> None:
    stage = Stage()
    stage.make_ready()
    stage.publisher.say_goodbye()
    stage.publisher.hear(f"{BASE}/$state", b"lost", False)
    assert stage.notes.drain() == [("$state", "disconnected")]


def test_a_hub_is_told_where_everything_is_before_the_device_is_ready() -> None:
    stage = Stage(hub=True)
    stage.show(moment())
    told = [(topic, retain) for topic, _, retain in stage.notes.sent if "homeassistant" in topic]
    assert told == [("homeassistant/device/kitchen/config", True)]
    assert stage.notes.drain()[-1][0] == told[0][0]


def test_without_a_hub_nothing_is_said_to_one() -> None:
    stage = Stage()
    stage.show(moment())
    assert not [topic for topic, _ in stage.notes.drain() if "homeassistant" in topic]


def test_a_request_is_echoed_without_its_token_and_answered() -> None:
    stage = Stage()
    stage.make_ready()
    request = b'{"id": "a", "command": "resume", "token": "t"}'
    stage.publisher.hear(f"{BASE}/control/request/set", request, False)
    stage.publisher.hear(f"{BASE}/control/request/set", request.replace(b"resume", b"pause"), False)
    stage.publisher.answer()
    sent = stage.notes.drain()
    assert sent[0] == ("control/request", '{"id": "a", "command": "pause"}')
    assert sent[1][0] == "control/response"
    assert json.loads(sent[1][1])["reason"] == WHY[Refusal.REMOTE_OFF]
    stage.show(moment())
    assert "control/response" not in dict(stage.notes.drain())  # it was said already


def test_answers_and_log_lines_wait_for_room() -> None:
    stage = Stage()
    stage.make_ready()
    stage.chronicle.note((Event(name=EventName.DWELL_ENDED, facts={}),))
    stage.publisher.hear(SET, b"nonsense", False)
    stage.notes.room = RESERVE
    stage.publisher.answer()
    assert stage.notes.drain() == []
    stage.notes.room = RESERVE + 1
    stage.publisher.answer()
    assert [topic for topic, _ in stage.notes.drain()] == [
        "control/response",
        "control/token",
        "$log/info",
    ]


def test_a_stop_is_echoed_where_other_commands_are_not_any_more() -> None:
    stage = Stage()
    stage.make_ready()
    stage.notes.room = RESERVE
    stage.publisher.hear(SET, b"pause", False)
    stage.publisher.hear(SET, b"stop", False)
    assert stage.notes.drain() == [("control/command", "stop")]


def test_a_flood_of_lies_about_our_state_is_answered_once_there_is_room() -> None:
    stage = Stage()
    stage.make_ready()
    stage.notes.room = RESERVE
    for _ in range(1000):
        stage.publisher.hear(f"{BASE}/$state", b"lost", False)
    assert stage.notes.drain() == []
    stage.notes.room = RESERVE + 1
    stage.publisher.answer()
    stage.publisher.answer()
    assert stage.notes.drain() == [("$state", "ready")]


def test_a_flood_of_old_alerts_leaves_room_for_what_counts() -> None:
    stage = Stage()
    stage.make_ready()
    stage.notes.room = RESERVE
    stage.publisher.hear(f"{BASE}/$alert/old", b"x", True)
    assert stage.notes.drain() == []
