"""The hatch of a run: a local socket through which somebody at this computer announces a deed.

Responsible for one request and one answer over a socket that a file's mode keeps to a user and a
group; not for what follows of an announcement, nor for how many are taken (core/heeding). Nothing
but announcements comes through, and whether it may be left. They count as those over MQTT do: no
interlock counts anew for them, and nothing here can start heat.
"""

import os
import socket
from collections import deque
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from types import TracebackType
from typing import Self

from controller.core.announcement import HOW, doubt
from controller.core.leaving import leave_of
from controller.core.scales import retold
from controller.core.state import EventName
from controller.errors import AccessError, BusyError, HardwareError, UsageError
from controller.ports import Event, Moment, Question, Request, Source, Verb, announced

SUFFIX = ".hatch"
MOST_BYTES = 256  # of a request, as of a plain command over MQTT
# Own engineering values, not published.
ANSWER_S = 15.0  # a run answers with its next tick, which may be slow on purpose
ANSWER_BYTES = 4096  # of sentences for a person
MOST_GUESTS = 8  # the one that came first goes when more come
_SOCKET_MODE = 0o660
_KIND = socket.SOCK_SEQPACKET | socket.SOCK_CLOEXEC
TAKEN = "taken: "
REFUSED = "refused: "
ENDED = "the run has ended"
HEARD = frozenset({Verb.ANNOUNCE, Verb.LEAVE})


class Hatch:
    """A panel and a teller; usable as a context manager. Never waits, never raises in a tick."""

    def __init__(self, path: Path, *, fahrenheit: bool = False) -> None:
        """Say where, and in which scale it answers; nothing is opened yet."""
        self._path, self._fahrenheit = path, fahrenheit
        self._listener: socket.socket | None = None
        self._guests: deque[socket.socket] = deque()
        self._asked: tuple[socket.socket, str] | None = None  # who waits for this tick's answer

    def __enter__(self) -> Self:
        """Open it.

        Raises:
            AccessError: the socket can't be made there.
            BusyError: another run has its hatch there.
        """
        try:
            self._path.parent.mkdir(parents=True, exist_ok=True)
            with _reached(self._path) as place:
                self._listener = _listening(place, self._path)
        except OSError as error:
            raise AccessError(
                f"The socket {self._path} can't be made ({error.strerror}), so nothing could be "
                "announced; make its folder writable, or name another with XDG_STATE_HOME."
            ) from error
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Close it; whoever waits is told that the run is over."""
        if self._listener is not None:
            self._listener.close()
            with suppress(OSError):
                self._path.unlink()
        if self._asked is not None:
            self._guests.append(self._asked[0])
        for guest in self._guests:
            _answer(guest, REFUSED + ENDED)

    def take(self, now_s: float, ask: Question | None) -> tuple[Request, ...]:  # noqa: ARG002 - the Panel's contract
        """One announcement of those that came in since the last tick; the others wait."""
        self._admit()
        for _ in range(len(self._guests)):
            guest = self._guests.popleft()
            try:
                data = guest.recv(MOST_BYTES + 1)
            except BlockingIOError:
                self._guests.append(guest)  # came, and has said nothing yet
                continue
            except OSError:
                data = b""
            request = _understood(data)
            if request is not None:
                said = request.announcement
                self._asked = (guest, "" if said is None else said.words)
                return (request,)
            _answer(guest, f"{REFUSED}{_hint(data)}" if data else "")
        return ()

    def tell(self, moment: Moment) -> None:
        """Answer with what this tick made of it."""
        if self._asked is not None:
            guest, words = self._asked
            self._asked = None
            _answer(guest, retold(_verdict(words, moment.events), fahrenheit=self._fahrenheit))

    def _admit(self) -> None:
        while self._listener is not None:
            try:
                guest, _ = self._listener.accept()
            except OSError:
                return  # nobody, or gone again
            guest.setblocking(False)
            self._guests.append(guest)
            if len(self._guests) > MOST_GUESTS:
                self._guests.popleft().close()


def _understood(data: bytes) -> Request | None:
    if len(data) > MOST_BYTES:
        return None
    text = data.decode("utf-8", errors="replace")
    if (for_s := leave_of(text)) is not None:
        return Request(verb=Verb.LEAVE, source=Source.LINK, for_s=for_s)
    deed = announced(text)
    if deed is None:
        return None
    return Request(verb=Verb.ANNOUNCE, source=Source.LINK, announcement=deed)


def _hint(data: bytes) -> str:
    """What is answered to words that mean no deed."""
    slip = doubt(data[:MOST_BYTES].decode("utf-8", errors="replace"))
    return slip.rstrip(".") or f"say {HOW.removeprefix('announce ')}"


def _verdict(words: str, events: Sequence[Event]) -> str:
    """What became of an announcement, by the events of its tick."""
    for event in events:
        if event.name is EventName.DEED_ANNOUNCED and event.facts["deed"] == words:
            return TAKEN + words
        if event.name is EventName.LEAVE_JUDGED and not words:
            return f"{TAKEN}{event.facts['answer']}"
    for event in events:
        if event.name is EventName.REQUEST_REFUSED and event.facts["verb"] in HEARD:
            return f"{REFUSED}{event.facts['reason']}"
    return REFUSED + ENDED


def _answer(guest: socket.socket, text: str) -> None:
    """The one answer; whoever can't take it misses it."""
    if text:
        with suppress(OSError):
            guest.send(text.encode())
    guest.close()


@contextmanager
def _reached(path: Path) -> Iterator[str]:
    """A short name of a path: those of sockets end after 107 bytes (unix(7)), folders don't."""
    folder = os.open(path.parent, os.O_PATH | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        yield f"/proc/self/fd/{folder}/{path.name}"
    finally:
        os.close(folder)


def _listening(place: str, path: Path) -> socket.socket:
    with socket.socket(socket.AF_UNIX, _KIND) as trial:
        trial.setblocking(False)
        try:
            trial.connect(place)
        except FileNotFoundError:
            pass
        except ConnectionRefusedError:
            path.unlink()  # of a run that is no more
        else:
            raise BusyError(f"Another run takes announcements at {path}; stop that one first.")
    listener = socket.socket(socket.AF_UNIX, _KIND)
    before = os.umask(~_SOCKET_MODE & 0o777)  # never open to others, not for a moment
    try:
        listener.bind(place)
        listener.listen(MOST_GUESTS)
    except OSError:
        listener.close()
        raise
    finally:
        os.umask(before)
    listener.setblocking(False)
    return listener


def hatches(folders: Sequence[Path]) -> list[Path]:
    """Where runs may be listening, in these folders."""
    return [path for folder in folders for path in sorted(folder.glob(f"*{SUFFIX}"))]


def is_open(path: Path) -> bool:
    """Whether a run is behind this hatch, or one that this user may not speak to."""
    try:
        with _reached(path) as place, socket.socket(socket.AF_UNIX, _KIND) as caller:
            caller.settimeout(ANSWER_S)
            caller.connect(place)
    except PermissionError:
        return True
    except OSError:
        return False
    return True


def tell_run(path: Path, words: str) -> str:
    """Announce something to the run behind this hatch; what it took it for.

    Raises:
        HardwareError: nobody is behind it any more.
        AccessError: this user may not.
        UsageError: the run refused it, in its own words, or gave no answer.
    """
    try:
        with _reached(path) as place, socket.socket(socket.AF_UNIX, _KIND) as caller:
            caller.settimeout(ANSWER_S)
            caller.connect(place)
            caller.send(words.encode())
            answer = caller.recv(ANSWER_BYTES).decode()
    except TimeoutError:
        raise UsageError(
            f"The run at {path} gave no answer within {ANSWER_S:g} s; look whether it still goes."
        ) from None
    except PermissionError as error:
        raise AccessError(
            f"The run at {path} may not be spoken to ({error.strerror}); "
            "announce as the user who runs it, or as one of its group."
        ) from error
    except OSError as error:
        raise HardwareError(f"No run listens at {path} any more.") from error
    if answer.startswith(TAKEN):
        return answer.removeprefix(TAKEN)
    why = answer.removeprefix(REFUSED) or ENDED
    raise UsageError(f"The run did not take it: {why}{'' if why.endswith('?') else '.'}")
