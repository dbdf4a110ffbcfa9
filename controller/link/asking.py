"""One request from outside, sent and answered: the other end of the link.

Responsible for repeating the token, signing, and waiting for the answer; not for judging it. It
comes to the broker under a name of its own, so that it takes nothing away from the run.
"""

import secrets
from collections.abc import Callable
from dataclasses import dataclass, field

import msgspec

from controller.clock import process_s
from controller.core.records import replace
from controller.errors import HardwareError, UsageError
from controller.link.credentials import password, signing_key, tls_context
from controller.link.desk import Result
from controller.link.following import guest
from controller.link.homie import ROOT
from controller.link.session import BROKEN, Session
from controller.link.settings import LinkSettings
from controller.link.tree import ASK_ID, REQUEST, RESPONSE, TOKEN
from controller.link.wishes import Command, Wish, signature

# Own engineering values, not published.
FIND_S = 10.0  # until the broker has shown the machine
ANSWER_S = 15.0  # a run answers with its next tick, which may be slow on purpose
_STEP_S = 0.1
_ID_BYTES = 8
_LONGEST = 200  # signs of what is shown of somebody's words
_STATE = "$state"
_COMING = "init"  # Homie convention 5: connected, not yet ready
_PATHS = frozenset({_STATE, TOKEN, ASK_ID, RESPONSE})


@dataclass(slots=True)
class _Heard:
    """What the broker has told so far, by path below the machine's topic.

    A broker may send what nobody asked for, without an end: none of it is kept.
    """

    base: str
    told: dict[str, str] = field(default_factory=dict)

    def __call__(self, topic: str, payload: bytes, retained: bool) -> None:
        """Keep the newest; an answer that the broker had kept is somebody else's."""
        path = topic.removeprefix(f"{self.base}/")
        if path in _PATHS and (path != RESPONSE or not retained):
            self.told[path] = payload.decode(errors="replace")

    def answer(self, id_: str) -> dict[str, str] | None:
        """The answer to a request, once it is there."""
        try:
            said = msgspec.json.decode(self.told.get(RESPONSE, "{}"), type=dict[str, str])
        except msgspec.MsgspecError:
            return None
        return said if said.get("id") == id_ else None


def ask_run(settings: LinkSettings, command: Command, choice: str = "", ask: str = "") -> str:
    """Ask the run that publishes as `settings` say; its word for what came of it.

    An answer is to the question with the id `ask`, else to the one that is open just now.

    Raises:
        HardwareError: broker or run don't answer.
        UsageError: the run refused.
        BainwardError: a secret can't be read.
    """
    key = signing_key(settings)
    session = Session(guest(settings), password=password(settings), tls=tls_context(settings.tls))
    heard = _Heard(f"{ROOT}/{settings.device_id}")
    try:
        session.open(heard)
        return _asked(
            session, heard, Wish(id=_new_id(), command=command, choice=choice, ask=ask), key
        )
    except BROKEN as error:
        raise HardwareError(
            f"The broker {settings.host}:{settings.port} can't be asked ({error}); "
            "see whether it runs and lets this user in."
        ) from error
    finally:
        session.leave()
        session.drop()


def visit(settings: LinkSettings) -> str:
    """See whether the broker lets us in, and leave; why not, as a sentence, or nothing.

    Raises:
        BainwardError: a secret can't be read, or others may read it.
    """
    signing_key(settings)
    session = Session(guest(settings), password=password(settings), tls=tls_context(settings.tls))
    try:
        session.open(lambda _topic, _payload, _retained: None)
    except BROKEN as error:
        return (
            f"The broker {settings.host}:{settings.port} doesn't let the machine in ({error}), so "
            "that nobody is told of a run from afar: start it, or mend [mqtt]."
        )
    finally:
        session.leave()
        session.drop()
    return ""


def _new_id() -> str:
    return secrets.token_hex(_ID_BYTES)


def _asked(session: Session, heard: _Heard, wish: Wish, key: bytes) -> str:
    needed = {_STATE, TOKEN} | ({ASK_ID} if wish.command is Command.ANSWER else set())
    paths = (*sorted(needed), RESPONSE)
    session.subscribe(tuple(f"{heard.base}/{path}" for path in paths), _unheeded)
    # A machine that has just found its broker says `init` for a moment, before it takes anything.
    is_here = _wait(
        session,
        FIND_S,
        lambda: heard.told.keys() >= needed and heard.told[_STATE] != _COMING,
    )
    if not is_here and not heard.told.keys() >= needed:
        raise HardwareError(
            f"No machine publishes below {heard.base}; start a run, or name its device in [mqtt]."
        )
    if heard.told[_STATE] != "ready":
        raise HardwareError(
            f"The machine says {_brief(heard.told[_STATE])}, so no run is there to answer; "
            "start one."
        )
    wish = replace(wish, token=heard.told[TOKEN], ask=wish.ask or heard.told.get(ASK_ID, ""))
    if key:
        wish = replace(wish, mac=signature(key, wish))
    session.publish(f"{heard.base}/{REQUEST}/set", msgspec.json.encode(wish).decode(), retain=False)
    if not _wait(session, ANSWER_S, lambda: heard.answer(wish.id) is not None):
        raise HardwareError(
            "The run did not answer; look at it, and see whether the broker lets this user ask."
        )
    answer = heard.answer(wish.id) or {}
    if answer.get("result") != Result.DONE:
        raise UsageError(f"The run refused: {_brief(answer.get('reason', ''))}")
    return wish.command.value


def _brief(said: str) -> str:
    """Somebody's words as part of one line."""
    return " ".join(said.split())[:_LONGEST]


def _unheeded(_granted: bool) -> None:
    """A broker that lets us hear nothing is noticed by the silence."""


def _wait(session: Session, most_s: float, happened: Callable[[], bool]) -> bool:
    until_s = process_s() + most_s
    while not happened():
        if process_s() >= until_s:
            return False
        session.step(_STEP_S)
    return True
