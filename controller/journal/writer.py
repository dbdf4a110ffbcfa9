"""Writing a run down: the journal as one of those who are told of each tick.

Responsible for what is written when, and when it must be on the disk; not for bytes (lines) or
for the thread that writes (scribe).
"""

import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from controller.core.state import EventName
from controller.journal.foretelling import Foretelling
from controller.journal.judging import Judging
from controller.journal.lines import (
    closing_line,
    forecast_line,
    header_line,
    loss_line,
    note_line,
    quoted,
    sample_line,
    stamp_line,
    temper_line,
)
from controller.journal.opening import create
from controller.journal.records import Closing, Header, Stamp
from controller.journal.scribe import Scribe, Write
from controller.ports import Moment, Truth

# A power cut loses the time since the last sample and the sync's own few milliseconds: with these
# two less than 5 s, which is what we promise (own engineering values).
SAMPLE_EVERY_S = 4.0
SYNC_EVERY_S = 1.0
STAMP_EVERY_S = 60.0  # own engineering value: one short line a minute
URGENT_S = 0.2  # own engineering value: events sync at once, but no more often than this
SLACK_S = 1e-6  # a tick's time is a sum of floats: 3.999999999 s is 4 s


@dataclass(frozen=True, slots=True, kw_only=True)
class Lost:
    """Records that the disk was too slow for; all of them are counted in the file."""

    samples: int = 0
    events: int = 0

    def __bool__(self) -> bool:
        """Whether any was."""
        return bool(self.samples or self.events)


class Journal:
    """The record of one run, in a file of its own.

    No disk can delay a tick: a thread writes, from a queue. When that is full, samples are
    left out first, then events, and a line says how many. A disk that fails during a run costs
    the record and never the batch: the file ends at the last whole line, and `failure` says why.
    """

    def __init__(
        self,
        path: Path,
        *,
        header: Header,
        clock_s: Callable[[], float],
        sample_every_s: float = SAMPLE_EVERY_S,
        sync_every_s: float = SYNC_EVERY_S,
        stamp: Callable[[], Stamp] | None = None,
        patience_s: float = 0.0,
        write: Write | None = None,
    ) -> None:
        """Create `path` and bring the header to the disk before anything can be heated.

        Args:
            path: the file, which must not exist yet.
            header: what the run is going to do.
            clock_s: the process's clock; it paces syncs and leaves no trace in the file.
            sample_every_s: run time between samples.
            sync_every_s: process time between syncs; events sync at once.
            stamp: reads the other clocks, for the record; None in simulated time.
            patience_s: how long a full queue may hold up a tick: 0 but in simulated time, whose
                bytes must not depend on the disk.
            write: instead of `os.write`, for a disk that fails when a trial wants it.

        Raises:
            BusyError: the file exists, so it is another run's.
            AccessError: the file can't be created or written.
        """
        first = header_line(header)
        self.lost = self._unsaid = Lost()
        self._phases = tuple(phase.name for phase in header.phases)
        self._quoted = tuple(quoted(name) for name in self._phases)
        self._clock_s, self._stamp, self._patience_s = clock_s, stamp, patience_s
        self._sample_every_s, self._sync_every_s = sample_every_s, sync_every_s
        self._handle = create(path, first, write)
        self._scribe = Scribe(self._handle, good_bytes=len(first), write=write)
        self._synced_s = clock_s()
        self._seq, self._phase, self._switches = 1, 0, 0
        self._heater_on = False
        self._due_s = self._stamp_due_s = 0.0
        self._foretelling, self._judging = Foretelling(), Judging()
        self._dirty = self._urgent = self._finished = False
        self._last: Moment | None = None
        self._sampled = True

    @property
    def failure(self) -> OSError | None:
        """Why the record breaks off, or None while the disk holds."""
        return self._scribe.failure

    @property
    def safe(self) -> int:
        """Number of the last record that is surely on the disk; 0 is the header."""
        return self._scribe.safe

    def tell(self, moment: Moment) -> None:
        """Note the tick's events, and a sample with them or when one is due. Never waits."""
        if moment.heater_on is not self._heater_on:
            self._heater_on = moment.heater_on
            self._switches += 1
        self._last = moment
        self._sampled = False
        if self._finished:
            return
        if moment.events or moment.state.run_s >= self._due_s:
            self._record(moment)
        if self._dirty:
            self._pace()

    def drain(self, within_s: float) -> bool:
        """Wait until all that was told is in the file, and synced where that was due."""
        return self._scribe.drain(within_s)

    def finish(self, truth: Truth | None, outcome: str, signal: str = "") -> None:
        """Write the last sample and the closing record, sync and close. A second call does nothing.

        Args:
            truth: what a bench knows and no real machine can.
            outcome: one word or sentence for how the run ended.
            signal: name of the signal that ended the process; empty if none did.
        """
        if self._finished:
            return
        self._finished = True
        last, lines = self._last, []
        if last is not None:
            lines = self._losses(last)
            lines += [] if self._sampled else [self._sample(last)]
        end_s = 0.0 if last is None else last.state.run_s
        closing = Closing(
            seq=self._next_seq(), t_s=end_s, outcome=outcome, truth=truth, signal=signal
        )
        lines.append(closing_line(closing))
        self._scribe.take(b"".join(lines), len(lines))
        if self._scribe.close():
            os.close(self._handle)

    def break_off(self) -> None:
        """End as a power cut ends it: all that was told is there, and no word of an end."""
        if self._finished:
            return
        self._finished = True
        if self._scribe.close():
            os.close(self._handle)

    def _record(self, moment: Moment) -> None:
        """Events and a sample; without room events alone; without that nothing but a count."""
        if self._seq == 1:
            self._phase = self._phase_of(moment)
        events = len(moment.events)
        most = events + 1 + 4  # lines on losses, clocks, of a forecast and of temper may go along
        if self._scribe.has_room(most, patience_s=self._patience_s):
            lines = [*self._losses(moment), *self._notes(moment)]
            self._phase = self._phase_of(moment)
            lines += [*self._clocks(moment), *self._forecast(moment), *self._temper(moment)]
            lines.append(self._sample(moment))
        elif self._scribe.has_room(events, urgent=True):
            lines = self._notes(moment)
            self._lose(samples=1)
        else:
            lines = []
            self._lose(samples=1, events=events)
        self._phase = self._phase_of(moment)
        if moment.state.run_s >= self._due_s:
            self._due_s = moment.state.run_s + self._sample_every_s - SLACK_S
        if lines:
            self._scribe.take(b"".join(lines), len(lines))
            self._dirty = True
            self._urgent = self._urgent or bool(events)

    def _lose(self, *, samples: int, events: int = 0) -> None:
        self.lost = Lost(samples=self.lost.samples + samples, events=self.lost.events + events)
        self._unsaid = Lost(
            samples=self._unsaid.samples + samples, events=self._unsaid.events + events
        )

    def _losses(self, moment: Moment) -> list[bytes]:
        unsaid, self._unsaid = self._unsaid, Lost()
        if not unsaid:
            return []
        name = self._phases[self._phase]
        return [loss_line(self._next_seq(), moment, name, unsaid.samples, unsaid.events)]

    def _clocks(self, moment: Moment) -> list[bytes]:
        if self._stamp is None or moment.state.run_s < self._stamp_due_s:
            return []
        self._stamp_due_s = moment.state.run_s + STAMP_EVERY_S
        return [stamp_line(self._next_seq(), moment, self._phases[self._phase], self._stamp())]

    def _forecast(self, moment: Moment) -> list[bytes]:
        if not self._foretelling.is_due(moment.state.outlook, moment.state.run_s):
            return []
        return [forecast_line(self._next_seq(), moment, self._phases[self._phase])]

    def _temper(self, moment: Moment) -> list[bytes]:
        state = moment.state
        if not self._judging.is_due(state.temper, state.progress.phase, state.run_s):
            return []
        return [temper_line(self._next_seq(), moment, self._phases[self._phase])]

    def _notes(self, moment: Moment) -> list[bytes]:
        """The events; those before `phase_entered` belong to the phase that the tick began in."""
        lines: list[bytes] = []
        for event in moment.events:
            if event.name is EventName.PHASE_ENTERED:
                self._phase = self._phase_of(moment)
            name = self._phases[self._phase]
            lines.append(note_line(self._next_seq(), moment, event, name))
        return lines

    def _phase_of(self, moment: Moment) -> int:
        return min(moment.state.progress.phase, len(self._phases) - 1)

    def _sample(self, moment: Moment) -> bytes:
        self._sampled = True
        return sample_line(self._next_seq(), moment, self._quoted[self._phase], self._switches)

    def _next_seq(self) -> int:
        self._seq += 1
        return self._seq - 1

    def _pace(self) -> None:
        now_s = self._clock_s()
        wait_s = min(URGENT_S, self._sync_every_s) if self._urgent else self._sync_every_s
        if now_s - self._synced_s < wait_s:
            return
        self._scribe.sync()
        self._synced_s = now_s
        self._dirty = self._urgent = False
