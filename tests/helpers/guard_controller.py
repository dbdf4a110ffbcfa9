"""A controller that does nothing but ask for heat, to be killed, frozen and cut off by a test.

Run as `python -m tests.helpers.guard_controller SOCKET PERIOD_S CAP_C`. SIGTERM is its farewell,
SIGUSR2 the one of a controller that has tripped; SIGUSR1 cuts its socket while it lives on. After
SIGHUP it has tripped twice and lives on, as a run does that keeps a batch soft.
"""

import signal
import sys
import threading
from itertools import count
from types import FrameType

from controller.guard.client import GuardedHeater


def renew(place: str, period_s: float, cap_c: float) -> None:
    """Renew the lease each period until SIGTERM."""
    end = threading.Event()
    tripped = ""
    trips: list[str] = []
    heater = GuardedHeater((place,))

    def on_term(_number: int, _frame: FrameType | None) -> None:
        end.set()

    def on_trip(_number: int, _frame: FrameType | None) -> None:
        nonlocal tripped
        tripped = "level-lost"
        end.set()

    def on_cut(_number: int, _frame: FrameType | None) -> None:
        heater.close()

    def on_hup(_number: int, _frame: FrameType | None) -> None:
        trips.extend(("tick-late", "relay-stuck-on"))

    signal.signal(signal.SIGHUP, on_hup)
    signal.signal(signal.SIGTERM, on_term)
    signal.signal(signal.SIGUSR2, on_trip)
    signal.signal(signal.SIGUSR1, on_cut)
    for tick in count():
        now_s = tick * period_s
        heater.read(now_s)
        heater.drive(on=not trips, now_s=now_s, cap_c=cap_c)
        heater.latch(trips, now_s)
        if end.wait(period_s):
            break
    heater.farewell(0.0, tripped or next(iter(trips), ""))
    heater.close()


if __name__ == "__main__":
    renew(sys.argv[1], float(sys.argv[2]), float(sys.argv[3]))
