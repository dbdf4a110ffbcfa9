"""The guard as a process of its own: opens its parts, turns its cycle, ends with heat off.

Responsible for start, end and signals; not for what a cycle does (keeper). `bainward guard` starts
it afresh, so that no library of the command's own stays in it.
"""

import signal
import sys
from contextlib import ExitStack, closing
from pathlib import Path
from types import FrameType

from controller import notify
from controller.clock import RealClock, wall_time
from controller.errors import AccessError, BainwardError, Exit, LatchedError
from controller.guard.board import Board
from controller.guard.decision import Cause
from controller.guard.door import Door
from controller.guard.keeper import Keeper, Parts
from controller.guard.latch import Latch
from controller.guard.lines import Line, Switches, open_input, open_line
from controller.guard.priority import take_precedence
from controller.guard.probe import Probe
from controller.guard.settings import GuardSettings, LineAt, from_text, service_latch
from controller.guard.voice import Voice, say

# A process that writes to a terminal that is another's at the moment is stopped, with its lines as
# they are, unless it heeds none of these.
HEEDS_NOT = {signal.SIGTTOU, signal.SIGTTIN, signal.SIGPIPE, signal.SIGXFSZ}
# These can't be caught, or not usefully, or mean no end.
_LEFT_ALONE = {
    *(signal.SIGKILL, signal.SIGSTOP, signal.SIGSEGV, signal.SIGBUS, signal.SIGILL, signal.SIGFPE),
    *(signal.SIGCHLD, signal.SIGCONT, signal.SIGURG, signal.SIGWINCH),
}
# All others would end or stop this process where it stands: a terminal that closes, Ctrl-Z ...
ENDS = signal.valid_signals() - HEEDS_NOT - _LEFT_ALONE


class Ending:
    """A signal asks for the end; the cycle in progress is finished first."""

    def __init__(self) -> None:
        """Not yet."""
        self.due = False

    def on_signal(self, _number: int, _frame: FrameType | None) -> None:
        """Handle any signal of `ENDS`."""
        self.due = True


def run_guard(settings: GuardSettings, ending: Ending) -> None:
    """Guard the heater until the end is due; the lines are off when this returns or raises.

    Raises:
        LatchedError: the service's guard remembers a trip where this one would not see it.
        BusyError: another guard holds the latch or the socket.
        AccessError: the latch or the socket can't be had; the lines were driven off first.
        HardwareError: a line can't be had.
    """
    _refuse_to_overlook_the_services_latch(settings)
    with ExitStack() as stack:
        latch = _held(settings, stack)
        keeper = Keeper(_parts(settings, latch, stack), settings.limits)
        for lack in take_precedence():
            say(f"not allowed here: {lack}")
        notify.ready()
        while not ending.due:
            keeper.cycle()
        notify.stopping()
        say("told to end; heat is off")


def now_ms() -> int:
    """Milliseconds since boot, which go on while the computer is suspended.

    So a suspended computer wakes to a lease that has long lapsed.
    """
    return int(_CLOCK.other_s() * _MS_PER_S)


_CLOCK = RealClock()
_MS_PER_S = 1000


def _refuse_to_overlook_the_services_latch(settings: GuardSettings) -> None:
    """A guard started by hand has a latch of its own, and would heat past the service's trip.

    The lines are left alone: they may be those of a guard that runs.
    """
    place = service_latch(settings)
    latched = Cause.NONE if place is None else Latch(Path(place)).read().latched
    if latched is not Cause.NONE:
        raise LatchedError(
            f"The service's guard of {settings.machine} remembers {latched} in {place}, which this "
            f"one with its latch {settings.latch} would not heed: start that one (systemctl start "
            "bainward-guard) and use `bainward rearm`, or name one latch for both in [guard]."
        )


def _held(settings: GuardSettings, stack: ExitStack) -> Latch:
    """The latch, locked.

    A guard that can't remember still drives the lines off; a second guard must not, since they are
    the first one's.
    """
    try:
        return stack.enter_context(Latch(Path(settings.latch)))
    except AccessError:
        board = None if settings.board is None else Board(settings.board)
        Switches(_switches(settings), board).__exit__(None, None, None)
        raise


def _parts(settings: GuardSettings, latch: Latch, stack: ExitStack) -> Parts:
    """Everything opened, the switches first, and so the last to be let go."""
    board = None if settings.board is None else stack.enter_context(closing(Board(settings.board)))
    switches = stack.enter_context(Switches(_switches(settings), board))
    mains_live = None if settings.mains_live is None else open_input(settings.mains_live, board)
    if mains_live is not None:
        stack.callback(mains_live.close)
    voice = Voice(now_ms)
    door = stack.enter_context(Door(settings.sockets, voice))
    say(
        f"guards {settings.machine}, heat off, listening at {door.place}, "
        f"and remembers trips in {settings.latch}"
    )
    return Parts(
        switches=switches,
        probe=stack.enter_context(Probe(settings.probe, now_ms, board)),
        door=door,
        latch=latch,
        now_ms=now_ms,
        wall_s=lambda: int(wall_time().timestamp()),
        voice=voice,
        mains_live=mains_live,
        heartbeat=_heartbeat(settings.heartbeat, board, stack),
    )


def _switches(settings: GuardSettings) -> tuple[LineAt, ...]:
    return (settings.main,) if settings.second is None else (settings.main, settings.second)


def _heartbeat(at: LineAt | None, board: Board | None, stack: ExitStack) -> Line | None:
    if at is None:
        return None
    line = open_line(at, board)
    stack.callback(line.close)
    return line


def main(text: str) -> int:
    """Run a guard with the settings of `to_text`; the exit code, for errors of ours.

    Any other exception passes, after the lines went off, and ends the process with code 1.
    """
    ending = Ending()
    for number in ENDS:
        signal.signal(number, ending.on_signal)
    for number in HEEDS_NOT:
        signal.signal(number, signal.SIG_IGN)
    try:
        run_guard(from_text(text), ending)
    except BainwardError as error:
        sys.stderr.write(f"bainward: {error}\n")
        return int(error.exit_code)
    return int(Exit.DONE)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
