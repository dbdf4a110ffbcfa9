"""The two threads of `bainward notify`: one listens at the broker, one sends what waits.

Responsible for connections, tries and pauses; not for what is told (telling, silence), which one
goes next (pacing) or how it is handed over. What is heard is on disk before the broker is told that
it arrived, and what is sent is noted at once: killed in between, it sends that one message again,
under the same id.
"""

import dataclasses
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Protocol as Shape

from controller.clock import process_s, wall_time
from controller.errors import AccessError, BainwardError, CrashError
from controller.link.credentials import password, tls_context
from controller.link.homie import ROOT
from controller.link.session import BROKEN, LinkLostError, Session, reason_of
from controller.link.settings import LinkSettings
from controller.push import pacing
from controller.push.message import Message, Waiting
from controller.push.parcel import Answer, Outcome
from controller.push.settings import PushSettings
from controller.push.silence import Hearing, listen
from controller.push.spool import Spool
from controller.push.telling import FIRST, FLEETING, THEN, Facts, hear

# Own engineering values, not published.
STEP_S = 0.2
FIRST_PAUSE_S, LONGEST_PAUSE_S = 1.0, 10.0  # before the broker is tried again
STEADY_S = 30.0  # a connection that held so long makes the next pause short again
SETTLE_S = 5.0  # for the broker's answer to one subscription
LOOK_S = 1.0  # between two looks at what waits

Say = Callable[[str], None]


class Sender(Shape):
    """A way to hand a message over."""

    def send(self, one: Waiting, text: str) -> Answer:
        """Try once, in bounded time, without raising what a network or a program can do."""
        ...


class Listener:
    """Hears the machine and puts what is to be told on disk."""

    def __init__(
        self, settings: LinkSettings, push: PushSettings, spool: Spool, *, say: Say
    ) -> None:
        """Read the secrets; nothing is opened yet.

        Raises:
            BainwardError: a secret or certificate can't be used.
        """
        self._device = settings.device_id
        self._base = f"{ROOT}/{self._device}/"
        self._password = password(settings)
        self._tls = tls_context(settings.tls)
        # A name of its own, the same after each start: the broker keeps for it what it misses.
        self._settings = dataclasses.replace(settings, device_id=f"{self._device}-{spool.name}")
        self._kinds = push.kinds
        self._spool = spool
        self._facts = spool.facts()
        self._hearing = Hearing(heard_s=process_s(), broker_s=process_s())
        self._say = say
        self._trouble = ""
        self._granted = self._answered = False

    def listen(self, ending: threading.Event, alive: Callable[[], object]) -> None:
        """Until the end is due; a broker that is away is looked for again and again.

        Raises:
            AccessError: the disk takes nothing any more.
        """
        pause_s = FIRST_PAUSE_S
        while not ending.is_set():
            began_s = process_s()
            try:
                self._serve(ending, alive)
            except BROKEN as error:
                self._complain(reason_of(error))
            until_s = process_s()
            pause_s = FIRST_PAUSE_S if until_s - began_s > STEADY_S else pause_s
            until_s += pause_s
            while process_s() < until_s and not ending.wait(STEP_S):
                alive()
                self._silence(is_connected=False)
            pause_s = min(2.0 * pause_s, LONGEST_PAUSE_S)

    def _serve(self, ending: threading.Event, alive: Callable[[], object]) -> None:
        session = Session(self._settings, password=self._password, tls=self._tls, is_missed=True)
        try:
            session.open(self._heard)
            self._hearing.connects(process_s())
            for topics, qos in ((FIRST, 1), (FLEETING, 0), (THEN, 1)):
                self._subscribe(session, topics, qos)
            if self._trouble:
                self._say("The broker is there again.")
            self._trouble = ""
            while not ending.is_set():
                session.step(STEP_S)
                alive()
                self._hearing.stays(process_s())
                self._silence(is_connected=True)
        finally:
            session.leave()
            session.drop()

    def _subscribe(self, session: Session, topics: tuple[str, ...], qos: int) -> None:
        """Ask, and wait for the answer: what the broker has kept comes in the order of asking."""
        self._granted = False
        self._answered = False
        session.subscribe(tuple(f"{self._base}{one}" for one in topics), self._grant, qos=qos)
        until_s = process_s() + SETTLE_S
        while not self._answered and process_s() < until_s:
            session.step(STEP_S)
        if not self._granted:
            raise LinkLostError(f"it doesn't let this user read below {self._base[:-1]}")

    def _grant(self, granted: bool) -> None:
        self._granted, self._answered = granted, True

    def _heard(self, topic: str, payload: bytes, retained: bool) -> None:
        path = topic.removeprefix(self._base)
        if path == topic:
            return
        said = payload.decode(errors="replace")
        self._hearing.hears(path, said, process_s(), kept=retained)
        before = dict(self._facts)
        messages = hear(self._facts, path, said, device=self._device, kept=retained)
        self._keep(before, messages)

    def _silence(self, *, is_connected: bool) -> None:
        before = dict(self._facts)
        told = listen(
            self._facts, self._hearing, process_s(), self._device, is_connected=is_connected
        )
        self._keep(before, told)

    def _keep(self, before: Facts, messages: tuple[Message, ...]) -> None:
        wanted = [one for one in messages if one.kind in self._kinds]
        if not wanted and before == self._facts:
            return
        if self._spool.keep(before, self._facts, wanted, wall_time().timestamp()):
            self._say(
                "So many messages wait that the oldest give way; see who floods the broker, and "
                "why the push service takes none."
            )

    def _complain(self, trouble: str) -> None:
        if trouble != self._trouble:
            place = f"{self._settings.host}:{self._settings.port}"
            self._say(f"The broker {place} can't be used ({trouble}); trying again.")
        self._trouble = trouble


class Runner:
    """Sends what waits, one after the other, in a thread of its own."""

    def __init__(self, path: Path, push: PushSettings, sender: Sender, *, say: Say) -> None:
        """Nothing is sent before `run`; `path` is the spool's."""
        self._path = path
        self._push = push
        self._sender = sender
        self._say = say
        self._pause_s = 0.0
        self._due_s = 0.0
        self._trouble = ""
        self.error: BainwardError | None = CrashError(
            "The thread that sends messages broke off; start again, and report this."
        )

    def run(self, ending: threading.Event) -> None:
        """Until the end is due; whatever ends it ends both threads, and `error` says why."""
        try:
            spool = Spool(self._path)
            try:
                while not ending.wait(0.0 if self._sent_one(spool) else LOOK_S):
                    pass
            finally:
                spool.close()
            self.error = None
        except AccessError as error:
            self.error = error
        finally:
            ending.set()

    def _sent_one(self, spool: Spool) -> bool:
        """Whether there may be another one to send at once."""
        if process_s() < self._due_s:
            return False
        now = wall_time()
        now_s = now.timestamp()
        choice = pacing.choose(
            spool.waiting(),
            self._push,
            spool.facts(),
            now_s=now_s,
            local=now.astimezone().time(),
            sent=spool.sent(now_s - pacing.WINDOW_S, now_s),
        )
        spool.hold(choice.hold)
        for number, why in choice.over:
            spool.settle(number, why, now_s)
        if choice.send is None:
            return False
        answer = self._sender.send(choice.send, pacing.aged(choice.send, now_s))
        return self._settled(spool, choice.send, answer)

    def _settled(self, spool: Spool, one: Waiting, answer: Answer) -> bool:
        now_s = wall_time().timestamp()
        if answer.outcome is Outcome.TAKEN:
            spool.settle(one.number, "sent", now_s)
            if self._trouble:
                self._say("Messages are taken again.")
            self._pause_s, self._trouble = 0.0, ""
            return True
        if answer.outcome is Outcome.NEVER:
            spool.settle(one.number, "refused", now_s)
            self._say(f"Message {one.id} was refused for good ({answer.why}): {one.message.text}")
            return True
        self._pause_s = pacing.next_pause_s(self._pause_s)
        self._due_s = process_s() + max(self._pause_s, answer.wait_s)
        if answer.why != self._trouble:
            self._say(_complaint(answer))
        self._trouble = answer.why
        return False


def _complaint(answer: Answer) -> str:
    what = "A message could not be handed over"
    if answer.outcome is Outcome.WRONG:
        return f"{what} ({answer.why}); see to address, token, certificate or command. It is kept."
    return f"{what} ({answer.why}); it is kept and tried again."
