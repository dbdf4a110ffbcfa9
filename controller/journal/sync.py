"""Bringing a file to the disk without making the loop wait for the disk.

Responsible for the one thread that calls fdatasync; not for what is written, nor when to ask.
"""

import os
from queue import SimpleQueue
from threading import Thread

JOIN_S = 10.0  # own engineering value: a card that needs longer than this is broken


class Syncer:
    """Syncs one open file on request, on a thread of its own.

    A slow card stalls fdatasync for seconds, and a late tick costs heat; so the loop only asks.
    """

    def __init__(self, handle: int) -> None:
        """Serve the file descriptor `handle`, which stays the caller's."""
        self._handle = handle
        self._asked: SimpleQueue[bool] = SimpleQueue()
        self.failure: OSError | None = None
        self._thread = Thread(target=self._serve, name="journal-sync", daemon=True)
        self._thread.start()

    def ask(self) -> None:
        """Ask for a sync soon; requests that pile up are served as one."""
        if self._asked.empty():
            self._asked.put(True)

    def close(self) -> bool:
        """Sync a last time and end the thread; False when the disk never answered."""
        self._asked.put(True)
        self._asked.put(False)
        self._thread.join(JOIN_S)
        return not self._thread.is_alive()

    def _serve(self) -> None:
        for _ in iter(self._asked.get, False):
            try:
                os.fdatasync(self._handle)
            except OSError as error:
                self.failure = error
