"""The controller's end of the guard's socket, and the door at the other end.

Responsible for sending without waiting, for what is remembered and for who may come in; whole
processes are in the acceptance test.
"""

import errno
import math
import os
import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest

from controller.errors import AccessError, BusyError, HardwareError
from controller.guard import door as door_module
from controller.guard.client import Caller as Person
from controller.guard.client import GuardedHeater
from controller.guard.decision import Cause, Lease
from controller.guard.door import MOST_GUESTS, Caller, Door, Heard, caller_of, may_enter
from controller.guard.messages import Ask, Rearm, Status, pack
from controller.guard.resets import Confirm
from controller.guard.words import WORDS
from tests.helpers.guard_door import a_door, guest

STATUS = Status(latched=Cause.NONE, heat=True, bath_mc=41_250, number=1)


class Porter:
    """A door kept open in a thread that answers each message with a given status."""

    def __init__(self, door: Door) -> None:
        """Begin."""
        self._door = door
        self.answer: Callable[[Heard], Status | None] = lambda heard: Status(
            latched=Cause.NONE,
            heat=False,
            bath_mc=41_250,
            number=heard.leases[-1].number if heard.leases else 0,
        )
        self.heard: list[object] = []
        self.end = threading.Event()
        self.thread = threading.Thread(target=self._work)

    def _work(self) -> None:
        while not self.end.is_set():
            heard = self._door.listen()
            self.heard += [*heard.leases, *([heard.rearm] if heard.rearm else [])]
            said = self.answer(heard)
            if said is not None and (heard.leases or heard.waiting):
                self._door.tell(said, heard.waiting)

    def until(self, count: int) -> list[object]:
        """Wait until so many messages came."""
        pause = threading.Event()
        for _ in range(3_000):
            if len(self.heard) >= count:
                break
            pause.wait(0.01)
        return self.heard


@pytest.fixture
def place(tmp_path: Path) -> str:
    """Where the socket is."""
    return str(tmp_path / "run" / "guard")


@pytest.fixture
def porter(place: str) -> Iterator[Porter]:
    """A door at that place with somebody who answers."""
    with a_door(place) as door:
        keeper = Porter(door)
        keeper.thread.start()
        yield keeper
        keeper.end.set()
        keeper.thread.join()


def test_each_drive_sends_one_lease_with_the_next_number(porter: Porter, place: str) -> None:
    heater = GuardedHeater((place,))
    heater.drive(on=True, now_s=1.0, cap_c=50.25)
    heater.drive(on=False, now_s=2.0, cap_c=50.25, good=False)
    heater.farewell(3.0)
    heater.farewell(4.0, "level-lost")
    leases = porter.until(5)
    heater.close()
    assert all(isinstance(lease, Lease) for lease in leases)
    peers = {lease.peer for lease in leases if isinstance(lease, Lease)}
    assert len(peers) == 1
    assert 0 not in peers
    (peer,) = peers
    assert leases == [
        Lease(peer=peer, number=1, heat=False, cap_mc=0, good=True),
        Lease(peer=peer, number=2, heat=True, cap_mc=50_250, good=True),
        Lease(peer=peer, number=3, heat=False, cap_mc=50_250, good=False),
        Lease(peer=peer, number=4, heat=False, cap_mc=0, good=True, farewell=True),
        Lease(
            peer=peer,
            number=5,
            heat=False,
            cap_mc=0,
            good=True,
            farewell=True,
            tripped="level-lost",
        ),
    ]


@pytest.mark.parametrize("cap_c", [math.nan, math.inf, -math.inf])
def test_a_cap_that_is_no_number_asks_for_no_heat(cap_c: float, porter: Porter, place: str) -> None:
    heater = GuardedHeater((place,))
    heater.drive(on=True, now_s=1.0, cap_c=cap_c)
    lease = porter.until(2)[1]
    heater.close()
    assert isinstance(lease, Lease)
    assert (lease.heat, lease.cap_mc) == (False, 0)


def wait_for(heater: GuardedHeater, now_s: float, age_s: float) -> None:
    """Read until the word is that old."""
    pause = threading.Event()
    for _ in range(3_000):
        if heater.read(now_s).age_s == age_s:
            return
        pause.wait(0.01)
    pytest.fail(f"no word of that age: {heater.read(now_s)}")


def test_the_guards_word_is_as_old_as_the_lease_that_it_answers(porter: Porter, place: str) -> None:
    heater = GuardedHeater((place,))
    permit = heater.read(100.0)
    assert (permit.latched, permit.age_s, permit.bath_c) == ("none", 0.0, 41.25)
    assert heater.read(103.0).age_s == 3.0
    heater.drive(on=True, now_s=103.0, cap_c=50.0)
    porter.until(2)
    wait_for(heater, 104.0, 1.0)
    assert heater.read(110.0).age_s == 7.0
    heater.close()


def test_a_latched_cause_comes_with_its_words(porter: Porter, place: str) -> None:
    porter.answer = lambda _heard: Status(
        latched=Cause.BATH_OVER_CAP, heat=False, bath_mc=None, number=1
    )
    heater = GuardedHeater((place,))
    permit = heater.read(0.0)
    heater.close()
    assert permit.latched == "bath-over-cap"
    assert (permit.what, permit.action) == WORDS[Cause.BATH_OVER_CAP]
    assert math.isnan(permit.bath_c)
    assert not permit.heat


def test_a_trip_that_latched_comes_with_its_word(porter: Porter, place: str) -> None:
    porter.answer = lambda _heard: Status(
        latched=Cause.CONTROLLER_TRIPPED, heat=False, bath_mc=None, number=1, tripped="level-lost"
    )
    heater = GuardedHeater((place,))
    permit = heater.read(0.0)
    heater.close()
    assert permit.what == "a run tripped (level-lost)"


@pytest.fixture
def pair() -> Iterator[tuple[socket.socket, socket.socket]]:
    """Two ends of a connection."""
    with ExitStack() as stack:
        ours, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        yield stack.enter_context(ours), stack.enter_context(theirs)


def heater_on(
    pair: tuple[socket.socket, socket.socket], monkeypatch: pytest.MonkeyPatch
) -> GuardedHeater:
    """A heater whose guard is the other end of the pair, and says something once."""
    ours, theirs = pair
    theirs.send(pack(STATUS))
    monkeypatch.setattr("controller.guard.client._connected", lambda _places: ours)
    return GuardedHeater(("",))


def test_a_guard_that_reads_nothing_never_holds_up_a_tick_and_its_word_grows_old(
    pair: tuple[socket.socket, socket.socket], monkeypatch: pytest.MonkeyPatch
) -> None:
    heater = heater_on(pair, monkeypatch)
    assert heater.read(0.0).age_s == 0.0
    for tick in range(5_000):  # far more than a socket holds
        heater.drive(on=True, now_s=float(tick), cap_c=50.0)
    assert heater.read(5_000.0).age_s == 5_000.0


def test_a_guard_that_ended_is_remembered_and_not_raised(
    pair: tuple[socket.socket, socket.socket], monkeypatch: pytest.MonkeyPatch
) -> None:
    heater = heater_on(pair, monkeypatch)
    pair[1].close()
    heater.drive(on=True, now_s=0.0, cap_c=50.0)
    heater.farewell(1.0)
    permit = heater.read(1.0)
    assert permit.age_s == math.inf
    assert permit.latched == "none"


def test_an_end_is_also_seen_by_reading(
    pair: tuple[socket.socket, socket.socket], monkeypatch: pytest.MonkeyPatch
) -> None:
    heater = heater_on(pair, monkeypatch)
    pair[1].recv(64)  # an end with something unread would be a reset
    pair[1].send(b"noise")
    pair[1].send(pack(Status(latched=Cause.LEASE_LAPSED, heat=False, bath_mc=1, number=0)))
    pair[1].close()
    permit = heater.read(1.0)
    assert (permit.latched, permit.age_s) == ("lease-lapsed", math.inf)


def test_a_guard_that_ended_with_something_unread_is_an_end_too(
    pair: tuple[socket.socket, socket.socket], monkeypatch: pytest.MonkeyPatch
) -> None:
    heater = heater_on(pair, monkeypatch)
    pair[1].close()
    assert heater.read(1.0).age_s == math.inf


def test_a_guard_that_hangs_up_on_the_greeting_serves_another(
    pair: tuple[socket.socket, socket.socket], monkeypatch: pytest.MonkeyPatch
) -> None:
    pair[1].close()
    monkeypatch.setattr("controller.guard.client._connected", lambda _places: pair[0])
    with pytest.raises(BusyError, match="serves another controller"):
        GuardedHeater(("",))
    assert pair[0].fileno() == -1


def test_without_a_guard_it_is_said_what_to_start(tmp_path: Path) -> None:
    with pytest.raises(HardwareError, match="start it with `bainward guard --machine"):
        GuardedHeater((str(tmp_path / "a"), str(tmp_path / "b")))


def test_a_guard_that_never_answers_is_said(
    pair: tuple[socket.socket, socket.socket], monkeypatch: pytest.MonkeyPatch
) -> None:
    pair[0].settimeout(0.01)
    monkeypatch.setattr("controller.guard.client._connected", lambda _places: pair[0])
    with pytest.raises(HardwareError, match="gives no answer"):
        GuardedHeater(("",))


def test_a_person_asks_and_rearms_what_they_saw(porter: Porter, place: str) -> None:
    person = Person((place,))
    assert person.ask().bath_mc == 41_250
    shown = Status(
        latched=Cause.BATH_OVER_CAP, heat=False, bath_mc=None, number=0, also=("level-lost",)
    )
    person.rearm(shown, Confirm.INSPECTED)
    person.close()
    wanted = Rearm(seen=Cause.BATH_OVER_CAP, count=2, confirmed=Confirm.INSPECTED)
    assert porter.heard == [wanted]


def test_the_second_place_serves_when_the_first_can_not_be_had(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("", encoding="ascii")
    places = (str(tmp_path / "file" / "guard"), str(tmp_path / "guard"))
    with a_door(*places) as door:
        assert door.place == places[1]
        assert (tmp_path / "guard").stat().st_mode & 0o777 == 0o660
    assert not (tmp_path / "guard").exists()


def test_a_door_without_a_place_says_why(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("", encoding="ascii")
    with pytest.raises(AccessError, match="make the folder writable"):
        a_door(str(tmp_path / "file" / "guard"))
    with pytest.raises(AccessError, match="too long"):
        a_door(str(tmp_path / ("x" * 200)))


def test_a_file_of_somebodys_own_is_never_removed_for_a_socket(tmp_path: Path) -> None:
    own = tmp_path / "own"
    own.write_text("mine", encoding="ascii")
    with pytest.raises(AccessError, match="in use"):
        a_door(str(own))
    assert own.read_text("ascii") == "mine"


def test_a_second_guard_does_not_take_the_place_of_a_living_one(place: str) -> None:
    with a_door(place), pytest.raises(BusyError, match="already listens"):
        a_door(place)


def test_the_socket_of_a_guard_that_was_killed_is_replaced(place: str) -> None:
    Path(place).parent.mkdir()
    with socket.socket(socket.AF_UNIX, socket.SOCK_SEQPACKET) as dead:
        dead.bind(place)
    with a_door(place) as door:
        assert door.place == place


@pytest.mark.parametrize(
    ("caller", "enters"),
    [
        (Caller(0, frozenset({0})), True),
        (Caller(1000, frozenset({1})), True),
        (Caller(1001, frozenset({5, 100})), True),
        (Caller(1001, frozenset({5})), False),
    ],
)
def test_only_root_and_those_who_share_user_or_group_come_in(caller: Caller, enters: bool) -> None:
    assert may_enter(caller, uid=1000, gid=100) is enters


def test_the_kernel_says_who_is_there(pair: tuple[socket.socket, socket.socket]) -> None:
    caller = caller_of(pair[0])
    assert caller.uid == os.geteuid()
    assert {os.getegid(), *os.getgroups()} <= caller.groups | {os.getegid()}


def test_whoever_may_not_enter_is_shown_out(
    place: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(door_module, "may_enter", lambda *_args, **_kwargs: False)
    with a_door(place) as door, ExitStack() as stack:
        stranger = guest(place, stack)
        stranger.send(pack(Ask()))
        assert door.listen() == Heard(more=True)
        assert door.listen() == Heard()
        with pytest.raises(ConnectionResetError):
            stranger.recv(64)
    del capsys


def test_idle_guests_make_room_for_those_who_come(place: str) -> None:
    with a_door(place) as door, ExitStack() as stack:
        guests = []
        for _ in range(MOST_GUESTS + 1):
            guests.append(guest(place, stack))
            door.listen()
        assert guests[0].recv(64) == b""
        guests[-1].send(pack(Ask()))
        assert len(door.listen().waiting) == 1


def test_leases_come_in_their_order_before_the_hang_up(
    place: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(door_module, "MOST_HEARD", 3)
    leases = [Lease(peer=1, number=n, heat=True, cap_mc=1, good=True) for n in range(1, 6)]
    with a_door(place) as door, ExitStack() as stack:
        controller = guest(place, stack)
        assert door.listen().more  # somebody came, so others may wait
        for lease in leases:
            controller.send(pack(lease))
        controller.close()
        first, second = door.listen(), door.listen()
    assert first.leases + second.leases == leases
    assert first.more
    assert not first.hung_up
    assert second.hung_up


def test_a_last_word_is_heard_though_its_speaker_left_without_reading_the_answers(
    place: str,
) -> None:
    first, last = (Lease(peer=1, number=n, heat=False, cap_mc=1, good=True) for n in (1, 2))
    with a_door(place) as door, ExitStack() as stack:
        controller = guest(place, stack)
        controller.send(pack(first))
        door.listen()
        door.tell(STATUS, [])
        controller.send(pack(last))
        controller.close()  # the kernel tells the other end of a reset, before the datagram
        heard = door.listen()
    assert heard.leases == [last]
    assert heard.hung_up


def test_a_connection_that_fails_in_any_way_is_a_hang_up(
    place: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    lease = pack(Lease(peer=1, number=1, heat=True, cap_mc=1, good=True))
    with a_door(place) as door, ExitStack() as stack:
        controller = guest(place, stack)
        controller.send(lease)
        door.listen()

        def failing(_socket: socket.socket, _bytes: int) -> bytes:
            raise OSError(errno.ENOMEM, "Cannot allocate memory")

        monkeypatch.setattr(socket.socket, "recv", failing)
        assert door.listen() == Heard(hung_up=True, more=True)


def test_a_second_speaker_is_let_go_and_the_next_one_welcome_after_the_first(place: str) -> None:
    lease = pack(Lease(peer=1, number=1, heat=True, cap_mc=1, good=True))
    with a_door(place) as door, ExitStack() as stack:
        first, second = guest(place, stack), guest(place, stack)
        door.listen()
        door.listen()
        first.send(lease)
        door.listen()
        second.send(lease)
        assert door.listen().leases == []
        assert second.recv(64) == b""
        door.tell(STATUS, [])
        assert first.recv(64) == pack(STATUS)
        first.close()
        assert door.listen().hung_up
        third = guest(place, stack)
        third.send(lease)
        assert len(door.listen().leases) == 1
        third.close()
        door.tell(STATUS, [])  # to nobody any more: passed over


def test_who_comes_while_the_controller_goes_is_heard_after_it_has_gone(place: str) -> None:
    lease = pack(Lease(peer=1, number=1, heat=True, cap_mc=1, good=True))
    with a_door(place) as door, ExitStack() as stack:
        first = guest(place, stack)
        first.send(lease)
        assert len(door.listen().leases) == 1
        second = guest(place, stack)
        door.listen()
        second.send(lease)
        first.close()
        assert door.listen() == Heard(hung_up=True, more=True)
        assert len(door.listen().leases) == 1


def test_a_guest_that_goes_is_forgotten_and_noise_is_passed_over(place: str) -> None:
    with a_door(place) as door, ExitStack() as stack:
        visitor = guest(place, stack)
        visitor.send(b"noise")
        visitor.send(pack(STATUS))  # a guard's word is nothing that a guard takes
        visitor.close()
        assert door.listen() == Heard(more=True)  # somebody came, so others may wait
        assert door.listen() == Heard()
