"""Bringing records to the disk without making the loop wait for the disk.

Responsible for the one thread that writes and syncs; not for what is written, nor when to sync.
"""

import os
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from threading import Condition, Thread

JOIN_S = 10.0  # own engineering value: a card that needs longer than this is broken
ROOM = 4096  # own engineering value: records that may wait, over four hours of samples
RESERVE = 1024  # own engineering value: further events that may wait once samples no longer may

Write = Callable[[int, memoryview], int]  # as os.write


class Scribe:
    """Writes and syncs one open file, on a thread of its own, from a bounded queue.

    A slow card stalls a write or fdatasync for seconds, and a late tick costs heat; so the loop
    only hands over. Only one thread may hand over.
    """

    def __init__(self, handle: int, *, good_bytes: int, write: Write | None = None) -> None:
        """Serve the file descriptor `handle`, which stays the caller's and holds `good_bytes`.

        `write` is instead of `os.write`, for disks that fail when a trial wants it.
        """
        self._handle = handle
        self._write = write
        self._good_bytes = good_bytes
        self._batches: deque[tuple[bytes, int]] = deque()
        self._waiting = 0
        self._written = 0
        self._sync_is_asked = self._is_busy = self._is_ending = False
        self._change = Condition()
        self.failure: OSError | None = None
        self.safe = 0
        self._thread = Thread(target=self._serve, name="journal", daemon=True)
        self._thread.start()

    def has_room(self, records: int, *, urgent: bool = False, patience_s: float = 0.0) -> bool:
        """Whether so many records may be handed over, waiting at most `patience_s` for room."""
        most = ROOM + RESERVE if urgent else ROOM
        with self._change:
            return self._change.wait_for(lambda: self._waiting + records <= most, patience_s)

    def take(self, data: bytes, records: int) -> None:
        """Write `data` soon, which holds so many records."""
        with self._change:
            self._batches.append((data, records))
            self._waiting += records
            self._change.notify_all()

    def sync(self) -> None:
        """Bring all that was taken to the disk soon; requests that pile up are served as one."""
        with self._change:
            self._sync_is_asked = True
            self._change.notify_all()

    def drain(self, within_s: float) -> bool:
        """Wait until all that was taken is written and synced where asked."""
        with self._change:
            return self._change.wait_for(self._is_idle, within_s)

    def close(self) -> bool:
        """Write, sync a last time and end the thread; False when the disk never answered."""
        with self._change:
            self._sync_is_asked = self._is_ending = True
            self._change.notify_all()
        self._thread.join(JOIN_S)
        return not self._thread.is_alive()

    def _is_idle(self) -> bool:
        return not (self._batches or self._sync_is_asked or self._is_busy)

    def _serve(self) -> None:
        is_ending = False
        while not is_ending:
            with self._change:
                self._change.wait_for(lambda: self._batches or self._sync_is_asked)
                batches, is_ending = tuple(self._batches), self._is_ending
                wants_sync, self._sync_is_asked = self._sync_is_asked, False
                self._batches.clear()
                self._is_busy = True
            self._bring(b"".join(data for data, _ in batches), wants_sync=wants_sync)
            with self._change:
                self._account(sum(records for _, records in batches), was_synced=wants_sync)

    def _bring(self, data: bytes, *, wants_sync: bool) -> None:
        """Write and sync; after a first failure nothing any more, for what holds is unknown."""
        if self.failure is not None:
            return
        try:
            write_all(self._handle, data, self._write)
            self._good_bytes += len(data)
        except OSError as error:
            self.failure = error
            with suppress(OSError):  # readers cut a torn tail, too
                os.ftruncate(self._handle, self._good_bytes)
        if not wants_sync:
            return
        try:
            os.fdatasync(self._handle)
        except OSError as error:
            self.failure = self.failure or error

    def _account(self, records: int, *, was_synced: bool) -> None:
        self._is_busy = False
        self._waiting -= records
        if self.failure is None:
            self._written += records
            self.safe = self._written if was_synced else self.safe
        self._change.notify_all()


def write_all(handle: int, data: bytes, write: Write | None = None) -> None:
    """Write all of `data`, by `os.write` if not told otherwise.

    Raises:
        OSError: the disk is full or failing; a first part may be in the file.
    """
    left = memoryview(data)
    while left:
        left = left[(write or os.write)(handle, left) :]
