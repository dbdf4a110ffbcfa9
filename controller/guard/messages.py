"""The datagrams between controller, guard and the person who re-arms: fixed shapes, a checksum.

Responsible for bytes; not for sockets. Whatever is not exactly one of these is nothing (`None`).
"""

import re
import struct
import zlib
from dataclasses import dataclass

from controller.guard.decision import Cause, Lease, causes_of
from controller.guard.resets import Confirm

VERSION = 5
# Causes travel by their place in this list: append, never reorder.
CAUSES = (
    Cause.NONE,
    Cause.CONTROLLER_LOST,
    Cause.LEASE_LAPSED,
    Cause.BATH_OVER_CAP,
    Cause.GUARD_PROBE_LOST,
    Cause.HEATER_LIVE_WHEN_OFF,
    Cause.HEATER_DEAD_WHEN_ON,
    Cause.GUARD_RESTARTED,
    Cause.LATCH_UNREADABLE,
    Cause.CONTROLLER_TRIPPED,
)
MOST_BYTES = 1536  # more than any of them has
CONFIRMS = (Confirm.LOOKED, Confirm.FILLED, Confirm.INSPECTED)  # likewise

_HEAD = struct.Struct("<BB")  # version, kind
_LEASE = struct.Struct("<BQQi28s")  # flags, peer, number, cap, tripped
_STATUS = struct.Struct("<BBQiq28s")  # cause, flags, number, bath, since, tripped; others follow
_REARM = struct.Struct("<BBB")  # cause, how many there are, what was done about them
_CHECK = struct.Struct("<I")  # CRC-32 of all before it
_LEASE_KIND, _STATUS_KIND, _REARM_KIND, _ASK_KIND = range(1, 5)
_HEAT, _GOOD, _FAREWELL = 1, 2, 4  # flags of a lease
_ALONE = {0: 0, 1: 8, 2: 16}  # and of a switch that is to be tested
_TESTED = sum(_ALONE.values())
_HEATED, _MEASURED, _SEEN, _LIVE, _LED = 1, 2, 4, 8, 16  # flags of a status
_CAP_MOST_MC = 2**31 - 1
_WORD = re.compile(rb"[a-z-]*")  # of a trip; zero bytes fill it up
_WORDS = re.compile(rb"([a-z-]{1,28}(,[a-z-]{1,28})*)?")


@dataclass(frozen=True, slots=True, kw_only=True)
class Status:
    """What the guard says."""

    latched: Cause
    heat: bool
    bath_mc: int | None  # None: its thermometer gives no value
    number: int  # of the newest lease that it took; 0 when there is none
    since_s: int = 0  # when the cause latched, seconds of Unix time; 0 when nothing is latched
    tripped: str = ""  # the controller's word for its trip, where that latched
    live: bool | None = None  # whether voltage stands behind the switches; None: nobody sees it
    also: tuple[str, ...] = ()  # the words of what latched after the first
    led: bool = False  # whether the run that it serves is still connected, and took no leave

    @property
    def causes(self) -> tuple[str, ...]:
        """The words of all that is latched, the first one first."""
        return causes_of(self.latched, self.tripped, self.also)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rearm:
    """A person clears the latch, names the cause that was shown to them, and says what they did.

    `count` is how many causes they were shown: what came after that they can't have seen to.
    """

    seen: Cause
    count: int = 1
    confirmed: Confirm = Confirm.LOOKED


@dataclass(frozen=True, slots=True, kw_only=True)
class Ask:
    """Somebody wants to know what is latched."""


Message = Lease | Status | Rearm | Ask


def pack(message: Message) -> bytes:
    """The datagram of a message."""
    match message:
        case Lease():
            kind, body = _LEASE_KIND, _lease_body(message)
        case Status():
            kind, body = _STATUS_KIND, _status_body(message)
        case Rearm():
            kind, body = _REARM_KIND, _rearm_body(message)
        case _:  # an Ask, which has nothing to say
            kind, body = _ASK_KIND, b""
    data = _HEAD.pack(VERSION, kind) + body
    return data + _CHECK.pack(zlib.crc32(data))


def unpack(data: bytes) -> Message | None:
    """The message of a datagram; None for anything that `pack` could not have made."""
    if len(data) < _HEAD.size + _CHECK.size:
        return None
    body, check = data[_HEAD.size : -_CHECK.size], data[-_CHECK.size :]
    version, kind = _HEAD.unpack_from(data)
    if version != VERSION or _CHECK.pack(zlib.crc32(data[: -_CHECK.size])) != check:
        return None
    if kind == _STATUS_KIND and len(body) >= _STATUS.size:
        return _status(body)
    shape = {
        (_LEASE_KIND, _LEASE.size): _lease,
        (_REARM_KIND, _REARM.size): _rearm,
        (_ASK_KIND, 0): _ask,
    }.get((kind, len(body)))
    return None if shape is None else shape(body)


def _lease_body(lease: Lease) -> bytes:
    flags = _HEAT * lease.heat | _GOOD * lease.good | _FAREWELL * lease.farewell
    flags |= _ALONE[lease.alone]
    cap_mc = max(-_CAP_MOST_MC, min(lease.cap_mc, _CAP_MOST_MC))
    return _LEASE.pack(flags, lease.peer, lease.number, cap_mc, lease.tripped.encode())


def _lease(body: bytes) -> Lease | None:
    flags, peer, number, cap_mc, padded = _LEASE.unpack(body)
    tripped = padded.rstrip(b"\0")
    alone = next((one for one, flag in _ALONE.items() if flag == flags & _TESTED), None)
    if flags & ~(_HEAT | _GOOD | _FAREWELL | _TESTED) or not _WORD.fullmatch(tripped):
        return None
    if alone is None:
        return None
    return Lease(
        peer=peer,
        number=number,
        heat=bool(flags & _HEAT),
        cap_mc=cap_mc,
        good=bool(flags & _GOOD),
        alone=alone,
        farewell=bool(flags & _FAREWELL),
        tripped=tripped.decode(),
    )


def _status_body(status: Status) -> bytes:
    flags = _HEATED * status.heat | _MEASURED * (status.bath_mc is not None)
    flags |= _SEEN * (status.live is not None) | _LIVE * bool(status.live) | _LED * status.led
    cause = CAUSES.index(status.latched)
    bath_mc, tripped = status.bath_mc or 0, status.tripped.encode()
    head = _STATUS.pack(cause, flags, status.number, bath_mc, status.since_s, tripped)
    return head + ",".join(status.also).encode()


def _status(body: bytes) -> Status | None:
    cause, flags, number, bath_mc, since_s, padded = _STATUS.unpack_from(body)
    tripped, also = padded.rstrip(b"\0"), body[_STATUS.size :]
    known = _HEATED | _MEASURED | _SEEN | _LIVE | _LED
    if cause >= len(CAUSES) or flags & ~known or not _WORD.fullmatch(tripped):
        return None
    if not _WORDS.fullmatch(also):
        return None
    if flags & _LIVE and not flags & _SEEN:
        return None
    return Status(
        latched=CAUSES[cause],
        heat=bool(flags & _HEATED),
        bath_mc=bath_mc if flags & _MEASURED else None,
        number=number,
        since_s=since_s,
        tripped=tripped.decode(),
        live=bool(flags & _LIVE) if flags & _SEEN else None,
        also=tuple(also.decode().split(",")) if also else (),
        led=bool(flags & _LED),
    )


def _rearm_body(rearm: Rearm) -> bytes:
    done = CONFIRMS.index(rearm.confirmed)
    return _REARM.pack(CAUSES.index(rearm.seen), rearm.count, done)


def _rearm(body: bytes) -> Rearm | None:
    cause, count, done = _REARM.unpack(body)
    if cause >= len(CAUSES) or done >= len(CONFIRMS):
        return None
    return Rearm(seen=CAUSES[cause], count=count, confirmed=CONFIRMS[done])


def _ask(_body: bytes) -> Ask:
    return Ask()
