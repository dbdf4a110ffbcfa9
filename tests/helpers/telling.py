"""A machine that publishes whatever a test says, through the real link.

Responsible for ticks that come one after the other; not for what is in them.
"""

import threading
from types import TracebackType
from typing import Any, Self

from controller.core.profile import Profile
from controller.link.link import Link
from controller.link.settings import LinkSettings
from controller.ports import Moment
from tests.helpers.logs import listening_log
from tests.helpers.moments import moment, profile, state
from tests.helpers.records import replace

TICK_S = 0.1
BEGAN = "2026-11-25T06:00:00+00:00"


class Telling:
    """Ticks while the `with` block lasts; `show` changes what the ticks say."""

    def __init__(self, settings: LinkSettings, own: Profile | None = None, **more: Any) -> None:  # noqa: ANN401 - any argument of the link
        """Nothing is told yet."""
        more = {"run_id": "a", "began_utc": BEGAN, **more}
        self.link = Link(settings, own or profile(), log=listening_log()[0], **more)
        self._moment: Moment | None = moment()
        self._now_s = 0.0
        self._end = threading.Event()
        self._thread = threading.Thread(target=self._tick, daemon=True)

    def __enter__(self) -> Self:
        """Begin to tick."""
        self._thread.start()
        self.link.start()
        return self

    def __exit__(
        self, _kind: type[BaseException] | None, _error: object, _trace: TracebackType | None
    ) -> None:
        """Take leave, as a run does at its end."""
        self._end.set()
        self._thread.join()
        self.link.close(wait_s=1.0)

    def show(self, given: Moment | None = None, **changes: Any) -> None:  # noqa: ANN401 - any field of the state
        """Say this from the next tick on."""
        self._moment = given or moment(state(**changes))

    def fall_silent(self) -> None:
        """Be there, and tick no more: a control loop that hangs."""
        self._moment = None

    def _tick(self) -> None:
        while not self._end.wait(TICK_S):
            self._now_s += 1.0
            given = self._moment
            if given is not None:
                self.link.tell(replace(given, now_s=given.now_s + self._now_s))
