"""The link against real brokers, seen by a client of its own."""

import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from controller.core.outlook import Outlook
from controller.core.state import Event, EventName, Mode
from controller.core.words import trip_sentence
from controller.link import link as module
from controller.link.commands import Refusal
from controller.link.link import Link
from controller.link.settings import LinkSettings
from controller.ports import Question, Request, Verb
from tests.helpers.brokers import Broker, Mosquitto
from tests.helpers.homie import faults_in_device, parsed, properties
from tests.helpers.logs import listening_log
from tests.helpers.moments import SET_TEST, TRIP, moment, profile, state
from tests.helpers.records import replace
from tests.helpers.watcher import Watcher

BASE = "homie/5/bainward"
SET = f"{BASE}/control/command/set"
ROOT = Path(__file__).parents[2]
BEGAN = "2026-01-01T06:00:00+00:00"
# What has no value yet: the rate takes half a minute of ticks, the working time a batch in temper.
NOT_YET = ("bowl/rate", "temper/working-time", "temper/working-time-least")
SOON = Outlook(early_s=3000.0, likely_s=3600.0, late_s=4800.0)


@pytest.fixture(autouse=True)
def _impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "FIRST_PAUSE_S", 0.05)
    monkeypatch.setattr(module, "LONGEST_PAUSE_S", 0.1)


def make(port: int, *, fahrenheit: bool = False) -> Link:
    settings = LinkSettings(port=port, fahrenheit=fahrenheit)
    return Link(settings, profile(), run_id="a", began_utc=BEGAN, log=listening_log()[0])


@pytest.fixture
def link(broker: Broker) -> Iterator[Link]:
    made = make(broker.port)
    yield made
    made.close(wait_s=0.5)


@pytest.fixture
def watcher(broker: Broker) -> Iterator[Watcher]:
    with Watcher(broker.port, mqtt5=broker.mqtt5) as made:
        yield made


def run_until_ready(link: Link, watcher: Watcher, ask: Question | None = None) -> None:
    link.tell(moment(state(ask=ask, outlook=SOON)))
    link.start()
    watcher.until_topic(f"{BASE}/$state", "ready")


def take_until(link: Link, watcher: Watcher, count: int) -> list[Request]:
    """Commands as the loop would take them, once the watcher has seen `count` echoes."""
    watcher.until(f"{count} echoes", lambda w: len(echoes(w)) >= count)
    return list(link.take(0.0, SET_TEST))


def echoes(watcher: Watcher) -> list[str]:
    return [seen.payload for seen in watcher.seen if seen.topic == f"{BASE}/control/command"]


def described(watcher: Watcher) -> set[str]:
    """The kept topics that the description speaks of; none while there is no description."""
    text = watcher.topics.get(f"{BASE}/$description")
    if text is None:
        return set()
    kept = {f"{BASE}/{path}" for path, row in properties(parsed(text)[0]) if row["retained"]}
    return kept - {f"{BASE}/{path}" for path in NOT_YET}


def valued(watcher: Watcher) -> set[str]:
    """The topics that have a value, leaving aside the device's own."""
    return {topic for topic in watcher.topics if "$" not in topic}


def test_a_phone_that_comes_late_sees_the_whole_tree(
    broker: Broker, link: Link, watcher: Watcher
) -> None:
    run_until_ready(link, watcher)
    with Watcher(broker.port, mqtt5=broker.mqtt5) as late:
        late.until("the whole tree", lambda w: described(w) == valued(w) != set())
        late.until_topic(f"{BASE}/$state", "ready")
    assert {seen.retained for seen in late.seen} == {True}
    assert faults_in_device(late.topics, "bainward") == []
    assert late.topics[f"{BASE}/run/headline"] == (
        "Melting: 43.2 °C, on the way to 50.0 °C; ready in 58 min (48 to 78)"
    )
    assert late.topics[f"{BASE}/run/ready-late"] == "2026-01-01T07:20:00+00:00"
    assert link.connected


def test_the_device_becomes_ready_after_all_else(link: Link, watcher: Watcher) -> None:
    run_until_ready(link, watcher)
    order = [seen.topic.removeprefix(f"{BASE}/") for seen in watcher.seen]
    assert order[:2] == ["$state", "$description"]
    assert order[-1] == "$state"
    assert order.count("$state") == 2


def test_changes_follow(link: Link, watcher: Watcher) -> None:
    run_until_ready(link, watcher)
    link.tell(moment(state(ask=SET_TEST, mode=Mode.PAUSED, trips=(TRIP,))))
    watcher.until_topic(f"{BASE}/ask/question", SET_TEST.text)
    watcher.until_topic(f"{BASE}/run/state", "paused")
    watcher.until_topic(f"{BASE}/$alert/level-lost", trip_sentence(TRIP))
    link.tell(moment())
    watcher.until("the alert gone", lambda w: f"{BASE}/$alert/level-lost" not in w.topics)


def test_what_happens_is_logged_for_who_is_there_and_for_nobody_later(
    broker: Broker, link: Link, watcher: Watcher
) -> None:
    tripped = Event(name=EventName.TRIP_LATCHED, facts={"cause": "level-lost"})
    link.tell(moment(events=(tripped,)))  # before anybody listened
    run_until_ready(link, watcher)
    link.tell(moment(events=(Event(name=EventName.PHASE_ENTERED, facts={"phase": "hold"}),)))
    watcher.until_echo(f"{BASE}/$log/info", "phase entered: phase hold")
    logged = [seen for seen in watcher.seen if "$log" in seen.topic]
    assert [seen.retained for seen in logged] == [False]
    with Watcher(broker.port, mqtt5=broker.mqtt5) as late:
        late.until_topic(f"{BASE}/$state", "ready")
        assert not [seen for seen in late.seen if "$log" in seen.topic]


def test_fahrenheit_reaches_the_phone(broker: Broker, watcher: Watcher) -> None:
    link = make(broker.port, fahrenheit=True)
    run_until_ready(link, watcher)
    watcher.until_topic(f"{BASE}/bath/temperature", "131.00")
    assert faults_in_device(watcher.topics, "bainward") == []
    link.close()


def test_plain_commands_arrive(link: Link, watcher: Watcher) -> None:
    run_until_ready(link, watcher, SET_TEST)
    for word in ("pause", "acknowledge", "answer yes", "Stop"):
        watcher.send(SET, word)
    taken = take_until(link, watcher, 4)
    assert [request.verb for request in taken] == [
        Verb.STOP,
        Verb.PAUSE,
        Verb.ACKNOWLEDGE,
        Verb.ANSWER,
    ]
    assert taken[-1].choice == "yes"
    assert echoes(watcher) == ["pause", "acknowledge", "answer yes", "stop"]


def test_a_command_that_the_broker_kept_is_never_executed(
    broker: Broker, link: Link, watcher: Watcher
) -> None:
    watcher.send(SET, "stop", retain=True)
    run_until_ready(link, watcher)
    watcher.send(SET, "pause")
    assert [request.verb for request in take_until(link, watcher, 1)] == [Verb.PAUSE]
    assert link.refused == {Refusal.RETAINED: 1}
    assert broker.port


def test_a_command_sent_while_the_link_was_away_is_never_executed(
    broker: Broker, link: Link, watcher: Watcher
) -> None:
    run_until_ready(link, watcher)
    link.close()
    watcher.until_topic(f"{BASE}/$state", "disconnected")
    watcher.send(SET, "stop")
    again = make(broker.port)
    run_until_ready(again, watcher)
    watcher.send(SET, "pause")
    assert [request.verb for request in take_until(again, watcher, 1)] == [Verb.PAUSE]
    again.close()


GARBAGE = [
    b"",
    b"start",
    b"\xff\xfe\x00",
    b"\x00",
    b"x" * 257,
    b"x" * 15_000,
    b"[" * 10_000,
    b'{"command": "start"}',
    b"answer",
    b"answer warm-on",
    "Stöpp".encode("utf-16"),
]


def test_garbage_is_counted_and_survived(link: Link, watcher: Watcher) -> None:
    run_until_ready(link, watcher, SET_TEST)
    for payload in GARBAGE:
        watcher.send(SET, payload)
    watcher.send(SET, "pause")
    assert [request.verb for request in take_until(link, watcher, 1)] == [Verb.PAUSE]
    assert sum(link.refused.values()) == len(GARBAGE)
    assert link.refused[Refusal.ADDS_ENERGY] == 1
    assert link.connected


def test_a_flood_does_not_keep_a_stop_away(link: Link, watcher: Watcher) -> None:
    run_until_ready(link, watcher)
    watcher.flood(SET, b"pause", 900)
    watcher.send(SET, "stop")
    watcher.until("the stop's echo", lambda w: "stop" in echoes(w))
    assert link.take(0.0, None)[0].verb is Verb.STOP
    assert link.connected


def test_an_alert_left_by_a_run_that_died_is_taken_away(link: Link, watcher: Watcher) -> None:
    watcher.send(f"{BASE}/$alert/tick-late", "old", retain=True)
    run_until_ready(link, watcher)
    watcher.until("no old alert", lambda w: f"{BASE}/$alert/tick-late" not in w.topics)


@pytest.mark.parametrize("lie", ["lost", "disconnected", "init", "nonsense"])
def test_what_somebody_else_says_of_our_state_is_corrected(
    link: Link, watcher: Watcher, lie: str
) -> None:
    run_until_ready(link, watcher)
    watcher.send(f"{BASE}/$state", lie, retain=True)
    watcher.until(
        "ready after a lie",
        lambda w: [s.payload for s in w.seen if s.topic == f"{BASE}/$state"][-2:] == [lie, "ready"],
    )


def test_the_tree_comes_back_with_the_broker(broker: Broker, link: Link) -> None:
    with Watcher(broker.port, mqtt5=broker.mqtt5) as before:
        run_until_ready(link, before)
    broker.kill()
    link.tell(moment(state(bowl_c=44.0)))
    broker.start()
    with Watcher(broker.port, mqtt5=broker.mqtt5) as after:
        after.until_topic(f"{BASE}/$state", "ready")
        after.until_topic(f"{BASE}/bowl/temperature", "44.00")
        after.until_topic(f"{BASE}/safety/heartbeat", "1000")
        assert faults_in_device(after.topics, "bainward") == []
        after.send(SET, "pause")
        assert [request.verb for request in take_until(link, after, 1)] == [Verb.PAUSE]


def test_a_broker_that_is_away_at_first_is_found_later(broker: Broker, link: Link) -> None:
    broker.kill()
    link.tell(moment())
    link.start()
    assert not link.connected
    broker.start()
    with Watcher(broker.port, mqtt5=broker.mqtt5) as watcher:
        watcher.until_topic(f"{BASE}/$state", "ready")


def test_a_clean_end_shows_the_last_tick_before_it_disconnects(
    broker: Broker, link: Link, watcher: Watcher
) -> None:
    run_until_ready(link, watcher)
    link.tell(moment(state(mode=Mode.COMPLETE, bowl_c=31.51), heater_on=False))
    link.close()
    watcher.until_topic(f"{BASE}/$state", "disconnected")
    assert watcher.topics[f"{BASE}/run/state"] == "complete"
    assert watcher.topics[f"{BASE}/bowl/temperature"] == "31.51"
    assert watcher.topics[f"{BASE}/heater/relay"] == "false"
    assert watcher.seen[-1].topic == f"{BASE}/$state"
    assert not link.connected
    with Watcher(broker.port, mqtt5=broker.mqtt5) as late:
        late.until_topic(f"{BASE}/$state", "disconnected")
        late.until_topic(f"{BASE}/bowl/temperature", "31.51")


def test_a_link_that_was_told_nothing_still_says_goodbye(link: Link, watcher: Watcher) -> None:
    link.start()
    watcher.until("nothing, for a start", lambda _: True)
    while not link.connected:
        watcher.send("homie/5/other/x", "1")
    link.close()
    watcher.until_topic(f"{BASE}/$state", "disconnected")


@pytest.fixture
def process(mosquitto: Mosquitto) -> Iterator[subprocess.Popen[bytes]]:
    """Another process that holds a link under the same device id."""
    made = subprocess.Popen(
        [sys.executable, "-m", "tests.helpers.link_process", str(mosquitto.port)],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )
    yield made
    made.kill()
    made.wait()


@pytest.mark.mosquitto
def test_a_killed_process_is_announced_as_lost(
    mosquitto: Mosquitto, process: subprocess.Popen[bytes]
) -> None:
    with Watcher(mosquitto.port, mqtt5=True) as watcher:
        watcher.until_topic(f"{BASE}/$state", "ready")
        process.send_signal(signal.SIGKILL)
        watcher.until_topic(f"{BASE}/$state", "lost")
    with Watcher(mosquitto.port, mqtt5=True) as late:
        late.until_topic(f"{BASE}/$state", "lost")


@pytest.mark.mosquitto
def test_a_start_beside_a_frozen_predecessor_ends_ready(
    mosquitto: Mosquitto, process: subprocess.Popen[bytes]
) -> None:
    """The same client id makes the broker send the old will before it welcomes the new link."""
    with Watcher(mosquitto.port, mqtt5=True) as watcher:
        watcher.until_topic(f"{BASE}/$state", "ready")
        process.send_signal(signal.SIGSTOP)
        link = make(mosquitto.port)
        link.tell(moment(state(run_s=777.0)))
        link.start()
        watcher.until_topic(f"{BASE}/run/elapsed", "777")
        watcher.until_topic(f"{BASE}/$state", "ready")
        states = [seen.payload for seen in watcher.seen if seen.topic == f"{BASE}/$state"]
        assert states[-3:] == ["lost", "init", "ready"]
        link.close()


@pytest.mark.mosquitto
def test_a_frozen_broker_holds_up_neither_the_loop_nor_the_end(mosquitto: Mosquitto) -> None:
    link = make(mosquitto.port)
    with Watcher(mosquitto.port, mqtt5=True) as watcher:
        run_until_ready(link, watcher)
        mosquitto.signal(signal.SIGSTOP)
        plain = moment()
        for second in range(50_000):
            link.tell(replace(plain, now_s=float(second)))
            assert link.take(0.0, None) == ()
        link.close(wait_s=0.2)
        mosquitto.signal(signal.SIGCONT)
        watcher.until_topic(f"{BASE}/$state", "lost")
