"""On the screen of a run: that its broker is not there, and that it is there again.

Responsible for those two lines alone; not for the link, which looks for the broker by itself. Who
follows a run on a phone sees nothing of it then, and must learn at the machine why.
"""

import math

from controller.link.link import Link
from controller.ports import Moment
from controller.report.progress import ProgressLine

AWAY_S = 15.0  # own choice: a broker that is back before is not worth a line


class LinkLine:
    """A teller that looks at the link with every tick."""

    def __init__(self, screen: ProgressLine, *, is_real: bool = True) -> None:
        """Say nothing until there is a link to `follow`.

        Nor ever in simulated time: there a run is half over before any broker could answer.
        """
        self._screen, self._is_real = screen, is_real
        self._link: Link | None = None
        self._seen_s = math.nan  # of the run: when the broker was last there, or first missed
        self._is_missed = False

    def follow(self, link: Link) -> None:
        """This is the run's link."""
        if self._is_real:
            self._link = link

    def tell(self, moment: Moment) -> None:
        """Say it once when the broker stays away, and once when it has come."""
        link, run_s = self._link, moment.state.run_s
        if link is None:
            return
        if link.connected:
            if self._is_missed:
                self._screen.note(f"the broker at {link.address} is there", run_s)
            self._seen_s, self._is_missed = run_s, False
        elif math.isnan(self._seen_s):
            self._seen_s = run_s
        elif run_s - self._seen_s >= AWAY_S and not self._is_missed:
            why = f" ({link.trouble})" if link.trouble else ""
            self._screen.note(
                f"no broker at {link.address}{why}: nobody can follow this run from afar. It goes "
                "on, and the broker is looked for; see to its address and that it runs.",
                run_s,
            )
            self._is_missed = True
