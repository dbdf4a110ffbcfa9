"""Hostile messages: what somebody who may write every topic could send to the link.

Responsible for variety, drawn from a seed, and for sending it as fast as a broker takes it; not for
judging. No message here is a stop, for a stop is always taken.
"""

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from random import Random
from typing import Any

from controller.clock import process_s
from controller.link.commands import PLAIN_MAX_BYTES, REQUEST_MAX_BYTES, Accepted, judge
from controller.link.wishes import Command, Wish, wish_of
from controller.ports import Verb
from tests.helpers.watcher import Watcher

WORDS = ["pause", "acknowledge", "answer", "announce", "start", "resume", "reset", "heat", "limit"]
DEEDS = ["added 200 g", "topped-up 1 kg at 45 C", "swapped 50 %", "lid open", "stirrer on", "x"]
LENGTHS = [
    *(length + step for length in (0, PLAIN_MAX_BYTES, REQUEST_MAX_BYTES) for step in (-1, 0, 1)),
    20_000,
    60_000,
]
VALUES: list[Any] = [
    None, True, 0, -1, 2**63, 10**400, 1e308, float("nan"), float("inf"), "", "x" * 500, [], {},
    [[[[]]]], {"a": {}}, "\ud800", "\x00", "ready", "../../x.toml", "dark", "90 C", "' OR 1=1",
]  # fmt: skip
KEYS = ["id", "command", "token", "choice", "profile", "mac", "expires", "limit", "__proto__", ""]
BASE = "homie/5/bainward"
BATCH = 250  # messages between two looks at whether the broker still takes them
STATES = [b"lost", b"ready", b"init", b"disconnected", b"", b"\xff", b"x" * 3000]


@dataclass(frozen=True, slots=True)
class Case:
    """One message; `path` is below the device's own topic."""

    path: str
    payload: bytes
    retain: bool = False


def cases(seed: int, token: Callable[[], str]) -> Iterator[Case]:
    """Cases without end; `token` gives what is on show just now."""
    rng = Random(seed)  # noqa: S311 - reproducible, not secret
    kinds = [_noise, _boundary, _plain, _structured, _structured, _mutated, _deep, _lie]
    while True:
        case = rng.choice(kinds)(rng, token())
        if not _stops(case.payload):
            yield case


def attack(watcher: Watcher, seed: int, count: int, base: str = BASE) -> float:
    """Send so many messages at the machine below `base`; how many a second that were."""
    begun_s = process_s()
    drawn = cases(seed, lambda: watcher.topics.get(f"{BASE}/control/token", ""))
    for number in range(count):
        case = next(drawn)
        watcher.flood(f"{base}/{case.path}", case.payload, 1, retain=case.retain)
        if number % BATCH == BATCH - 1:
            watcher.send(f"{base}/x", "still there")
    return count / (process_s() - begun_s)


def _stops(payload: bytes) -> bool:
    plain, wish = judge(payload, retained=False, ask=None), wish_of(payload)
    is_plain = isinstance(plain, Accepted) and plain.request.verb is Verb.STOP
    return is_plain or (isinstance(wish, Wish) and wish.command is Command.STOP)


def _where(rng: Random) -> str:
    return rng.choice(["control/command/set", "control/request/set"])


def _noise(rng: Random, _token: str) -> Case:
    return Case(_where(rng), rng.randbytes(rng.randrange(300)), rng.random() < 0.02)


def _boundary(rng: Random, _token: str) -> Case:
    length = max(0, rng.choice(LENGTHS))
    return Case(_where(rng), (rng.choice(WORDS).encode() + b" " * length)[:length])


def _plain(rng: Random, _token: str) -> Case:
    text = f"{rng.choice(WORDS)} {rng.choice([*DEEDS, 'yes', 'done', 'longer', 'none'])}"
    text = rng.choice([text, text.upper(), text.strip(), text + "\n", "\ufeff" + text])
    return Case(_where(rng), text.encode(), rng.random() < 0.02)


def _structured(rng: Random, token: str) -> Case:
    body = {"id": f"h{rng.randrange(10**6)}", "command": rng.choice(WORDS), "token": token}
    body["mac"] = rng.randbytes(32).hex()
    for _ in range(rng.randrange(4)):
        body[rng.choice(KEYS)] = rng.choice(VALUES)
    return Case("control/request/set", _json(body), rng.random() < 0.02)


def _mutated(rng: Random, token: str) -> Case:
    sound = {"id": "m", "command": "resume", "token": token, "choice": "done"}
    payload = bytearray(_json(sound))
    for _ in range(rng.randrange(1, 6)):
        payload[rng.randrange(len(payload))] = rng.randrange(256)
    if rng.random() < 0.3:
        payload = payload[: rng.randrange(len(payload))] * 2
    return Case(_where(rng), bytes(payload))


def _deep(rng: Random, _token: str) -> Case:
    opening = rng.choice([b"[", b'{"id":', b'[{"a":', b"-", b"9", b'"\\u00', b"\xf0\x9f"])
    return Case("control/request/set", opening * rng.randrange(1, 3000))


def _lie(rng: Random, _token: str) -> Case:
    path = rng.choice(["$state", f"$alert/a{rng.randrange(1000)}", "bowl/temperature", "run/state"])
    return Case(path, rng.choice(STATES), rng.random() < 0.5)


def _json(body: object) -> bytes:
    return json.dumps(body, ensure_ascii=True).encode()
