"""What a message from outside may ask for, and why not.

Responsible for judging one message, as pure functions; not for keeping what was accepted (inbox).
"""

from dataclasses import dataclass
from enum import StrEnum

from controller.core.announcement import HOW, doubt
from controller.core.leaving import HOW as HOW_LEAVE
from controller.core.leaving import leave_of
from controller.ports import Choice, Question, Request, Source, Verb, announced

PLAIN_MAX_BYTES = 256
REQUEST_MAX_BYTES = 2048
_S_PER_MIN = 60.0

_PLAIN = {verb.value: verb for verb in (Verb.STOP, Verb.PAUSE, Verb.ACKNOWLEDGE)}


class Refusal(StrEnum):
    """Why a message was not taken."""

    RETAINED = "retained"  # kept by the broker: sent at some other time, for some other moment
    TOO_LONG = "too-long"
    NOT_TEXT = "not-text"
    UNKNOWN_WORD = "unknown-word"
    UNKNOWN_DEED = "unknown-deed"
    NO_QUESTION = "no-question"
    NO_SUCH_CHOICE = "no-such-choice"
    ADDS_ENERGY = "adds-energy"
    QUESTION_CHANGED = "question-changed"
    TOO_MANY = "too-many"
    BAD_TOPIC = "bad-topic"
    MALFORMED = "malformed"
    REMOTE_OFF = "remote-off"
    ONLY_HERE = "only-here"
    STALE_TOKEN = "stale-token"  # noqa: S105 - the word for an old one
    BAD_SIGNATURE = "bad-signature"
    ASK_UNNAMED = "ask-unnamed"
    TOO_LATE = "too-late"
    REPEATED = "repeated"


WHY = {
    Refusal.RETAINED: "Publish commands without the retain flag.",
    Refusal.TOO_LONG: f"A plain command has at most {PLAIN_MAX_BYTES} bytes.",
    Refusal.NOT_TEXT: "A plain command is UTF-8 text.",
    Refusal.UNKNOWN_WORD: (
        "Send stop, pause, acknowledge, answer and one of the choices, announce and a deed, or "
        f"{HOW_LEAVE}."
    ),
    Refusal.UNKNOWN_DEED: f"Send {HOW}.",
    Refusal.NO_QUESTION: "Nothing is asked just now.",
    Refusal.NO_SUCH_CHOICE: "Send answer and one of the words under ask/choices.",
    Refusal.ADDS_ENERGY: "This answer leads to heat: give it at the machine, or as a request.",
    Refusal.QUESTION_CHANGED: "The question was over before the answer was taken.",
    Refusal.TOO_MANY: "More commands came in than were taken: send fewer.",
    Refusal.BAD_TOPIC: "The topic is not UTF-8 text.",
    Refusal.MALFORMED: (
        f"A request is one flat JSON object of at most {REQUEST_MAX_BYTES} bytes: id, command "
        "(stop, pause, acknowledge, resume, answer with choice and ask), token, mac where signed."
    ),
    Refusal.REMOTE_OFF: (
        "This adds energy, and the machine file allows that only at the machine (remote is off)."
    ),
    Refusal.ONLY_HERE: "This is done only by a person at the machine.",
    Refusal.STALE_TOKEN: (
        "Repeat the newest control/token: it changes each minute, with each use and each pause."
    ),
    Refusal.BAD_SIGNATURE: "The request is not signed with this machine's key.",
    Refusal.ASK_UNNAMED: "A signed answer names its question: repeat ask/id as ask.",
    Refusal.TOO_LATE: "The request waited too long for the next tick: look, then ask again.",
    Refusal.REPEATED: "A request with this id is being answered already.",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Accepted:
    """A message that asks for something it may ask for."""

    request: Request
    word: str  # as it is echoed
    adds_energy: bool = False


def judge(payload: bytes, *, retained: bool, ask: Question | None) -> Accepted | Refusal:
    """What a message on `control/command/set` asks for, or why it is refused.

    `ask` is the question shown to the world when the message came in.
    """
    if retained:
        return Refusal.RETAINED
    if len(payload) > PLAIN_MAX_BYTES:
        return Refusal.TOO_LONG
    try:
        text = payload.decode("utf-8")
    except UnicodeDecodeError:
        return Refusal.NOT_TEXT
    # Phone keyboards like to begin with a capital and to end with a space.
    word, _, rest = text.strip().casefold().partition(" ")
    if word == Verb.ANSWER.value:
        return _answer(rest.strip(), ask)
    if (for_s := leave_of(text)) is not None:
        request = Request(verb=Verb.LEAVE, source=Source.LINK, for_s=for_s)
        return Accepted(request=request, word=f"leave {for_s / _S_PER_MIN:g} min")
    return _announced(rest) if word == Verb.ANNOUNCE.value else _plain(word, rest)


def slip_in(payload: bytes) -> str:
    """The likely slip in a plain command that announces nothing that can be; empty for none."""
    word, _, rest = payload[:PLAIN_MAX_BYTES].decode("utf-8", "replace").strip().partition(" ")
    return doubt(rest) if word.casefold() == Verb.ANNOUNCE.value else ""


def _plain(word: str, rest: str) -> Accepted | Refusal:
    if rest or word not in _PLAIN:
        return Refusal.UNKNOWN_WORD
    return Accepted(request=Request(verb=_PLAIN[word], source=Source.LINK), word=word)


def _announced(text: str) -> Accepted | Refusal:
    deed = announced(text)
    if deed is None:
        return Refusal.UNKNOWN_DEED
    request = Request(verb=Verb.ANNOUNCE, source=Source.LINK, announcement=deed)
    return Accepted(request=request, word=f"{Verb.ANNOUNCE.value} {deed.words}")


def _answer(word: str, ask: Question | None) -> Accepted | Refusal:
    verdict = answered(word, ask)
    if isinstance(verdict, Accepted) and verdict.adds_energy:
        return Refusal.ADDS_ENERGY
    return verdict


def answered(word: str, ask: Question | None) -> Accepted | Refusal:
    """The answer that a word is to the open question, whatever it leads to."""
    if ask is None:
        return Refusal.NO_QUESTION
    choice = _chosen(word, ask)
    if choice is None:
        return Refusal.NO_SUCH_CHOICE
    request = Request(verb=Verb.ANSWER, source=Source.LINK, ask_id=ask.id, choice=choice.word)
    return Accepted(
        request=request,
        word=f"{Verb.ANSWER.value} {choice.word}",
        adds_energy=choice.adds_energy,
    )


def _chosen(word: str, ask: Question) -> Choice | None:
    return next((choice for choice in ask.choices if choice.word.casefold() == word), None)


def still_fits(request: Request, ask: Question | None) -> Refusal | None:
    """Whether an accepted request still may be passed on, now that `ask` is open."""
    if request.verb is not Verb.ANSWER:
        return None
    if ask is None or ask.id != request.ask_id:
        return Refusal.QUESTION_CHANGED
    judged = answered if request.source is Source.REMOTE else _answer
    again = judged(request.choice.casefold(), ask)
    return again if isinstance(again, Refusal) else None
