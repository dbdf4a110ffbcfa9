"""What one connection shows: description, values, alerts and the device's state, in their order.

Responsible for what is sent and when (Homie 5 life cycle); not for the connection (session).
"""

import json
from collections.abc import Callable
from typing import Protocol

from structlog.typing import FilteringBoundLogger

from controller.link.chronicle import Chronicle
from controller.link.commands import Accepted, Refusal
from controller.link.desk import Desk
from controller.link.fitted_rows import EVERY_PART, Fitted, fitted_in
from controller.link.homie import ROOT, Property, describe
from controller.link.hub import discovery, topic
from controller.link.pace import Sent, due
from controller.link.tree import COMMAND, NODES, REQUEST, RESPONSE, TOKEN, alerts
from controller.ports import Moment, Question, Verb

DEVICE_NAME = "Tempering machine"
LONGEST = 4000  # characters, so at most 16 kB; the embedded broker hangs up at 20 kB
RESERVE = 64  # messages kept free for the device's state; own engineering value, not published


class Sender(Protocol):
    """What is used of a session."""

    @property
    def room(self) -> int:
        """How many more messages may be on their way."""
        ...

    def publish(self, topic: str, payload: str, *, retain: bool = True) -> None:
        """Send one message."""
        ...

    def subscribe(self, topics: tuple[str, ...], then: Callable[[bool], None]) -> None:
        """Ask for topics."""
        ...


class Publisher:
    """What has been shown over one connection. Used by the link's thread only."""

    def __init__(
        self,
        sender: Sender,
        *,
        device_id: str,
        tree_for: Callable[[frozenset[Fitted]], tuple[Property, ...]],
        desk: Desk,
        chronicle: Chronicle,
        hub: bool = False,
        fahrenheit: bool = False,
        log: FilteringBoundLogger,
    ) -> None:
        """Nothing is shown yet; `tree_for` gives the properties of a machine with these parts.

        `hub` tells a Home Assistant hub, too; `fahrenheit` is the scale of alerts.
        """
        self._sender = sender
        self._base = f"{ROOT}/{device_id}"
        self._tree_for = tree_for
        self._desk = desk
        self._chronicle = chronicle
        self._device_id = device_id
        self._hub, self._fahrenheit = hub, fahrenheit
        chronicle.forget()
        self._log = log
        self._rows: tuple[Property, ...] = ()
        self._fitted: frozenset[Fitted] = frozenset()
        self._ready = False
        self._contradicted = False
        self._shown: Moment | None = None
        self._sent: dict[str, Sent] = {}
        self._sent_s = 0.0
        self._alerts: dict[str, str] = {}

    def show(self, moment: Moment, now_s: float) -> None:
        """Show a finished tick: everything at first, later what has changed."""
        if moment is self._shown:
            return
        if not (self._rows and fitted_in(moment) <= self._fitted):
            self._announce(moment, now_s)
        elif self._sender.room > RESERVE:
            self._values(moment, now_s, all_of_them=False)

    def show_last(self, moment: Moment, now_s: float) -> None:
        """Show the whole of the last tick, whatever the intervals say."""
        if self._rows:
            self._values(moment, now_s, all_of_them=True)
        else:
            self._announce(moment, now_s)

    def say_goodbye(self) -> None:
        """Tell that the device leaves of its own accord."""
        self._ready = False
        self._state("disconnected")

    def hear(self, topic: str, payload: bytes, retained: bool) -> None:
        """Take in one message from the broker."""
        if topic == f"{self._base}/$state":
            # An old connection's will came late, or somebody lies. What the broker had kept was
            # ours, unless it is a will.
            is_ours = payload == b"ready" or (retained and payload != b"lost")
            self._contradicted = self._contradicted or (self._ready and not is_ours)
            self._insist()
        elif topic.startswith(f"{self._base}/$alert/"):
            self._forget(topic, payload, retained=retained)
        elif topic == self._set_topic(COMMAND):
            self._command(payload, retained=retained)
        elif topic == self._set_topic(REQUEST):
            self._request(payload, retained=retained)
        else:
            self._desk.refuse(Refusal.BAD_TOPIC)

    def answer(self) -> None:
        """Publish answers and log lines that came since the last call, as far as there is room."""
        self._insist()
        self._answers()
        while self._rows and self._sender.room > RESERVE:
            told = self._chronicle.next()
            if told is None:
                return
            level, text = told
            self._sender.publish(f"{self._base}/$log/{level}", text[:LONGEST], retain=False)

    def _insist(self) -> None:
        """Say again that we are here, once there is room: lies may come in floods."""
        if self._contradicted and self._ready and self._sender.room > RESERVE:
            self._contradicted = False
            self._state("ready")

    def _answers(self) -> None:
        while self._rows and self._sender.room > RESERVE:
            answer = self._desk.outgoing()
            if answer is None:
                return
            self._publish(RESPONSE, answer)
            self._publish(TOKEN, self._desk.token)

    def _announce(self, moment: Moment, now_s: float) -> None:
        self._ready = False
        self._fitted |= fitted_in(moment)
        self._rows = self._tree_for(self._fitted)
        self._state("init")
        description = describe(self._rows, name=DEVICE_NAME, nodes=NODES)
        self._sender.publish(f"{self._base}/$description", description)
        # What an earlier run had fitted and this one hasn't would else stay on the broker.
        for path in {row.path for row in self._tree_for(EVERY_PART)} - {
            row.path for row in self._rows
        }:
            self._sender.publish(f"{self._base}/{path}", "")
        self._values(moment, now_s, all_of_them=True)
        if self._hub:
            told = discovery(
                self._rows, base=self._base, device_id=self._device_id, name=DEVICE_NAME
            )
            self._sender.publish(topic(self._device_id), told)
        self._sender.subscribe(
            (
                self._set_topic(COMMAND),
                self._set_topic(REQUEST),
                f"{self._base}/$state",
                f"{self._base}/$alert/+",
            ),
            self._subscribed,
        )

    def _subscribed(self, granted: bool) -> None:
        if not granted:
            self._log.warning(
                "subscription_refused",
                advice="The broker lets us publish but not listen: commands won't arrive. "
                "Allow this user to read below " + self._base + ".",
            )
        self._ready = True
        self._state("ready")

    def _values(self, moment: Moment, now_s: float, *, all_of_them: bool) -> None:
        for row, payload in due(self._rows, moment, self._sent, now_s, all_of_them=all_of_them):
            self._sender.publish(f"{self._base}/{row.path}", payload[:LONGEST])
            self._sent[row.path] = Sent(payload=payload, at_s=now_s)
        self._sent_s = now_s
        active = alerts(moment, fahrenheit=self._fahrenheit)
        for cause in self._alerts.keys() - active.keys():
            self._sender.publish(f"{self._base}/$alert/{cause}", "")
        for cause, text in active.items():
            if all_of_them or self._alerts.get(cause) != text:
                self._sender.publish(f"{self._base}/$alert/{cause}", text[:LONGEST])
        self._alerts = active
        self._shown = moment

    def _forget(self, topic: str, payload: bytes, *, retained: bool) -> None:
        """Take an alert of an earlier run off the broker."""
        is_old = retained and payload and topic.rpartition("/")[2] not in self._alerts
        if is_old and self._sender.room > RESERVE:  # what is left waits for the next connection
            self._sender.publish(topic, "")

    def _command(self, payload: bytes, *, retained: bool) -> None:
        accepted = self._desk.hear_plain(payload, retained=retained, ask=self._ask())
        if accepted is not None:
            self._echo(COMMAND, accepted.word, accepted)

    def _request(self, payload: bytes, *, retained: bool) -> None:
        accepted = self._desk.hear(payload, retained=retained, ask=self._ask())
        if accepted is not None:
            said = {"id": accepted.request.id, "command": accepted.request.verb.value}
            self._echo(REQUEST, json.dumps(said), accepted)

    def _echo(self, path: str, text: str, accepted: Accepted) -> None:
        """Show what was accepted; a flood must leave room for a stop's."""
        least = 1 if accepted.request.verb is Verb.STOP else RESERVE
        if self._sender.room > least:
            self._sender.publish(f"{self._base}/{path}", text, retain=False)

    def _ask(self) -> Question | None:
        return None if self._shown is None else self._shown.state.progress.ask

    def _set_topic(self, path: str) -> str:
        return f"{self._base}/{path}/set"

    def _publish(self, path: str, payload: str) -> None:
        """Send a value that doesn't wait for a tick."""
        self._sender.publish(f"{self._base}/{path}", payload)
        self._sent[path] = Sent(payload=payload, at_s=self._sent_s)

    def _state(self, word: str) -> None:
        self._sender.publish(f"{self._base}/$state", word)
