"""Heating over the link, through the shipped broker configuration: who can, and who never.

An onlooker knows every topic, the token included, and a cook may write; what a request may do is
decided by the machine file's `remote`.
"""

import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from controller.link import link as module
from controller.link.commands import WHY, Refusal
from controller.link.link import Link
from controller.link.settings import Remote
from controller.link.wishes import signature, wish_of
from controller.ports import Request, Source, Verb
from controller.service.broker import COOK, ONLOOKER
from tests.helpers.logs import listening_log
from tests.helpers.moments import SET_TEST, moment, profile, state
from tests.helpers.secured import DEVICE, Secured
from tests.helpers.watcher import Watcher

pytestmark = pytest.mark.mosquitto

BASE = f"homie/5/{DEVICE}"
SET = f"{BASE}/control/request/set"
KEY = "0123456789abcdef" * 4


@pytest.fixture(autouse=True)
def _impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "FIRST_PAUSE_S", 0.05)
    monkeypatch.setattr(module, "LONGEST_PAUSE_S", 0.1)


@pytest.fixture
def link(secured: Secured, tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[Link]:
    """A link in the mode that the test names, with a question open."""
    key = tmp_path / "signing.key"
    key.write_text(KEY, encoding="utf-8")
    key.chmod(0o600)
    remote: Remote = request.param
    settings = replace(secured.settings, remote=remote, signing_key_file=key)
    made = Link(settings, profile(), run_id="a", log=listening_log()[0])
    made.tell(moment(state(ask=SET_TEST)))
    made.start()
    yield made
    made.close(wait_s=0.5)


@pytest.fixture
def cook(secured: Secured, link: Link) -> Iterator[Watcher]:
    with Watcher(secured.port, login=secured.login(COOK)) as made:
        made.until_topic(f"{BASE}/$state", "ready")
        made.until("a token", lambda w: f"{BASE}/control/token" in w.topics)
        assert link.connected
        yield made


@pytest.fixture
def onlooker(secured: Secured, link: Link) -> Iterator[Watcher]:
    with Watcher(secured.port, login=secured.login(ONLOOKER)) as made:
        made.until_topic(f"{BASE}/$state", "ready")
        made.until("a token", lambda w: f"{BASE}/control/token" in w.topics)
        assert link.connected
        yield made


def body(watcher: Watcher, id_: str, command: str, **more: str) -> dict[str, str]:
    """A request with the token that is on show."""
    token = watcher.topics[f"{BASE}/control/token"]
    return {"id": id_, "command": command, "token": token, **more}


def signed(fields: dict[str, str], key: str = KEY) -> dict[str, str]:
    wish = wish_of(json.dumps(fields).encode())
    assert not isinstance(wish, Refusal)
    return {**fields, "mac": signature(key.encode(), wish)}


def send(watcher: Watcher, fields: dict[str, str], *, retain: bool = False) -> None:
    watcher.send(SET, json.dumps(fields), retain=retain)


def answer(watcher: Watcher, id_: str) -> dict[str, Any]:
    """The answer to a request, once it is there."""

    def found(w: Watcher) -> list[dict[str, Any]]:
        texts = [seen.payload for seen in w.seen if seen.topic == f"{BASE}/control/response"]
        return [one for one in map(json.loads, texts) if one["id"] == id_]

    watcher.until(f"an answer to {id_}", lambda w: bool(found(w)))
    return found(watcher)[-1]


def taken(link: Link, cook: Watcher) -> list[Request]:
    """What reached the loop, once a last request of the cook's has come through."""
    send(cook, body(cook, "last", "acknowledge"))
    cook.until_echo(f"{BASE}/control/request", '{"id": "last", "command": "acknowledge"}')
    return [request for request in link.take(0.0, SET_TEST) if request.id != "last"]


MODES = pytest.mark.parametrize("link", Remote, indirect=True)
DEEDS = {
    "start": {"profile": "dark"},
    "resume": {},
    "reset": {},
    "answer": {"choice": "warm-on"},
}
BEYOND = [
    {"command": "limit", "bath": "90 C"},
    {"command": "run", "profile": "../../etc/x.toml"},
    {"command": "heat"},
    {"command": "relay", "choice": "on"},
]


@MODES
def test_an_onlooker_who_reads_every_topic_can_do_nothing(
    link: Link, cook: Watcher, onlooker: Watcher
) -> None:
    for command, more in DEEDS.items():
        fields = body(onlooker, f"onlooker-{command}", command, **more)
        send(onlooker, fields)
        send(onlooker, signed(fields, key="guess" * 12))
    for number, more in enumerate(BEYOND):
        send(onlooker, {**body(onlooker, f"beyond-{number}", "x"), **more})
    onlooker.send(f"{BASE}/control/command/set", "stop")
    assert taken(link, cook) == []
    assert link.refused == {}  # the broker let nothing through


@pytest.mark.parametrize("link", [Remote.OFF], indirect=True)
def test_in_mode_off_a_cook_can_not_heat_either(link: Link, cook: Watcher) -> None:
    for command, more in DEEDS.items():
        send(cook, body(cook, f"cook-{command}", command, **more))
        send(cook, signed(body(cook, f"signed-{command}", command, **more)))
    expected = {"start": Refusal.ONLY_HERE, "reset": Refusal.ONLY_HERE}
    for command in DEEDS:
        for prefix in ("cook", "signed"):
            said = answer(cook, f"{prefix}-{command}")
            assert said["result"] == "refused"
            assert said["reason"] == WHY[expected.get(command, Refusal.REMOTE_OFF)]
    assert taken(link, cook) == []


@MODES
def test_no_cook_reaches_beyond_what_a_request_may_do(link: Link, cook: Watcher) -> None:
    for number, more in enumerate(BEYOND):
        send(cook, {**body(cook, f"beyond-{number}", "x"), **more})
    for command in ("start", "reset"):
        send(cook, signed(body(cook, command, command, profile="dark")))
        assert answer(cook, command)["reason"] == WHY[Refusal.ONLY_HERE]
    assert taken(link, cook) == []
    assert link.refused[Refusal.MALFORMED] == len(BEYOND)


@pytest.mark.parametrize("link", [Remote.ACCESS_LIST], indirect=True)
def test_a_cook_on_the_access_list_goes_on_with_a_run_once(link: Link, cook: Watcher) -> None:
    fields = body(cook, "one", "resume")
    send(cook, fields)
    send(cook, fields)
    send(cook, {**fields, "id": "two"})
    assert taken(link, cook) == [Request(verb=Verb.RESUME, source=Source.REMOTE, id="one")]
    link.tell(moment(state(ask=SET_TEST, run_s=200.0)))
    assert answer(cook, "one")["result"] == "done"
    assert answer(cook, "two")["reason"] == WHY[Refusal.STALE_TOKEN]
    cook.until("a new token", lambda w: w.topics[f"{BASE}/control/token"] != fields["token"])


@pytest.mark.parametrize("link", [Remote.SIGNED], indirect=True)
def test_where_requests_are_signed_the_access_list_alone_does_not_heat(
    link: Link, cook: Watcher
) -> None:
    send(cook, body(cook, "plain", "resume"))
    send(cook, signed(body(cook, "wrong", "resume"), key="f" * 64))
    send(cook, signed(body(cook, "another", "answer", choice="warm-on", ask="power-cut")))
    send(cook, signed(body(cook, "unnamed", "answer", choice="warm-on")))
    send(cook, signed(body(cook, "right", "answer", choice="warm-on", ask=SET_TEST.id)))
    assert answer(cook, "another")["reason"] == WHY[Refusal.QUESTION_CHANGED]
    assert answer(cook, "unnamed")["reason"] == WHY[Refusal.ASK_UNNAMED]
    for id_ in ("plain", "wrong"):
        assert answer(cook, id_)["reason"] == WHY[Refusal.BAD_SIGNATURE]
    (request,) = taken(link, cook)
    assert (request.id, request.source, request.choice) == ("right", Source.REMOTE, "warm-on")


@pytest.mark.parametrize("link", [Remote.ACCESS_LIST], indirect=True)
def test_a_request_that_the_broker_kept_is_never_executed(
    secured: Secured, link: Link, cook: Watcher
) -> None:
    send(cook, body(cook, "kept", "resume"), retain=True)
    link.take(0.0, SET_TEST)
    link.close()
    again = Link(
        replace(secured.settings, remote=Remote.ACCESS_LIST),
        profile(),
        run_id="b",
        log=listening_log()[0],
    )
    again.tell(moment(state(ask=SET_TEST, run_s=777.0)))
    again.start()
    cook.until_topic(f"{BASE}/run/elapsed", "777")
    cook.until_topic(f"{BASE}/$state", "ready")
    assert taken(again, cook) == []
    assert again.refused == {Refusal.RETAINED: 1}
    again.close(wait_s=0.5)
