"""The hatch of a run: what is announced through it, and what is answered."""

import socket
import stat
from collections.abc import Callable
from pathlib import Path
from threading import Thread

import pytest

from controller.core.announcement import Deed
from controller.core.state import EventName
from controller.errors import AccessError, BusyError, HardwareError, UsageError
from controller.hatch import MOST_BYTES, MOST_GUESTS, Hatch, hatches, is_open, tell_run
from controller.ports import Event, Request, Source, Verb
from tests.helpers.moments import moment

TAKEN = Event(name=EventName.DEED_ANNOUNCED, facts={"deed": "lid open", "by": "link"})
SPENT = Event(
    name=EventName.REQUEST_REFUSED,
    facts={"verb": Verb.ANNOUNCE, "source": Source.LINK, "reason": "not now"},
)


@pytest.fixture
def place(tmp_path: Path) -> Path:
    """Where a hatch may be; deeper than the name of a socket may be long."""
    return tmp_path / ("deep" * 30) / "kitchen.hatch"


def asking(place: Path, words: str) -> tuple[Thread, list[str]]:
    """Somebody who announces, from a thread of his own."""
    heard: list[str] = []

    def ask() -> None:
        try:
            heard.append(tell_run(place, words))
        except UsageError as error:
            heard.append(str(error))

    thread = Thread(target=ask)
    thread.start()
    return thread, heard


def until(found: Callable[[], tuple[Request, ...]]) -> tuple[Request, ...]:
    """What comes, tick after tick."""
    while not (requests := found()):
        pass
    return requests


def test_what_is_announced_comes_to_the_next_tick_and_is_answered_with_what_it_made_of_it(
    place: Path,
) -> None:
    with Hatch(place) as hatch:
        thread, heard = asking(place, "Lid Open")
        (request,) = until(lambda: hatch.take(0.0, None))
        hatch.tell(moment(events=(TAKEN,)))
        thread.join()
    assert request.verb is Verb.ANNOUNCE
    assert request.source is Source.LINK  # no interlock counts anew for it
    assert request.announcement is not None
    assert request.announcement.deed is Deed.LID_OPEN
    assert heard == ["lid open"]


def test_a_refusal_is_told_in_the_run_s_own_words(place: Path) -> None:
    with Hatch(place) as hatch:
        thread, heard = asking(place, "lid open")
        until(lambda: hatch.take(0.0, None))
        hatch.tell(moment(events=(SPENT,)))
        thread.join()
    assert heard == ["The run did not take it: not now."]


@pytest.mark.parametrize("words", ["stop", "resume", "start", "answer done", "x" * MOST_BYTES])
def test_nothing_but_a_deed_comes_through(place: Path, words: str) -> None:
    with Hatch(place) as hatch:
        thread, heard = asking(place, words)
        while not heard:
            assert hatch.take(0.0, None) == ()
        thread.join()
    assert "did not take it: say added 200 g" in heard[0]


def test_a_slip_in_a_deed_is_named(place: Path) -> None:
    with Hatch(place) as hatch:
        thread, heard = asking(place, "added 200 kg")
        while not heard:
            assert hatch.take(0.0, None) == ()
        thread.join()
    assert heard[0].endswith("go in at a time; did you mean 200 g?")


def test_one_is_taken_a_tick_and_whoever_waits_at_the_end_is_told_so(place: Path) -> None:
    with Hatch(place) as hatch:
        callers = [asking(place, "lid open"), asking(place, "lid closed")]
        taken = until(lambda: hatch.take(0.0, None))
        assert len(taken) == 1
        hatch.tell(moment(events=()))
        until(lambda: hatch.take(1.0, None))
    for thread, heard in callers:
        thread.join()
        assert heard == ["The run did not take it: the run has ended."]


def test_a_crowd_is_let_go_and_silence_holds_nothing_up(place: Path) -> None:
    with Hatch(place) as hatch:
        crowd = []
        for _ in range(MOST_GUESTS + 1):
            one = socket.socket(socket.AF_UNIX, socket.SOCK_SEQPACKET)
            one.settimeout(10.0)  # never reached unless something is wrong
            one.connect(_short(place))
            crowd.append(one)
            assert hatch.take(0.0, None) == ()
        assert crowd[0].recv(1) == b""  # the first of them went
        for one in crowd:
            one.close()
        assert hatch.take(1.0, None) == ()


def _short(place: Path) -> str:
    """A name of the socket that is short enough."""
    link = place.parents[1] / "d"
    if not link.is_symlink():
        link.symlink_to(place.parent)
    return str(link / place.name)


def test_only_user_and_group_may_speak(place: Path) -> None:
    with Hatch(place):
        assert stat.S_IMODE(place.stat().st_mode) == 0o660
        assert hatches((place.parent,)) == [place]
    assert not place.exists()


def test_a_second_run_is_refused_and_what_a_killed_one_left_is_taken_over(place: Path) -> None:
    with Hatch(place):
        assert is_open(place)
        with pytest.raises(BusyError, match="Another run takes announcements at"), Hatch(place):
            pass
    with socket.socket(socket.AF_UNIX, socket.SOCK_SEQPACKET) as left:
        left.bind(_short(place))
    assert not is_open(place)
    with pytest.raises(HardwareError, match="No run listens"):
        tell_run(place, "lid open")
    with Hatch(place):
        assert is_open(place)


def test_a_folder_that_cannot_be_made_is_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with (
        pytest.raises(AccessError, match="make its folder writable"),
        Hatch(tmp_path / "file" / "kitchen.hatch"),
    ):
        pass


def test_whether_it_may_be_left_is_answered_in_full(place: Path) -> None:
    long_ = "Yes. " + "It stays in temper. " * 40
    facts: dict[str, str | float | bool] = {"for_s": 1200.0, "by": "link", "answer": long_}
    with Hatch(place) as hatch:
        thread, heard = asking(place, "leave 20 min")
        (request,) = until(lambda: hatch.take(0.0, None))
        hatch.tell(moment(events=(Event(name=EventName.LEAVE_JUDGED, facts=facts),)))
        thread.join()
    assert request == Request(verb=Verb.LEAVE, source=Source.LINK, for_s=1200.0)
    assert heard == [long_]


def test_a_run_in_fahrenheit_answers_in_fahrenheit(place: Path) -> None:
    facts: dict[str, str | float | bool] = {"answer": "Yes; first 200 g of melt of 40 °C."}
    with Hatch(place, fahrenheit=True) as hatch:
        thread, heard = asking(place, "leave 20 min")
        until(lambda: hatch.take(0.0, None))
        hatch.tell(moment(events=(Event(name=EventName.LEAVE_JUDGED, facts=facts),)))
        thread.join()
    assert heard == ["Yes; first 200 g of melt of 104 °F."]
