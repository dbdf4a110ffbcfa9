"""Writing a run down: the journal as one of those who are told of each tick.

Responsible for what is written when, and for bringing it to the disk; not for its bytes (lines).
"""

import os
from collections.abc import Callable
from pathlib import Path

from controller.core.state import EventName
from controller.errors import AccessError, BusyError
from controller.journal.lines import closing_line, header_line, note_line, quoted, sample_line
from controller.journal.records import Closing, Header
from controller.journal.sync import Syncer
from controller.ports import Moment, Truth

FILE_MODE = 0o644
CLOSED = -1  # no file has this number
URGENT_S = 0.2  # own engineering value: events sync at once, but no more often than this
SLACK_S = 1e-6  # a tick's time is a sum of floats: 4.999999999 s is 5 s


class Journal:
    """The record of one run, in a file of its own.

    A disk that fails during a run costs the record and never the batch: the journal falls
    silent at the last whole line it could write and says why in `failure`.
    """

    def __init__(
        self,
        path: Path,
        *,
        header: Header,
        clock_s: Callable[[], float],
        sample_every_s: float = 5.0,
        sync_every_s: float = 1.0,
    ) -> None:
        """Create `path` and bring the header to the disk before anything can be heated.

        Args:
            path: the file, which must not exist yet.
            header: what the run is going to do.
            clock_s: the process's clock; it paces syncs and leaves no trace in the file.
            sample_every_s: run time between samples.
            sync_every_s: process time between syncs. What a power cut can lose is this plus
                one `sample_every_s`; nothing is synced when nothing was written.

        Raises:
            BusyError: the file exists, so it is another run's.
            AccessError: the file can't be created or written.
        """
        self.failure: OSError | None = None
        self._phases = tuple(phase.name for phase in header.phases)
        self._quoted = tuple(quoted(name) for name in self._phases)
        self._clock_s = clock_s
        self._sample_every_s = sample_every_s
        self._sync_every_s = sync_every_s
        self._handle = _create(path, header_line(header))
        self._syncer = Syncer(self._handle)
        self._synced_s = clock_s()
        self._seq = 1
        self._phase = 0
        self._switches = 0
        self._heater_on = False
        self._due_s = 0.0
        self._dirty = self._urgent = self._finished = False
        self._last: Moment | None = None
        self._sampled = True

    def tell(self, moment: Moment) -> None:
        """Write the tick's events, and a sample with them or when one is due."""
        if moment.heater_on is not self._heater_on:
            self._heater_on = moment.heater_on
            self._switches += 1
        self._last = moment
        self._sampled = False
        if moment.events or moment.state.run_s >= self._due_s:
            self._record(moment)
        if self._dirty:
            self._pace()

    def finish(self, truth: Truth | None, outcome: str) -> None:
        """Write the last sample and the closing record, sync and close. A second call does nothing.

        Args:
            truth: what a bench knows and no real machine can.
            outcome: one word or sentence for how the run ended.
        """
        if self._finished:
            return
        self._finished = True
        lines = [] if self._sampled or self._last is None else [self._sample(self._last)]
        end_s = 0.0 if self._last is None else self._last.state.run_s
        lines.append(
            closing_line(Closing(seq=self._next_seq(), t_s=end_s, outcome=outcome, truth=truth))
        )
        self._write(b"".join(lines))
        if self._syncer.close():
            os.close(self._handle)
        self._handle = CLOSED  # the number may soon be another file's
        self.failure = self.failure or self._syncer.failure

    def _record(self, moment: Moment) -> None:
        if self._seq == 1:
            self._phase = self._phase_of(moment)
        lines = self._notes(moment)
        self._phase = self._phase_of(moment)
        lines.append(self._sample(moment))
        if moment.state.run_s >= self._due_s:
            self._due_s = moment.state.run_s + self._sample_every_s - SLACK_S
        self._write(b"".join(lines))
        self._dirty = True
        self._urgent = self._urgent or bool(moment.events)

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

    def _write(self, data: bytes) -> None:
        """Hand `data` to the kernel, where a killed process can't lose it."""
        if self.failure is not None or self._handle == CLOSED:
            return
        try:
            _write_all(self._handle, data)
        except OSError as error:
            self.failure = error

    def _pace(self) -> None:
        now_s = self._clock_s()
        wait_s = min(URGENT_S, self._sync_every_s) if self._urgent else self._sync_every_s
        if now_s - self._synced_s < wait_s:
            return
        self._syncer.ask()
        self._synced_s = now_s
        self._dirty = self._urgent = False
        self.failure = self.failure or self._syncer.failure


def _create(path: Path, first: bytes) -> int:
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, FILE_MODE)
    except FileExistsError as error:
        raise BusyError(
            f"The journal {path} exists already, so it is another run's; give another run id."
        ) from error
    except OSError as error:
        raise AccessError(_cannot(path, error)) from error
    try:
        _write_all(handle, first)
        os.fsync(handle)
        _sync_folder(path.parent)
    except OSError as error:
        os.close(handle)
        path.unlink(missing_ok=True)
        raise AccessError(_cannot(path, error)) from error
    return handle


def _write_all(handle: int, data: bytes) -> None:
    """Write all of `data`; on a disk that fills up, a first part may stay, which readers cut."""
    written = os.write(handle, data)
    if written < len(data):
        _write_all(handle, data[written:])


def _sync_folder(folder: Path) -> None:
    """Without this a power cut may lose the file's name, and with it the run."""
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _cannot(path: Path, error: OSError) -> str:
    return (
        f"The journal {path} can't be written ({error.strerror}), and no run starts without one;"
        " make its folder exist, be writable and have room, or name another."
    )
