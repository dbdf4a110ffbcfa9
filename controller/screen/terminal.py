"""A whole terminal as a screen: drawn in place, given back as it was.

Responsible for escape sequences, keys, its size and signals; not for what stands there (layout).
Sequences after ECMA-48, the other screen and the cursor's after xterm's documentation.
"""

import os
import select
import signal
import termios
import tty
from collections.abc import Iterable, Mapping
from contextlib import suppress
from types import FrameType, TracebackType
from typing import Any, Self, TextIO

from controller.screen.layout import Line
from controller.view.story import Tone

_ENTER = "\x1b[?1049h\x1b[?25l"  # the other screen, no cursor
_LEAVE = "\x1b[0m\x1b[?25h\x1b[?1049l"
_HOME, _REST_OF_LINE, _REST_OF_SCREEN = "\x1b[H", "\x1b[K", "\x1b[J"
_PLAIN, _BOLD, _REVERSED = "0", "1", "7"
_COLOURS = {
    Tone.GOOD: "32",  # green
    Tone.ASKS: "36",  # cyan
    Tone.CARE: "33",  # yellow
    Tone.ALARM: "31",  # red
}
_USUAL = os.terminal_size((80, 24))  # where nobody says how big it is
_LEAVES = frozenset(b"qQ\x03\x04")
_ENDS = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)


def has_colours(surroundings: Mapping[str, str]) -> bool:
    """Whether colours are wished for: no-color.org, and a terminal that can show any."""
    return not surroundings.get("NO_COLOR") and surroundings.get("TERM", "dumb") != "dumb"


class Terminal:
    """Taken over while the `with` block lasts; what stood on it before is there again then."""

    def __init__(self, shown: TextIO, typed: TextIO, *, colours: bool) -> None:
        """Nothing is changed yet."""
        self._shown = shown
        self._typed = typed.fileno() if typed.isatty() else None
        self._colours = colours
        self._modes: list[Any] | None = None
        self._drawn = ""
        self._ended = False
        self._asleep = False
        self._wake = os.pipe2(os.O_NONBLOCK | os.O_CLOEXEC)
        self._before: dict[int, object] = {}

    def __enter__(self) -> Self:
        """Take it over."""
        signal.set_wakeup_fd(self._wake[1], warn_on_full_buffer=False)
        handlers = {signal.SIGWINCH: self._on_resize, signal.SIGTSTP: self._on_sleep}
        for number in (*_ENDS, *handlers):
            self._before[number] = signal.signal(number, handlers.get(number, self._on_end))
        self._take()
        return self

    def __exit__(
        self, _kind: type[BaseException] | None, _error: object, _trace: TracebackType | None
    ) -> None:
        """Give it back, whatever happened."""
        self._give_back()
        for number, handler in self._before.items():
            signal.signal(number, handler)  # type: ignore[arg-type] # as it was given
        signal.set_wakeup_fd(-1)
        for end in self._wake:
            os.close(end)

    @property
    def size(self) -> os.terminal_size:
        """Columns and rows."""
        try:
            found = os.get_terminal_size(self._shown.fileno())
        except (OSError, ValueError):
            return _USUAL
        return found if found.columns > 0 and found.lines > 0 else _USUAL

    def draw(self, lines: Iterable[Line]) -> None:
        """Show these lines, and nothing else; what stands there already is not sent again."""
        drawn = "\r\n".join(f"{self._styled(line)}{_REST_OF_LINE}" for line in lines)
        if drawn != self._drawn:
            self._drawn = drawn
            self._write(f"{_HOME}{drawn}{_REST_OF_SCREEN}")

    def wait(self, seconds: float) -> bool:
        """Wait so long, or for a key or a signal; whether to go on."""
        watched = [self._wake[0], *(() if self._typed is None else (self._typed,))]
        ready, _, _ = select.select(watched, (), (), seconds)
        if self._wake[0] in ready:
            with suppress(BlockingIOError):
                os.read(self._wake[0], 512)
        if self._typed in ready:
            self._type(self._typed)
        if self._asleep:
            self._sleep()
        return not self._ended

    def _type(self, typed: int | None) -> None:
        try:
            keys = b"" if typed is None else os.read(typed, 512)
        except OSError:  # the terminal is gone
            keys = b""
        self._ended = self._ended or not keys or any(key in _LEAVES for key in keys)

    def _take(self) -> None:
        if self._typed is not None:
            self._modes = termios.tcgetattr(self._typed)
            tty.setcbreak(self._typed)
        self._drawn = ""
        self._write(_ENTER)

    def _give_back(self) -> None:
        with suppress(OSError):
            self._write(_LEAVE)
        if self._typed is not None and self._modes is not None:
            with suppress(termios.error):
                termios.tcsetattr(self._typed, termios.TCSADRAIN, self._modes)

    def _sleep(self) -> None:
        """Ctrl-Z: the shell gets its terminal, and is asked for it again when it wakes us."""
        self._asleep = False
        self._give_back()
        signal.signal(signal.SIGTSTP, signal.SIG_DFL)
        os.kill(os.getpid(), signal.SIGTSTP)  # this returns once somebody says to go on
        signal.signal(signal.SIGTSTP, self._on_sleep)
        self._take()

    def _on_end(self, _number: int, _frame: FrameType | None) -> None:
        self._ended = True

    def _on_sleep(self, _number: int, _frame: FrameType | None) -> None:
        self._asleep = True

    def _on_resize(self, _number: int, _frame: FrameType | None) -> None:
        self._drawn = ""

    def _styled(self, line: Line) -> str:
        codes = [_BOLD] if line.bold else []
        if line.tone is Tone.OLD or (line.tone is Tone.ALARM and not self._colours):
            codes.append(_REVERSED)
        elif self._colours and line.tone in _COLOURS:
            codes.append(_COLOURS[line.tone])
        return f"\x1b[{';'.join((_PLAIN, *codes))}m{line.text}\x1b[0m" if codes else line.text

    def _write(self, text: str) -> None:
        self._shown.write(text)
        self._shown.flush()
