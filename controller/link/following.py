"""A guest at the broker who follows one machine: what a page or a terminal shows comes from here.

Responsible for finding the broker, and finding it again; not for what the messages mean (view). It
comes under a name of its own, so that it takes nothing away from the run, and asks for nothing.
"""

import dataclasses
import secrets
import threading

from controller.clock import process_s
from controller.link.credentials import password, tls_context
from controller.link.homie import ROOT
from controller.link.session import BROKEN, LinkLostError, Session, reason_of
from controller.link.settings import LinkSettings
from controller.view.board import Board, View

# Own engineering values, not published.
STEP_S = 0.1
FIRST_PAUSE_S = 0.5  # before another try; doubled each time
LONGEST_PAUSE_S = 4.0
LEAVE_S = 1.0
_ID_BYTES = 8


def guest(settings: LinkSettings) -> LinkSettings:
    """The same broker, under a name that no other client has."""
    name = f"{settings.device_id}-{secrets.token_hex(_ID_BYTES)}"
    return dataclasses.replace(settings, device_id=name)


class Follower:
    """Listens in a thread of its own; `view` may be called from any other."""

    def __init__(self, settings: LinkSettings) -> None:
        """Read the secrets, if there are any; nothing is asked before `start`.

        Raises:
            AccessError: the password or a certificate can't be read.
            MachineFileError: a certificate is none, or a password would go in plain.
        """
        self._settings = settings
        self._password = password(settings)
        self._tls = tls_context(settings.tls)
        self._base = f"{ROOT}/{settings.device_id}"
        self._board = Board(self._base)
        self._lock = threading.Lock()
        self._closing = threading.Event()
        self._trouble = ""
        self._thread = threading.Thread(target=self._follow, name="follower", daemon=True)

    def start(self) -> None:
        """Begin to look for the broker, and return at once."""
        self._thread.start()

    def close(self) -> None:
        """Leave the broker."""
        self._closing.set()
        if self._thread.is_alive():
            self._thread.join(LEAVE_S)

    def view(self) -> View:
        """All that can be shown now."""
        with self._lock:
            return self._board.view(process_s())

    @property
    def is_alive(self) -> bool:
        """Whether somebody listens, or looks for the broker."""
        return self._thread.is_alive()

    @property
    def trouble(self) -> str:
        """Why the broker is not there, in the words of whoever noticed; empty while it is."""
        return self._trouble

    def _follow(self) -> None:
        pause_s = FIRST_PAUSE_S
        while not self._closing.is_set():
            try:
                self._listen()
            except BROKEN as error:
                pause_s = FIRST_PAUSE_S if not self._trouble else min(2 * pause_s, LONGEST_PAUSE_S)
                self._trouble = reason_of(error)
            with self._lock:
                self._board.lost()
            self._closing.wait(pause_s)

    def _listen(self) -> None:
        """One connection, from opening it to its loss or the end."""
        session = Session(guest(self._settings), password=self._password, tls=self._tls)
        try:
            session.open(self._hear)
            with self._lock:
                self._board.found(process_s())
            # `+/+` would be too few for `$state`, and `#` brings the machine's own commands, too.
            session.subscribe((f"{self._base}/+", f"{self._base}/+/+"), _granted)
            self._trouble = ""
            while not self._closing.is_set():
                session.step(STEP_S)
            session.leave()
        finally:
            session.drop()

    def _hear(self, topic: str, payload: bytes, retained: bool) -> None:
        with self._lock:
            self._board.hear(topic, payload, retained=retained, now_s=process_s())


def _granted(is_granted: bool) -> None:
    """A broker that lets us in and hear nothing is as good as none."""
    if not is_granted:
        raise LinkLostError("the broker does not let this user read the machine's topics")
