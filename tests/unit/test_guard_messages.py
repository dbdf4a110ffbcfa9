"""The datagrams: each comes back as it was, and nothing else is ever one.

Responsible for bytes; sockets are tested with the client and the process.
"""

import struct
import zlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.core.interlocks import Cause as TripCause
from controller.guard.decision import CAUSES_MAX, Cause, Lease
from controller.guard.messages import (
    CAUSES,
    CONFIRMS,
    MOST_BYTES,
    VERSION,
    Ask,
    Message,
    Rearm,
    Status,
    pack,
    unpack,
)

U64 = st.integers(0, 2**64 - 1)
I32 = st.integers(-(2**31) + 1, 2**31 - 1)
FLAG = st.booleans()
WORD = st.text("abcxyz-", max_size=28)
LEASES = st.builds(
    Lease,
    peer=U64,
    number=U64,
    heat=FLAG,
    cap_mc=I32,
    good=FLAG,
    alone=st.sampled_from((0, 1, 2)),
    farewell=FLAG,
    tripped=WORD,
)
STATUSES = st.builds(
    Status,
    latched=st.sampled_from(CAUSES),
    heat=FLAG,
    bath_mc=st.none() | I32,
    number=U64,
    since_s=st.integers(-(2**63), 2**63 - 1),
    tripped=WORD,
    live=st.none() | FLAG,
    also=st.lists(st.text("abcxyz-", min_size=1, max_size=28), max_size=CAUSES_MAX).map(tuple),
    led=FLAG,
)
MESSAGES = (
    LEASES
    | STATUSES
    | st.builds(
        Rearm,
        seen=st.sampled_from(CAUSES),
        count=st.integers(0, 255),
        confirmed=st.sampled_from(CONFIRMS),
    )
    | st.just(Ask())
)
LEASE = Lease(peer=1, number=2, heat=True, cap_mc=50_000, good=True)


def sealed(body: bytes) -> bytes:
    """A datagram with a checksum that holds."""
    return body + struct.pack("<I", zlib.crc32(body))


@given(message=MESSAGES)
def test_every_message_comes_back_as_it_was(message: Message) -> None:
    data = pack(message)
    assert unpack(data) == message
    assert len(data) <= MOST_BYTES


@given(message=MESSAGES, bit=st.integers(0, 8 * MOST_BYTES - 1))
def test_no_message_survives_a_flipped_bit(message: Message, bit: int) -> None:
    data = bytearray(pack(message))
    data[bit // 8 % len(data)] ^= 1 << bit % 8
    assert unpack(bytes(data)) is None


@given(message=MESSAGES, cut=st.integers(1, MOST_BYTES), more=st.binary(max_size=8))
def test_no_message_survives_being_cut_or_lengthened(
    message: Message, cut: int, more: bytes
) -> None:
    data = pack(message)
    assert unpack(data[:-cut]) is None
    assert unpack(data + more) == (None if more else message)


@given(data=st.binary(max_size=MOST_BYTES))
def test_noise_is_nothing(data: bytes) -> None:
    assert unpack(data) is None


@pytest.mark.parametrize(
    "body",
    [
        bytes((VERSION + 1, 4)),  # another version of an Ask
        bytes((VERSION, 9)),  # an unknown kind
        bytes((VERSION, 3, len(CAUSES), 0, 0)),  # a re-arm of a cause that there is not
        bytes((VERSION, 3, 0, 0, len(CONFIRMS))),  # one by a word that there is not
        bytes((VERSION, 1, 32)) + bytes(48),  # a lease with an unknown flag
        bytes((VERSION, 1, 24)) + bytes(48),  # a lease for each of two switches alone
        bytes((VERSION, 1, 0)) + bytes(47) + b"A",  # a lease with a trip that is no word
        bytes((VERSION, 2, 0, 32)) + bytes(48),  # a status with an unknown flag
        bytes((VERSION, 2, 0, 8)) + bytes(48),  # one that is live where nobody looks
        bytes((VERSION, 2, len(CAUSES), 0)) + bytes(48),  # a status of no cause
        bytes((VERSION, 2, 0, 0)) + bytes(47) + b"A",  # a status with a trip that is no word
        bytes((VERSION, 2, 0, 0)) + bytes(49),  # one with another cause that is no word
        bytes((VERSION, 2, 0, 0)) + bytes(48) + b"a,",  # one with another that has no letters
        bytes((VERSION, 2, 0, 0)) + bytes(48) + b"a" * 29,  # one with another that is too long
        bytes((VERSION, 2, 0, 0)) + bytes(47),  # a status that is too short
        bytes((VERSION, 4, 0)),  # an Ask that is too long
    ],
)
def test_a_sound_checksum_does_not_make_a_message(body: bytes) -> None:
    assert unpack(sealed(body)) is None


@pytest.mark.parametrize(("kind", "length"), [(1, 49), (2, 50), (3, 3), (4, 0)])
def test_the_same_without_what_is_wrong_is_a_message(kind: int, length: int) -> None:
    assert unpack(sealed(bytes((VERSION, kind)) + bytes(length))) is not None


def test_the_bytes_of_a_lease_stay_as_they_are() -> None:
    # A guard and a controller of different builds may meet; own format, version 5.
    body = bytes.fromhex("0501 03 0100000000000000 0200000000000000 50c30000")
    assert pack(LEASE) == sealed(body + bytes(28))
    told = LEASE._replace(tripped="level-lost")
    assert pack(told) == sealed(body + b"level-lost" + bytes(18))


@pytest.mark.parametrize("cause", TripCause)
def test_every_word_for_a_trip_of_the_controller_can_travel(cause: TripCause) -> None:
    assert unpack(pack(LEASE._replace(farewell=True, tripped=cause))) == LEASE._replace(
        farewell=True, tripped=cause.value
    )


def test_every_cause_can_travel() -> None:
    assert sorted(CAUSES) == sorted(Cause)
    assert CAUSES[0] is Cause.NONE


def test_a_cap_beyond_all_bounds_travels_as_the_nearest() -> None:
    low = unpack(pack(Lease(peer=1, number=1, heat=True, cap_mc=-(10**12), good=True)))
    assert isinstance(low, Lease)
    assert low.cap_mc < 0
