"""How far a sweep is, for whoever watches the terminal.

Responsible for one live line, or a line for every tenth into a pipe, and for the pace at the end;
not for the summary.
"""

from collections.abc import Callable, Mapping
from contextlib import suppress
from typing import TextIO

from controller.report.progress import COLUMNS, ERASE, REFRESH_S
from controller.report.table import OUTCOME, Row
from controller.report.words import duration_text
from controller.trials.sweep_summary import counts_text

TENTHS = 10
MANY = 1000  # the machines of a sweep that says something about a profile; our own choice


class SweepLine:
    """Tells a stream how many machines are done, how they ended and how long it may still take."""

    def __init__(
        self,
        stream: TextIO,
        *,
        total: int,
        clock_s: Callable[[], float],
        live: bool | None = None,
        columns: int = COLUMNS,
    ) -> None:
        """Write to `stream` of `total` machines; `clock_s` is the process's clock.

        `live` None asks the stream whether it is a terminal; `columns` is how wide it is.
        """
        self._stream = stream
        self._total = total
        self._clock_s = clock_s
        self._live = stream.isatty() if live is None else live
        self._columns = columns
        self._ends: list[str] = []
        self._kept: int | None = None  # those from an earlier try; they say nothing of the pace
        self._simulated_s = 0.0
        self._began_s = clock_s()
        self._refreshed_s = float("-inf")
        self._shown = False

    def tell(self, rows: Mapping[int, Row]) -> None:
        """Take in rows that have just come; the first are those kept from an earlier try."""
        before = len(self._ends)
        self._ends += [str(row[OUTCOME]) for row in rows.values()]
        if self._kept is None:
            self._kept = len(rows)
            if rows:
                self._write(f"{len(rows)} of {self._total} machines are done already.\n")
        else:
            self._simulated_s += sum(float(row.get("lasted_s", 0.0)) for row in rows.values())
        if self._live:
            self._refresh()
        elif (
            len(self._ends) > self._kept
            and len(self._ends) * TENTHS // self._total > before * TENTHS // self._total
        ):
            self._write(self._line() + "\n")

    def finish(self) -> None:
        """Take the live line away, so that what follows starts on a clean line."""
        if self._shown:
            self._write(ERASE)
            self._shown = False

    def pace_text(self) -> str:
        """How fast it went, those of an earlier try aside: "20 machines in 31 s: ..."."""
        fresh = len(self._ends) - (self._kept or 0)
        took_s = self._clock_s() - self._began_s
        if fresh == 0 or took_s <= 0.0:
            return ""
        machines = "1 machine" if fresh == 1 else f"{fresh} machines"
        return (
            f"{machines} in {took_s:.0f} s: {fresh / took_s:.3g} a second, "
            f"{self._simulated_s / took_s:.0f} simulated seconds a second; "
            f"{MANY} would take {duration_text(MANY * took_s / fresh)}"
        )

    def _refresh(self) -> None:
        now_s = self._clock_s()
        if now_s - self._refreshed_s < REFRESH_S:
            return
        self._refreshed_s = now_s
        self._write(ERASE + self._line()[: self._columns - 1])
        self._shown = True

    def _line(self) -> str:
        done = len(self._ends)
        counts = f": {counts_text(self._ends)}" if done else ""
        line = f"{done} of {self._total} machines{counts}"
        fresh = done - (self._kept or 0)
        if done == self._total or fresh == 0:
            return line
        left_s = (self._clock_s() - self._began_s) / fresh * (self._total - done)
        return f"{line}; about {duration_text(left_s)} left"

    def _write(self, text: str) -> None:
        """Write what the stream can take. A screen that goes away never ends a sweep."""
        with suppress(OSError):
            self._stream.write(text)
            self._stream.flush()
