"""The guard's own decision in the controller's process, for the bench in virtual time.

Responsible for putting the same step between the controller and a simulated switch; not for a real
heater, which only a guard in a process of its own may drive.
"""

import math
from collections.abc import Sequence

from controller.guard.decision import Cause, Guard, Lease, Limits, Sight, begin, step
from controller.guard.words import words_of
from controller.ports import Heater, Permit, Quality, Reading, Sensor

PEER = 1  # there is one controller, and it is this process

_GOOD = Quality.GOOD  # looking up a member of an enumeration takes longer than comparing


class GuardBeside:
    """A heater whose every second is permitted by the guard's step, and that guard's word."""

    def __init__(
        self, switch: Heater, probe: Sensor, *, cap_c: float, mains_live: Sensor | None = None
    ) -> None:
        """Guard `switch` by `probe`, a thermometer in the bath; `cap_c` is the machine's limit.

        `mains_live` says whether voltage stands behind the switch, where that is seen.
        """
        self._switch = switch
        self._probe = probe
        self._mains_live = mains_live
        self._limits = Limits(cap_mc=_thousandths(cap_c))
        self._guard: Guard | None = None
        self._number = 0
        self._bath_c = math.nan
        self._sight = Sight(now_ms=0)

    def drive(
        self, *, on: bool, now_s: float, cap_c: float = 0.0, good: bool = True, alone: int = 0
    ) -> None:
        """Renew the lease, let the guard decide, and set the switch as it says."""
        self._number += 1
        lease = Lease(PEER, self._number, on, _thousandths(cap_c), good, alone)
        self._step(lease, now_s)

    def farewell(self, now_s: float, tripped: str = "") -> None:
        """Say that the run has ended, and by which trip, if by one."""
        self._number += 1
        lease = Lease(
            peer=PEER,
            number=self._number,
            heat=False,
            cap_mc=0,
            good=True,
            farewell=True,
            tripped=tripped,
        )
        self._step(lease, now_s)

    def latch(self, causes: Sequence[str], now_s: float) -> None:  # noqa: ARG002 - the contract
        """Tell it of each trip that it has not latched yet: a second look within the same cycle."""
        for cause in causes:
            if self._guard is not None and cause not in self._guard.causes:
                self._number += 1
                lease = Lease(PEER, self._number, heat=False, cap_mc=0, good=True, tripped=cause)
                sight = self._sight._replace(lease=lease)
                self._guard = step(self._guard, sight, self._limits)

    def read(self, now_s: float) -> Permit:
        """What the guard says."""
        if self._guard is None:  # before its first cycle, as a guard that greets
            self._sampled(now_s)
        latched = Cause.NONE if self._guard is None else self._guard.latched
        first = "" if self._guard is None else next(iter(self._guard.causes), "")
        what, action = words_of(latched, first if first != latched else "")
        return Permit(
            latched=latched,
            age_s=0.0,  # beside us, its word is never old
            bath_c=self._bath_c,
            what=what,
            action=action,
            live=self._live(now_s),
            heat=self._guard is not None and self._guard.heat,
        )

    def _sampled(self, now_s: float) -> Reading:
        reading = self._probe.read(now_s)
        self._bath_c = reading.value if reading.quality is _GOOD else math.nan
        return reading

    def _live(self, now_s: float) -> bool | None:
        reading = None if self._mains_live is None else self._mains_live.read(now_s)
        return None if reading is None or reading.quality is not _GOOD else reading.value > 0

    def _step(self, lease: Lease, now_s: float) -> None:
        now_ms = round(now_s * 1000)
        if self._guard is None:
            self._guard = begin(now_ms, Cause.NONE)
        reading = self._sampled(now_s)
        good = reading.quality is _GOOD
        self._sight = Sight(
            now_ms=now_ms,
            lease=lease,
            bath_mc=_thousandths(reading.value) if good else None,
            bath_age_ms=round(reading.age_s * 1000),
            mains_live=self._live(now_s),
        )
        self._guard = step(self._guard, self._sight, self._limits)
        self._switch.drive(on=self._guard.heat, now_s=now_s, alone=self._guard.alone)


def _thousandths(value_c: float) -> int:
    return round(value_c * 1000)
