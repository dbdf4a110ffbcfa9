"""`bainward watch` on a real pseudo-terminal, drawn by a terminal emulator, in each state.

The machine's topics come through its real link and a real broker.
"""

import fcntl
import os
import pty
import select
import signal
import struct
import subprocess
import sys
import termios
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pyte

from controller.core.batches import TemperState
from controller.core.state import Mode
from controller.core.tempering import Temper
from controller.errors import Exit
from controller.link.settings import LinkSettings
from tests.helpers.batch import WaitingJournal, a_header, a_moment, still_clock
from tests.helpers.brokers import Embedded
from tests.helpers.moments import SET_TEST, TRIP
from tests.helpers.process import COMMAND, END_WAIT_S, environment, start
from tests.helpers.telling import Telling

COLUMNS, ROWS = 80, 24
FAR_S = 60.0  # never reached unless something is wrong


# Begins a session of its own with the terminal at its input, then becomes the command.
_OWN = """
import fcntl, os, sys, termios
os.setsid()
fcntl.ioctl(0, termios.TIOCSCTTY, 0)
os.execv(sys.argv[1], sys.argv[1:])
"""
_OWNER = (sys.executable, "-c", _OWN)


class Screen:
    """A terminal of our own with the command on it."""

    def __init__(self, home: Path, *words: str, guest: bool = False, **surroundings: str) -> None:
        """Start it; nothing has been drawn yet.

        As a `guest` it is one of several jobs of our own session, as in a shell, so that it can be
        stopped; else the terminal is its own, so that Ctrl-C reaches it.
        """
        self._master, slave = pty.openpty()
        self._screen = pyte.Screen(COLUMNS, ROWS)
        self._stream = pyte.ByteStream(self._screen)
        self.raw = b""
        self.resize(COLUMNS, ROWS)
        self.modes = termios.tcgetattr(slave)
        self._slave = slave
        self.process = subprocess.Popen(
            [*(() if guest else _OWNER), str(COMMAND), "watch", *words],
            stdin=slave,
            stdout=slave,
            stderr=slave,
            env={**environment(home), "TERM": "xterm", **surroundings},
            process_group=0 if guest else None,
        )

    def resize(self, columns: int, rows: int) -> None:
        """As when a person pulls at the window."""
        fcntl.ioctl(self._master, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
        self._screen.resize(rows, columns)

    def until(self, what: str, happened: Callable[[str], object]) -> str:
        """Wait until the screen is so; what stands on it then."""
        for _ in range(int(FAR_S / 0.05)):
            if happened(self.text):
                return self.text
            self._read(0.05)
        raise AssertionError(f"never seen: {what}; on the screen:\n{self.text}")

    def shows(self, *parts: str) -> str:
        """Wait until all of these stand on it."""
        return self.until(str(parts), lambda text: all(part in text for part in parts))

    @property
    def text(self) -> str:
        """What stands on it now."""
        return "\n".join(line.rstrip() for line in self._screen.display).strip()

    def attributes(self, word: str) -> set[tuple[str, bool, bool]]:
        """Colour, boldness and reversal of the line that begins with this word."""
        row = next(at for at, line in enumerate(self._screen.display) if line.startswith(word))
        signs = (self._screen.buffer[row][at] for at in range(len(word)))
        return {(sign.fg, sign.bold, sign.reverse) for sign in signs}

    def type(self, keys: bytes) -> None:
        """As at its keyboard."""
        os.write(self._master, keys)

    def ended(self) -> int:
        """Wait for its end; its exit code."""
        for _ in range(int(END_WAIT_S / 0.05)):
            if self.process.poll() is not None:
                break
            self._read(0.05)
        while self._read(0.0):
            pass
        return self.process.wait(END_WAIT_S)

    def close(self) -> None:
        """Hang up."""
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait(END_WAIT_S)
        os.close(self._master)
        os.close(self._slave)

    @property
    def is_as_before(self) -> bool:
        """Whether its modes are those that it had before, and the first screen is shown again.

        The emulator has but one screen, so the sequences themselves are looked at.
        """
        is_left = self.raw.rfind(b"\x1b[?1049l") > self.raw.rfind(b"\x1b[?1049h")
        has_cursor = self.raw.rfind(b"\x1b[?25h") > self.raw.rfind(b"\x1b[?25l")
        return is_left and has_cursor and termios.tcgetattr(self._slave) == self.modes

    def _read(self, seconds: float) -> bool:
        ready, _, _ = select.select((self._master,), (), (), seconds)
        if ready:
            data = os.read(self._master, 65536)
            self.raw += data
            self._stream.feed(data)
        return bool(ready)


@contextmanager
def watching(home: Path, *words: str, guest: bool = False, **surroundings: str) -> Iterator[Screen]:
    """The command on a terminal, hung up on in any case."""
    screen = Screen(home, *words, guest=guest, **surroundings)
    try:
        yield screen
    finally:
        screen.close()


def temper(verdict: Temper) -> TemperState:
    return TemperState(verdict=verdict, confidence=0.92, why="So says the load.")


def test_every_state_of_a_machine_is_shown_on_a_terminal(
    embedded: Embedded, tmp_path: Path
) -> None:
    broker = f"127.0.0.1:{embedded.port}"
    with watching(tmp_path, "--broker", broker) as screen:
        screen.shows("NO MACHINE", "NOT LIVE")
        with Telling(LinkSettings(port=embedded.port)) as machine:
            screen.shows("bainward, night-dark", "live", "MELTING", "Bowl    43.2 °C")
            machine.show(mode=Mode.IDLE)
            screen.shows("IDLE", "Nothing is running.")
            machine.show(ask=SET_TEST)
            screen.shows("YOUR TURN", SET_TEST.text, "Answer: yes, no, warm-on (leads to heat)")
            assert screen.attributes("YOUR TURN") == {("cyan", True, False)}
            machine.show(phase=1, temper=temper(Temper.IN_TEMPER))
            screen.shows("READY", "Dip?    Yes.")
            machine.show(phase=1, temper=temper(Temper.OVER))
            screen.shows("THICKENING", "Dip?    Too thick.")
            machine.show(trips=(TRIP,), mode=Mode.ABORTED)
            screen.shows("TRIPPED", "Unplug, let the heater cool", "heat is off")
            assert screen.attributes("TRIPPED") == {("red", True, False)}
            machine.show()
            screen.shows("MELTING", "live")
            machine.fall_silent()
            screen.shows("NOT LIVE, 5 s old", "Bowl    was 43.2 °C", "Go and look at it.")
            assert screen.attributes("Bowl    was") == {("default", False, True)}
            machine.show()
            screen.until("life", lambda text: "NOT LIVE" not in text and "MELTING" in text)
            embedded.kill()
            screen.shows("NO BROKER", "Why:", "Bowl    was 43.2 °C")
        screen.type(b"q")
        assert screen.ended() == Exit.DONE
        assert screen.is_as_before


def test_a_terminal_is_redrawn_when_its_size_changes_and_given_back_on_ctrl_c(
    embedded: Embedded, tmp_path: Path
) -> None:
    words = ("--broker", f"127.0.0.1:{embedded.port}", "--units", "F")
    settings = LinkSettings(port=embedded.port)
    with Telling(settings) as machine, watching(tmp_path, *words, NO_COLOR="1") as screen:
        machine.show(ask=SET_TEST)
        screen.shows("YOUR TURN", "Bowl    109.8 °F, to be 122.0 °F", "q leaves")
        screen.resize(40, 9)
        os.kill(screen.process.pid, signal.SIGWINCH)
        small = screen.until("a small screen", lambda text: text and "q leaves" not in text)
        assert "YOUR TURN" in small
        assert "Answer: yes, no, warm-on" in small
        assert b"\x1b[0;1;36m" not in screen.raw  # no colour, as wished for
        assert b"\x1b[36m" not in screen.raw
        screen.type(b"\x03")
        assert screen.ended() == Exit.DONE
        assert screen.is_as_before


def test_a_signal_and_a_hang_up_end_it_in_order(embedded: Embedded, tmp_path: Path) -> None:
    words = ("--broker", f"127.0.0.1:{embedded.port}")
    for number in (signal.SIGTERM, signal.SIGHUP):
        with watching(tmp_path, *words) as screen:
            screen.shows("NO MACHINE")
            os.kill(screen.process.pid, number)
            assert screen.ended() == Exit.DONE
            assert screen.is_as_before


def test_ctrl_z_gives_the_terminal_back_and_fg_takes_it_again(
    embedded: Embedded, tmp_path: Path
) -> None:
    words = ("--broker", f"127.0.0.1:{embedded.port}")
    with watching(tmp_path, *words, guest=True) as screen:
        screen.shows("NO MACHINE")
        screen.raw = b""
        os.kill(screen.process.pid, signal.SIGTSTP)
        screen.until("its leave", lambda _: b"\x1b[?1049l" in screen.raw)
        _, status = os.waitpid(screen.process.pid, os.WUNTRACED)
        assert os.WIFSTOPPED(status)
        assert screen.is_as_before
        screen.raw = b""
        os.kill(screen.process.pid, signal.SIGCONT)
        screen.until("its return", lambda _: b"NO MACHINE" in screen.raw)
        screen.type(b"q")
        assert screen.ended() == Exit.DONE


def test_a_growing_record_is_followed_and_its_standstill_shown(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    journal = WaitingJournal(path, header=a_header(), clock_s=still_clock)
    journal.tell(a_moment(0.0, bowl_c=22.0))
    with watching(tmp_path, str(path)) as screen:
        screen.shows("kitchen,", "live", "MELTING", "Bowl    22.0 °C")
        journal.tell(a_moment(4.0, bowl_c=23.5))
        screen.shows("Bowl    23.5 °C")
        long_ago = path.stat().st_mtime - 60
        os.utime(path, (long_ago, long_ago))
    with watching(tmp_path, str(path)) as screen:
        screen.shows("NOT LIVE", "s old", "Bowl    was 23.5 °C")
        journal.tell(a_moment(8.0, bowl_c=24.0))
        screen.until("life", lambda text: "NOT LIVE" not in text and "24.0 °C" in text)
        journal.finish(None, "complete")
        screen.shows("NOT RUNNING")
        screen.type(b"q")
        assert screen.ended() == Exit.DONE


def test_without_a_terminal_each_change_is_a_line(embedded: Embedded, tmp_path: Path) -> None:
    with Telling(LinkSettings(port=embedded.port)) as machine:
        process = start(tmp_path, "watch", "--broker", f"127.0.0.1:{embedded.port}")
        assert process.stdout is not None
        first = process.stdout.readline()
        machine.show(bowl_c=44.0)
        machine.show(ask=SET_TEST)
        second = process.stdout.readline()
        process.send_signal(signal.SIGTERM)
        out, err = process.communicate(timeout=END_WAIT_S)
    assert first[8:].startswith("  Melting: 43.2 °C")
    assert second[8:] == f"  Your turn: {SET_TEST.text} [yes / no / warm-on]\n"
    assert (process.returncode, out, err) == (Exit.DONE, "", "")
