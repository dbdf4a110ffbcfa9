"""A guard, a controller that speaks to it, and a clock of our own.

Responsible for saying in few words what a guard sees; not for judging what it makes of that.
"""

from controller.guard.decision import Cause, Guard, Lease, Limits, Sight, begin, step

LIMITS = Limits(cap_mc=60_000)
START_MS = 1_000_000
CAP_MC = 50_000
BATH_MC = 45_000


class Scene:
    """A guard with a controller that speaks once a second, and a clock of our own."""

    def __init__(self, *, latched: Cause = Cause.NONE, mains: bool = False) -> None:
        """Just begun; with `mains`, mains-live follows the switch."""
        self.now_ms = START_MS
        self.guard = begin(self.now_ms, latched)
        self.lease = Lease(peer=7, number=0, heat=True, cap_mc=CAP_MC, good=True)
        self.bath_mc: int | None = BATH_MC
        self.age_ms = 0
        self.mains = mains
        self.stuck: bool | None = None

    def _follows(self) -> bool | None:
        """What mains-live shows of a heater that does as told."""
        return self.guard.heat and not self.guard.alone if self.mains else None

    def look(self, after_ms: int = 100, *, lease: Lease | None = None, **rest: bool) -> Guard:
        """One step, `after_ms` later."""
        self.now_ms += after_ms
        live = self.stuck if self.stuck is not None else self._follows()
        sight = Sight(
            now_ms=self.now_ms,
            lease=lease,
            bath_mc=self.bath_mc,
            bath_age_ms=self.age_ms,
            mains_live=live,
            hung_up=rest.get("hung_up", False),
            rearm=rest.get("rearm", False),
        )
        self.guard = step(self.guard, sight, LIMITS)
        return self.guard

    def speak(self, after_ms: int = 100, **changes: int | bool | str) -> Guard:
        """One step that sees the controller's next datagram."""
        number = self.lease.number + 1
        # The keywords are fields of a lease, whose types differ.
        self.lease = self.lease._replace(**{"number": number, **changes})  # type: ignore[arg-type]
        return self.look(after_ms, lease=self.lease)

    def watch(self, for_ms: int, every_ms: int = 100) -> Guard:
        """Steps without any datagram."""
        for _ in range(for_ms // every_ms):
            self.look(every_ms)
        return self.guard

    def run(self, for_ms: int, every_ms: int = 1_000) -> Guard:
        """A healthy controller for a while."""
        for _ in range(for_ms // every_ms):
            self.speak(every_ms)
        return self.guard

    def another(self, peer: int = 8) -> None:
        """From now on another process is the controller."""
        self.lease = Lease(peer=peer, number=0, heat=True, cap_mc=CAP_MC, good=True)


def heating(*, mains: bool = False) -> Scene:
    """A run that is on."""
    scene = Scene(mains=mains)
    assert scene.speak().heat
    return scene
