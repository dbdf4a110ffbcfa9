"""The MQTT link: tells the world of each tick and takes plain wishes, from a thread of its own.

Responsible for keeping a connection and for never troubling the control loop; not for what is
shown (publisher, tree) nor for what may be asked (commands).
"""

import contextlib
import re
import threading
from collections import Counter

from structlog.typing import FilteringBoundLogger

from controller.clock import process_s
from controller.core.profile import Profile
from controller.errors import MachineFileError
from controller.link.chronicle import Chronicle
from controller.link.commands import Refusal
from controller.link.courtesy import Courtesy
from controller.link.credentials import client_id, password, signing_key, tls_context
from controller.link.desk import Desk
from controller.link.fitted_rows import Fitted
from controller.link.homie import ROOT, Property
from controller.link.inbox import Inbox
from controller.link.publisher import Publisher
from controller.link.session import BROKEN, LinkLostError, Session, reason_of
from controller.link.settings import LinkSettings
from controller.link.slope import Slope
from controller.link.tokens import Tokens
from controller.link.tree import tree
from controller.link.wishes import Gate
from controller.ports import Moment, Question, Request

# Own engineering values, not published.
STEP_S = 0.1  # how soon a new tick or a farewell is noticed
FIRST_PAUSE_S = 1.0  # before another try; doubled each time
LONGEST_PAUSE_S = 10.0
STEADY_S = 30.0  # a connection that held so long makes the next pause short again
REVIVE_S = 10.0  # at least so long between two starts of the thread

_ID = re.compile(r"[a-z0-9]([a-z0-9-]*[a-z0-9])?")  # Homie convention 5, topic ids


class Link:
    """A teller and a panel. Losing the broker, or never finding one, never changes a run."""

    def __init__(
        self,
        settings: LinkSettings,
        profile: Profile,
        *,
        run_id: str,
        began_utc: str = "",
        period_s: float = 1.0,
        log: FilteringBoundLogger,
    ) -> None:
        """Read the secrets, if there are any; nothing is sent before `start`.

        `began_utc` is when the run began, ISO 8601: without it no time of the day is told.
        `period_s` lies between two ticks, at which the link keeps still.

        Raises:
            AccessError: The password, a certificate or a key can't be read.
            MachineFileError: The device id can't stand in a topic, or a certificate is none.
        """
        if not _ID.fullmatch(settings.device_id):
            raise MachineFileError(
                f"The MQTT device id {settings.device_id!r} can't stand in a topic: "
                "use a to z, 0 to 9 and hyphens inside, such as bainward."
            )
        self._settings = settings
        self._profile = profile
        self._run_id = run_id
        self._began_utc = began_utc
        self._log = log
        self._password = password(settings)
        self._tls = tls_context(settings.tls)
        self._client_id = client_id(settings, self._password)
        self._inbox = Inbox(log)
        gate = Gate(remote=settings.remote, key=signing_key(settings), tokens=Tokens(process_s()))
        self._desk = Desk(gate, self._inbox)
        self._chronicle = Chronicle()
        self._courtesy = Courtesy(period_s)
        self._slope = Slope()
        self._newest: Moment | None = None
        self._connected = False
        self._closing = threading.Event()
        self._leave_by_s = 0.0
        self._thread: threading.Thread | None = None
        self._started_s = 0.0
        self._last_trouble = ""

    def start(self) -> None:
        """Begin to look for the broker, and return at once."""
        self._started_s = process_s()
        # A daemon thread: a name server that doesn't answer must not hold up the end of the run.
        self._thread = threading.Thread(target=self._supervise, name="link", daemon=True)
        self._thread.start()

    def tell(self, moment: Moment) -> None:
        """Leave the newest tick for the link's thread; never waits, never raises."""
        self._desk.settle(moment.events)
        self._chronicle.note(moment.events)
        self._newest = moment
        self._courtesy.told(process_s())
        thread = self._thread
        if thread is not None and not thread.is_alive() and not self._closing.is_set():
            self._revive()

    def take(self, now_s: float, ask: Question | None) -> tuple[Request, ...]:  # noqa: ARG002 - the Panel's contract; commands carry no time
        """Commands and requests that came in since the last call, a stop first; never waits."""
        taken = self._inbox.take(ask)
        self._desk.passed_on(taken)
        return taken

    def close(self, wait_s: float = 2.0) -> None:
        """Show the last tick, say `disconnected` and leave, all within about `wait_s`.

        When the broker doesn't answer in that time it will say `lost` for us.
        """
        thread = self._thread
        if thread is None:
            return
        if not self._closing.is_set():
            self._leave_by_s = process_s() + wait_s
            self._closing.set()
        thread.join(wait_s + STEP_S)

    @property
    def connected(self) -> bool:
        """Whether the broker has welcomed us and not been lost since."""
        return self._connected

    @property
    def address(self) -> str:
        """Of the broker: host and port."""
        return f"{self._settings.host}:{self._settings.port}"

    @property
    def trouble(self) -> str:
        """Why the broker is not there, in the words of whoever noticed; empty while it is."""
        return self._last_trouble

    @property
    def refused(self) -> Counter[Refusal]:
        """How many messages were not taken, by reason; a copy."""
        return self._inbox.refused.copy()

    def _revive(self) -> None:
        if process_s() - self._started_s >= REVIVE_S:
            with contextlib.suppress(RuntimeError):  # no thread to be had: try again later
                self.start()

    def _supervise(self) -> None:
        pause_s = FIRST_PAUSE_S
        while not self._closing.is_set():
            began_s = process_s()
            try:
                self._serve()
            except BROKEN as error:
                self._complain(reason_of(error))
            finally:
                self._connected = False
            if process_s() - began_s >= STEADY_S:
                pause_s = FIRST_PAUSE_S
            self._closing.wait(pause_s)
            pause_s = min(2 * pause_s, LONGEST_PAUSE_S)

    def _complain(self, trouble: str) -> None:
        """Warn once of the same trouble; a broker that stays away must not fill the log."""
        say = self._log.debug if trouble == self._last_trouble else self._log.warning
        say("broker_lost", broker=self.address, reason=trouble)
        self._last_trouble = trouble

    def _serve(self) -> None:
        """One connection, from opening it to its loss or the farewell."""
        session = Session(
            self._settings,
            password=self._password,
            client_id=self._client_id,
            tls=self._tls,
            will=(f"{ROOT}/{self._settings.device_id}/$state", "lost"),
        )
        publisher = Publisher(
            session,
            device_id=self._settings.device_id,
            tree_for=self._tree,
            desk=self._desk,
            chronicle=self._chronicle,
            hub=self._settings.home_assistant,
            fahrenheit=self._settings.fahrenheit,
            log=self._log,
        )
        try:
            session.open(publisher.hear)
            self._connected = True
            self._last_trouble = ""
            self._log.info("broker_connected", broker=self.address)
            while not self._closing.is_set():
                self._courtesy.give_way()
                session.step(STEP_S)
                if self._newest is not None:
                    publisher.show(self._newest, process_s())
                publisher.answer()
            self._say_goodbye(session, publisher)
        finally:
            session.drop()

    def _say_goodbye(self, session: Session, publisher: Publisher) -> None:
        if self._newest is not None:
            publisher.show_last(self._newest, process_s())
        publisher.answer()
        # One quality of service keeps the order: who sees `disconnected` has seen the last values.
        publisher.say_goodbye()
        if not session.flush(self._leave_by_s):
            raise LinkLostError("the broker did not acknowledge the last values in time")
        session.leave()

    def _tree(self, fitted: frozenset[Fitted]) -> tuple[Property, ...]:
        return tree(
            self._profile,
            run_id=self._run_id,
            began_utc=self._began_utc,
            fahrenheit=self._settings.fahrenheit,
            fitted=fitted,
            desk=self._desk,
            slope=self._slope,
        )
