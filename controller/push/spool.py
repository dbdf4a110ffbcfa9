"""What was heard and what waits to be sent, on disk: one SQLite file.

Responsible for keeping both together, so that a kill or a power cut at any moment neither loses a
message nor makes it twice; not for what is told (telling) nor when (pacing).
"""

import secrets
import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path

from controller.core.interlock_rows import Priority
from controller.errors import AccessError
from controller.push.message import Message, Waiting
from controller.push.settings import Kind
from controller.push.telling import Facts, is_kept

# Own engineering values, not published.
MOST_WAITING = 500  # more waits only if somebody floods the broker
KEPT_SENT = 200  # of what is over, for the rate and for whoever asks
BUSY_S = 10.0  # how long one thread waits for the other
_ID_BYTES = 4

_TABLES = """
CREATE TABLE IF NOT EXISTS names (name TEXT PRIMARY KEY, value TEXT NOT NULL);
CREATE TABLE IF NOT EXISTS facts (path TEXT PRIMARY KEY, said TEXT NOT NULL);
CREATE TABLE IF NOT EXISTS messages (
    number INTEGER PRIMARY KEY, kind TEXT NOT NULL, priority TEXT NOT NULL,
    title TEXT NOT NULL, text TEXT NOT NULL, about TEXT NOT NULL, value TEXT NOT NULL,
    at_s REAL NOT NULL, held INTEGER NOT NULL DEFAULT 0, over TEXT, over_s REAL
);
"""
_COLUMNS = "number, kind, priority, title, text, about, value, at_s, held"


class Spool:
    """One thread's hold on the file."""

    def __init__(self, path: Path) -> None:
        """Open it, made if it was not there.

        Raises:
            AccessError: it can't be opened, or is damaged.
        """
        self._path = path
        with self._told():
            path.parent.mkdir(parents=True, exist_ok=True)
            path.touch(mode=0o600)
            self._base = sqlite3.connect(path, timeout=BUSY_S, isolation_level=None)
            # A power cut must not take what was acknowledged to the broker or sent.
            self._base.execute("PRAGMA journal_mode=WAL")
            self._base.execute("PRAGMA synchronous=FULL")
            self._base.executescript(_TABLES)
            self._base.execute(
                "INSERT OR IGNORE INTO names VALUES ('spool', ?)", (secrets.token_hex(_ID_BYTES),)
            )
            self.name: str = self._base.execute("SELECT value FROM names").fetchone()[0]

    def close(self) -> None:
        """Let go of the file."""
        self._base.close()

    def facts(self) -> Facts:
        """What was heard before."""
        with self._told():
            return dict(self._base.execute("SELECT path, said FROM facts"))

    def keep(self, before: Facts, after: Facts, messages: Iterable[Message], at_s: float) -> int:
        """Remember what is new of `after` and put the messages into the queue, both or neither.

        Returns:
            How many that waited had to make room for them.

        Raises:
            AccessError: the disk is full or gone.
        """
        with self._whole():
            for path in before.keys() - after.keys():
                self._base.execute("DELETE FROM facts WHERE path = ?", (path,))
            for path, said in after.items():
                if is_kept(path) and before.get(path) != said:
                    self._base.execute("REPLACE INTO facts VALUES (?, ?)", (path, said))
            return sum(self._put(one, at_s) for one in messages)

    def waiting(self) -> tuple[Waiting, ...]:
        """What is to be sent, the most pressing first, then in the order in which it came up."""
        with self._told():
            rows = self._base.execute(
                f"SELECT {_COLUMNS} FROM messages WHERE over IS NULL ORDER BY "  # noqa: S608 - own words
                "CASE priority WHEN 'high' THEN 0 ELSE 1 END, number"
            ).fetchall()
        return tuple(self._waiting(row) for row in rows)

    def hold(self, numbers: Iterable[int]) -> None:
        """Note that quiet hours have kept these back."""
        with self._whole():
            for number in numbers:
                self._base.execute("UPDATE messages SET held = 1 WHERE number = ?", (number,))

    def settle(self, number: int, how: str, at_s: float) -> None:
        """A message is over: sent, or not to be sent any more."""
        with self._whole():
            self._base.execute(
                "UPDATE messages SET over = ?, over_s = ? WHERE number = ?", (how, at_s, number)
            )
            self._base.execute(
                "DELETE FROM messages WHERE over IS NOT NULL AND number <= ?", (number - KEPT_SENT,)
            )

    def sent(self, since_s: float, until_s: float) -> tuple[int, int]:
        """How many of high priority, and how many others, were sent between two moments.

        Both in seconds since the epoch; what a clock that was set back has in the future is none.
        """
        with self._told():
            rows = self._base.execute(
                "SELECT priority = 'high' FROM messages WHERE over = 'sent' "
                "AND over_s > ? AND over_s <= ?",
                (since_s, until_s),
            ).fetchall()
        pressing = sum(int(row[0]) for row in rows)
        return pressing, len(rows) - pressing

    def _put(self, one: Message, at_s: float) -> int:
        waiting = "SELECT count(*) FROM messages WHERE over IS NULL"
        is_full = self._base.execute(waiting).fetchone()[0] >= MOST_WAITING
        if is_full:
            # The oldest that doesn't press makes room.
            self._base.execute(
                "DELETE FROM messages WHERE number = (SELECT number FROM messages WHERE over IS "
                "NULL ORDER BY priority = 'high', number LIMIT 1)"
            )
        self._base.execute(
            "INSERT INTO messages (kind, priority, title, text, about, value, at_s) "
            "VALUES (?, ?, ?, ?, ?, ?, ?)",
            (one.kind, one.priority, one.title, one.text, one.about, one.value, at_s),
        )
        return int(is_full)

    def _waiting(self, row: tuple[int, str, str, str, str, str, str, float, int]) -> Waiting:
        number, kind, priority, title, text, about, value, at_s, held = row
        message = Message(
            kind=Kind(kind),
            priority=Priority(priority),
            title=title,
            text=text,
            about=about,
            value=value,
        )
        return Waiting(
            number=number,
            id=f"{self.name}-{number}",
            message=message,
            at_s=at_s,
            is_held=bool(held),
        )

    @contextmanager
    def _whole(self) -> Iterator[None]:
        """All of it, or nothing."""
        with self._told(), self._base:  # commits, or takes back
            self._base.execute("BEGIN IMMEDIATE")
            yield

    @contextmanager
    def _told(self) -> Iterator[None]:
        """One sentence for whatever a file can do."""
        try:
            yield
        except (OSError, sqlite3.Error) as error:
            raise AccessError(
                f"The file of messages that wait, {self._path}, can't be used ({error}); "
                "see to the disk, or move a damaged file away and start again."
            ) from error
