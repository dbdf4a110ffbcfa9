"""The live stream: one text for all viewers, made anew twice a second and sent when it changed.

Responsible for one piece of work however many look on; not for what is in the text (snapshot).
"""

import asyncio
import contextlib
from collections.abc import AsyncIterator, Callable

# Own engineering values, not published. A page that hears nothing for 3 s says that it is not live.
LOOK_S = 0.5
BEAT_S = 1.0  # at most so long between two events


class Stream:
    """Looks at the machine while somebody looks at it."""

    def __init__(
        self,
        look: Callable[[], str],
        is_over: Callable[[], bool],
        alive: Callable[[], object] = lambda: None,
    ) -> None:
        """`look` gives the text of this moment, `is_over` whether the server is closing.

        `alive` is called each time round.
        """
        self._alive = alive
        self._look = look
        self._is_over = is_over
        self._news = asyncio.Condition()
        self._event = b""
        self._task: asyncio.Task[None] | None = None

    @contextlib.asynccontextmanager
    async def running(self) -> AsyncIterator[None]:
        """Look on while this lasts."""
        self._task = asyncio.create_task(self._follow())
        yield
        self._task.cancel()
        with contextlib.suppress(asyncio.CancelledError):
            await self._task

    async def events(self) -> AsyncIterator[bytes]:
        """Server-sent events (HTML standard, 9.2), the first at once."""
        yield _event(self._look())
        while not self._is_over():
            async with self._news:
                await self._news.wait()
                event = self._event
            yield event

    async def _follow(self) -> None:
        before, unsent_s = "", BEAT_S
        while True:
            self._alive()
            text = self._look()
            unsent_s += LOOK_S
            if text != before or unsent_s >= BEAT_S or self._is_over():
                before, unsent_s = text, 0.0
                async with self._news:
                    self._event = _event(text)
                    self._news.notify_all()
            await asyncio.sleep(LOOK_S)


def _event(text: str) -> bytes:
    """JSON has no line ends of its own, so that one line is the whole event."""
    return f"data: {text}\n\n".encode()
