"""What a JSON request from outside may ask for, and why not: the only way to heat over the link.

Responsible for judging one request; not for keeping what was accepted (inbox) or for its answer
(desk).
"""

import hashlib
import hmac
import json
import re
from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated

import msgspec

from controller.core.records import replace
from controller.link.commands import REQUEST_MAX_BYTES, Accepted, Refusal, answered
from controller.link.settings import Remote
from controller.link.tokens import Tokens
from controller.ports import Question, Request, Source, Verb

_ID = re.compile(r"[A-Za-z0-9_-]{1,64}")
# Without line ends, so that no two requests are signed as the same lines.
_Text = Annotated[str, msgspec.Meta(max_length=128, pattern=r"\A[^\x00-\x1f\x7f]*\Z")]


class Command(StrEnum):
    """The words of a request."""

    STOP = "stop"
    PAUSE = "pause"
    ACKNOWLEDGE = "acknowledge"
    ANSWER = "answer"
    RESUME = "resume"
    START = "start"
    RESET = "reset"


ONLY_HERE = frozenset({Command.START, Command.RESET})  # whatever the machine file says
_LOWERS_RISK = {
    Command.STOP: Verb.STOP,
    Command.PAUSE: Verb.PAUSE,
    Command.ACKNOWLEDGE: Verb.ACKNOWLEDGE,
}


class Wish(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A request as it was written."""

    id: Annotated[str, msgspec.Meta(pattern=rf"\A{_ID.pattern}\Z")]
    command: Command
    token: _Text = ""
    choice: _Text = ""  # for ANSWER
    ask: _Text = ""  # the question that is answered; must be there where it is signed
    profile: _Text = ""  # for START, which is refused in any case
    mac: _Text = ""  # where it is signed


@dataclass(frozen=True, slots=True, kw_only=True)
class Gate:
    """What stands between a request and heat."""

    remote: Remote
    key: bytes  # for `Remote.SIGNED`
    tokens: Tokens


def signature(key: bytes, wish: Wish) -> str:
    """HMAC-SHA256 over token, id, command, choice, profile, ask, a line each; as hexadecimal."""
    parts = (wish.token, wish.id, wish.command.value, wish.choice, wish.profile, wish.ask)
    return hmac.new(key, "\n".join(parts).encode(), hashlib.sha256).hexdigest()


def wish_of(payload: bytes) -> Wish | Refusal:
    """The request that a payload is, read strictly; nothing in it is believed yet."""
    if len(payload) > REQUEST_MAX_BYTES:
        return Refusal.TOO_LONG
    try:
        wish = msgspec.json.decode(payload, type=Wish)
        # It is flat and short by now, so that the second reading can't be led astray. Which of
        # two equal keys counts differs between readers.
        json.loads(payload, object_pairs_hook=_without_twins)
    except (msgspec.MsgspecError, ValueError, RecursionError):
        return Refusal.MALFORMED
    return wish


def _without_twins(pairs: list[tuple[str, object]]) -> dict[str, object]:
    if len(dict(pairs)) < len(pairs):
        raise ValueError("a key stands there twice")
    return dict(pairs)


def judge_wish(wish: Wish, gate: Gate, ask: Question | None, now_s: float) -> Accepted | Refusal:
    """What a request may do; an accepted one that adds energy has spent the token."""
    if wish.command in ONLY_HERE:
        return Refusal.ONLY_HERE
    verdict = _meant(wish, ask)
    if isinstance(verdict, Refusal):
        return verdict
    source = Source.LINK
    if verdict.adds_energy:
        refusal = _barred(wish, gate, now_s)
        if refusal is not None:
            return refusal
        gate.tokens.spend(now_s)
        source = Source.REMOTE
    request = replace(verdict.request, source=source, id=wish.id)
    return Accepted(request=request, word=verdict.word, adds_energy=verdict.adds_energy)


def _meant(wish: Wish, ask: Question | None) -> Accepted | Refusal:
    if wish.command is Command.ANSWER:
        if wish.ask and ask is not None and ask.id != wish.ask:
            return Refusal.QUESTION_CHANGED
        return answered(wish.choice.strip().casefold(), ask)
    verb = _LOWERS_RISK.get(wish.command, Verb.RESUME)
    request = Request(verb=verb, source=Source.LINK)
    return Accepted(request=request, word=verb.value, adds_energy=verb is Verb.RESUME)


def _barred(wish: Wish, gate: Gate, now_s: float) -> Refusal | None:
    """Why a request that adds energy is refused; unsafe unless shown safe."""
    if gate.remote not in {Remote.ACCESS_LIST, Remote.SIGNED}:
        return Refusal.REMOTE_OFF
    if not gate.tokens.fits(wish.token, now_s):
        return Refusal.STALE_TOKEN
    if gate.remote is Remote.SIGNED:
        # A broker could keep a signed "yes" back until something else is asked.
        if wish.command is Command.ANSWER and not wish.ask:
            return Refusal.ASK_UNNAMED
        signed = bool(gate.key) and hmac.compare_digest(
            wish.mac.encode(), signature(gate.key, wish).encode()
        )
        return None if signed else Refusal.BAD_SIGNATURE
    return None
