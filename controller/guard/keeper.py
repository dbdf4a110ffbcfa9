"""One cycle of the guard: listen, look, decide, switch, tell, remember.

Responsible for the order of these: heat goes off before anything else happens, and goes on only
when the disk already says so. Not for the decision itself, nor for opening anything.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

from controller import notify
from controller.guard.decision import Cause, Guard, Limits, Sight, begin, latch, step
from controller.guard.door import Door, Heard
from controller.guard.latch import Latch, Memory
from controller.guard.lines import Input, Line, Switches
from controller.guard.messages import Rearm, Status
from controller.guard.probe import Probe
from controller.guard.resets import SOUND_S, Proof, demanded, rule_of
from controller.guard.voice import Voice
from controller.guard.words import words_of

HEARTBEAT_MS = 100  # a level's time: 5 Hz; own engineering value, not published
_MS_PER_S = 1_000
RETRY_MS = 5_000  # until a disk that failed is tried again; own engineering value, not published


@dataclass(frozen=True, slots=True, kw_only=True)
class Parts:
    """What a guard is made of. What is not fitted is None."""

    switches: Switches
    probe: Probe
    door: Door
    latch: Latch
    now_ms: Callable[[], int]
    wall_s: Callable[[], int]  # seconds of Unix time, only ever shown
    voice: Voice
    mains_live: Input | None = None
    heartbeat: Line | None = None


class Keeper:
    """The guard's state from one cycle to the next."""

    def __init__(self, parts: Parts, limits: Limits) -> None:
        """Begin off, with whatever the file says is latched."""
        self._parts = parts
        self._limits = limits
        self._say = parts.voice.say
        now_ms = parts.now_ms()
        self._saved = parts.latch.read()
        self.guard = begin(now_ms, self._saved.latched, self._saved.causes)
        self._since_s = self._saved.since_s
        if self._saved.latched is not Cause.NONE:
            self._since_s = self._since_s or parts.wall_s()
            self._say_latched()
        self._sound_ms = self._cool_ms = now_ms
        self._is_connected = False  # a controller, by the last that was heard of it
        self._behind = False  # something heard may have waited since the guard stood still
        self._retry_ms = now_ms
        self._toggled_ms = now_ms
        self._level = False
        self._live_told: bool | None = None

    def cycle(self) -> None:
        """Once through; any exception must end the process, and with it heat."""
        heard = self._parts.door.listen()
        before = self.guard
        now_ms = self._parts.now_ms()
        bath_mc, age_ms = self._parts.probe.look(now_ms)
        sight = Sight(now_ms=now_ms, bath_mc=bath_mc, bath_age_ms=age_ms, mains_live=self._live())
        self.guard = self._decided(sight, heard)
        self._arm(now_ms)
        self._parts.switches.set(on=self.guard.heat, alone=self.guard.alone)
        self._is_connected = not heard.hung_up and (self._is_connected or bool(heard.leases))
        self._note_latch(before)
        self._tell(before, heard, sight)
        self._remember(now_ms)
        self._beat(now_ms)
        self._parts.voice.turn()
        notify.alive()

    def _live(self) -> bool | None:
        mains = self._parts.mains_live
        return None if mains is None else mains.read()

    def _decided(self, sight: Sight, heard: Heard) -> Guard:
        """Every datagram in its turn, after a look without any.

        That first look sees the guard's own standstill: leases that waited meanwhile are old, and
        not only those of this cycle, if it left any.
        """
        self._note_proofs(sight)
        rearm = heard.rearm is not None and self._may_clear(heard.rearm, sight)
        stood_still = sight.now_ms - self.guard.seen_ms > self._limits.lease_ms
        guard = step(self.guard, sight._replace(rearm=rearm), self._limits)
        for lease in heard.leases:
            timely = lease._replace(good=lease.good and not self._behind)
            guard = step(guard, sight._replace(lease=timely), self._limits)
        self._behind = heard.more and (self._behind or stood_still)
        if heard.hung_up:
            guard = step(guard, sight._replace(hung_up=True), self._limits)
        return guard

    def _note_proofs(self, sight: Sight) -> None:
        """Since when the guard's thermometer gives values, and those of a bath that is cool."""
        is_sound = sight.bath_mc is not None
        is_cool = sight.bath_mc is not None and sight.bath_mc <= self._limits.cap_mc
        self._sound_ms = self._sound_ms if is_sound else sight.now_ms
        self._cool_ms = self._cool_ms if is_cool else sight.now_ms

    @property
    def _is_led(self) -> bool:
        """Whether the run in charge is still there: it may trip for more, and is to say so first.

        To wait for its end costs nobody anything: no second one is let in beside it.
        """
        return self._is_connected and self.guard.peer != 0

    def _may_clear(self, rearm: Rearm, sight: Sight) -> bool:
        """Whether all that is latched may be cleared by this word: every rule must hold."""
        if rearm.seen is not self.guard.latched:
            return False
        if self._is_led:
            self._say("not re-armed: a run is still connected; end that one first")
            return False
        if rearm.count != len(self.guard.causes):
            self._say("not re-armed: more has latched than was shown")
            return False
        rule = demanded(self.guard.causes)
        sound_ms = min(SOUND_S * _MS_PER_S, self._limits.sample_lost_ms)
        shown = {
            Proof.GUARD: sight.now_ms - self._sound_ms >= sound_ms,
            Proof.COOL: sight.now_ms - self._cool_ms >= sound_ms,
            Proof.DEAD: sight.mains_live is not True,
        }
        holds = rearm.confirmed is rule.confirm and all(shown.get(one, True) for one in rule.proofs)
        if not holds:
            self._say("not re-armed: {}", " ".join(rule.musts))
        return holds

    @property
    def _tripped(self) -> str:
        """The controller's word for its trip, where that is what latched."""
        causes = self.guard.causes
        return causes[0] if causes and causes[0] != self.guard.latched else ""

    def _note_latch(self, before: Guard) -> None:
        latched, causes = self.guard.latched, self.guard.causes
        if latched is before.latched:
            for cause in causes[len(before.causes) :]:
                self._say("latched besides: {}. {}", cause, rule_of(cause).must)
            return
        self._since_s = 0 if latched is Cause.NONE else self._parts.wall_s()
        if latched is Cause.NONE:
            self._say("re-armed by a person; heat may be permitted again")
        else:
            self._say_latched()

    def _say_latched(self) -> None:
        what, action = words_of(self.guard.latched, self._tripped)
        self._say(f"latched {self.guard.latched}: {{}}. {{}}", what, action)

    def _arm(self, now_ms: int) -> None:
        """Put the armed mark on disk before the first heat, which waits for the next cycle.

        The line is off meanwhile, however long the disk takes.
        """
        if not self.guard.heat or self._saved.armed:
            return
        self.guard = self.guard._replace(heat=False)
        if self._save(replace(self._saved, armed=True)):
            self._say("armed: heat may be on until the run's farewell")
            return
        self.guard = latch(self.guard, Cause.LATCH_UNREADABLE, self._limits)._replace(armed=False)
        self._retry_ms = now_ms + RETRY_MS

    def _tell(self, before: Guard, heard: Heard, sight: Sight) -> None:
        """Answer whoever spoke, and say what has changed."""
        guard = self.guard
        changed = (guard.heat, guard.causes) != (before.heat, before.causes)
        changed = changed or sight.mains_live is not self._live_told
        self._live_told = sight.mains_live
        if not (heard.leases or heard.waiting or changed):
            return
        status = Status(
            latched=guard.latched,
            heat=guard.heat and not guard.alone,
            bath_mc=sight.bath_mc,
            number=guard.number,
            since_s=self._since_s,
            tripped=self._tripped,
            live=sight.mains_live,
            also=guard.causes[1:],
            led=self._is_led,
        )
        self._parts.door.tell(status, heard.waiting)

    def _remember(self, now_ms: int) -> None:
        """Bring the file up to date: only ever while heat is off, since a disk may take long."""
        guard = self.guard
        wanted = Memory(
            latched=guard.latched,
            since_s=self._since_s,
            armed=guard.armed,
            tripped=self._tripped,
            also=guard.causes[1:],
        )
        if guard.heat or wanted == self._saved or now_ms < self._retry_ms:
            return
        if not self._save(wanted):
            self._retry_ms = now_ms + RETRY_MS

    def _save(self, wanted: Memory) -> bool:
        try:
            self._parts.latch.write(wanted)
        except OSError as error:
            self._say("the latch file can't be written ({}): free or mend the disk", error.strerror)
            return False
        self._saved = wanted
        return True

    def _beat(self, now_ms: int) -> None:
        """Toggle at the end of a whole cycle; a latched guard lets the pump relay drop."""
        line = self._parts.heartbeat
        if line is None or now_ms - self._toggled_ms < HEARTBEAT_MS:
            return
        self._toggled_ms = now_ms
        self._level = self.guard.latched is Cause.NONE and not self._level
        line.set(self._level)
