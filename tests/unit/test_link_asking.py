"""Asking a run over the link, on a session that only plays the broker's part."""

import json
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from controller.errors import HardwareError, MachineFileError, UsageError
from controller.link import asking
from controller.link.asking import ask_run
from controller.link.session import LinkLostError
from controller.link.settings import LinkSettings, Remote
from controller.link.wishes import Command, Wish, signature, wish_of

BASE = "homie/5/kitchen"
SETTINGS = LinkSettings(device_id="kitchen")
KEY = "k" * 40


class Played:
    """A session whose broker knows a machine, and whose run answers as it is told to."""

    names: list[str] = []  # noqa: RUF012 - the test's own, cleared by each
    state: str | None = "ready"
    kept = '{"id": "somebody-elses", "result": "done"}'
    result: str | None = "done"
    reason = "It is cold."
    breaks = False
    comes = False  # a machine that says init is ready a moment later

    def __init__(self, settings: LinkSettings, *, password: object, tls: object) -> None:
        """As the real one."""
        self.names.append(settings.device_id)
        assert password is None
        assert tls is None
        self.asked: Wish | None = None
        self.has_left = False

    def open(self, heard: Callable[[str, bytes, bool], None]) -> None:
        """Come in, or not."""
        self.heard = heard
        if self.breaks:
            raise LinkLostError("nobody there")

    def subscribe(self, topics: tuple[str, ...], then: Callable[[bool], None]) -> None:
        """Show what is kept."""
        assert f"{BASE}/control/response" in topics
        then(True)
        if self.state is not None:
            self.heard(f"{BASE}/$state", self.state.encode(), True)
            self.heard(f"{BASE}/control/token", b"the-token", True)
            if f"{BASE}/ask/id" in topics:
                self.heard(f"{BASE}/ask/id", b"set-test", True)
            self.heard(f"{BASE}/control/response", self.kept.encode(), True)

    def publish(self, topic: str, payload: str, *, retain: bool) -> None:
        """Take the request."""
        assert (topic, retain) == (f"{BASE}/control/request/set", False)
        wish = wish_of(payload.encode())
        assert isinstance(wish, Wish)
        type(self).last = wish
        self.asked = wish

    last: Wish

    def step(self, _wait_s: float) -> None:
        """Let the run answer: nonsense and somebody else first."""
        if self.comes:
            self.heard(f"{BASE}/$state", b"ready", True)
        if self.asked is not None and self.result is not None:
            for said in ("{", json.dumps({"id": "x"}), self._answer(self.asked.id)):
                self.heard(f"{BASE}/control/response", said.encode(), False)

    def _answer(self, id_: str) -> str:
        return json.dumps({"id": id_, "result": self.result, "reason": self.reason, "at": ""})

    def leave(self) -> None:
        """Say goodbye."""
        self.has_left = True

    def drop(self) -> None:
        """Hang up, after a goodbye."""
        assert self.has_left


@pytest.fixture(autouse=True)
def _played(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(asking, "Session", Played)
    monkeypatch.setattr(asking, "FIND_S", 0.0)
    monkeypatch.setattr(asking, "ANSWER_S", 0.05)
    monkeypatch.setattr(Played, "names", [])


def test_a_request_repeats_the_token_and_is_answered() -> None:
    assert ask_run(SETTINGS, Command.ANSWER, "longer") == "answer"
    assert (Played.last.token, Played.last.choice, Played.last.mac) == ("the-token", "longer", "")
    assert Played.last.ask == "set-test"


def test_a_machine_that_has_just_found_its_broker_is_waited_for(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(asking, "FIND_S", 1.0)
    monkeypatch.setattr(Played, "state", "init")
    monkeypatch.setattr(Played, "comes", True)
    assert ask_run(SETTINGS, Command.ANSWER, "longer") == "answer"


def test_a_guest_never_comes_under_the_machine_s_own_name() -> None:
    ask_run(SETTINGS, Command.STOP)
    ask_run(SETTINGS, Command.STOP)
    assert len({*Played.names, "kitchen"}) == 3


def test_a_request_is_signed_where_the_machine_file_says_so(tmp_path: Any) -> None:  # noqa: ANN401 - pytest's
    key = tmp_path / "key"
    key.write_text(KEY, encoding="utf-8")
    key.chmod(0o600)
    settings = LinkSettings(device_id="kitchen", remote=Remote.SIGNED, signing_key_file=key)
    ask_run(settings, Command.RESUME)
    assert (Played.last.ask, len(Played.last.mac)) == ("", 64)
    assert Played.last.mac == signature(KEY.encode(), Played.last)


def test_nothing_is_asked_where_the_password_would_go_in_plain() -> None:
    settings = replace(SETTINGS, host="kitchen.local", password_variable="COOK_WORD")
    with pytest.raises(MachineFileError, match="in plain over the network"):
        ask_run(settings, Command.STOP)
    assert Played.names == []


def test_a_broker_s_words_stay_one_short_line(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Played, "state", "\nbainward: all is well\n" + "x" * 60_000)
    with pytest.raises(HardwareError, match="The machine says bainward: all is well xxx") as caught:
        ask_run(SETTINGS, Command.STOP)
    assert "\n" not in str(caught.value)
    assert len(str(caught.value)) < 300
    monkeypatch.setattr(Played, "state", "ready")
    monkeypatch.setattr(Played, "result", "refused")
    monkeypatch.setattr(Played, "reason", "No.\n" + "x" * 60_000)
    with pytest.raises(UsageError, match=r"^The run refused: No\. x+$") as refused:
        ask_run(SETTINGS, Command.STOP)
    assert len(str(refused.value)) < 300


def test_what_nobody_asked_the_broker_for_is_not_kept() -> None:
    heard = asking._Heard(BASE)  # noqa: SLF001 - nothing else shows what is kept
    heard(f"{BASE}/ask/id", b"set-test", True)
    for number in range(1000):
        heard(f"{BASE}/{number}", b"x" * 60_000, False)
    assert heard.told == {"ask/id": "set-test"}


TROUBLES: list[tuple[dict[str, object], type[Exception], str]] = [
    ({"result": "refused"}, UsageError, "The run refused: It is cold."),
    ({"result": None}, HardwareError, "did not answer; look at it"),
    ({"state": None}, HardwareError, f"No machine publishes below {BASE}"),
    ({"state": "lost"}, HardwareError, "The machine says lost"),
    ({"state": "init"}, HardwareError, "The machine says init"),
    ({"breaks": True}, HardwareError, r"can't be asked \(nobody there\)"),
]


@pytest.mark.parametrize(("played", "kind", "words"), TROUBLES)
def test_each_trouble_has_a_sentence(
    monkeypatch: pytest.MonkeyPatch, played: dict[str, object], kind: type[Exception], words: str
) -> None:
    for name, value in played.items():
        monkeypatch.setattr(Played, name, value)
    with pytest.raises(kind, match=words):
        ask_run(SETTINGS, Command.STOP)
