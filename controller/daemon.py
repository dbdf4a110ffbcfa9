"""The loop: the only `while` that a run has. Read, tick, drive, tell; wait for the next second.

Responsible for order, pace and a safe end; not for any decision (core) or device (hardware).
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from structlog.typing import FilteringBoundLogger

from controller.clock import Clock
from controller.core.calling import QUIET, Signals, signals_of, still_calls
from controller.core.machine import Machine
from controller.core.profile import Profile
from controller.core.recovery import FRESH, Beginning
from controller.core.signals import Reading, Readings, Request, Verb
from controller.core.state import ENDED, State
from controller.core.tick import initial_state, tick
from controller.core.vitals import Vitals
from controller.errors import CrashError
from controller.ports import Devices, Moment, Panel, Sensor, Teller
from controller.sequence import Step, TickOrder

# Before Python 3.12 looking up a member of an enumeration takes as long as a small function.
_READ, _COMMAND, _DRIVE, _RECORD = Step.READ, Step.COMMAND, Step.DRIVE, Step.RECORD


@dataclass(frozen=True, slots=True, kw_only=True)
class Crew:
    """Everything around one run that is not the machine: who may ask, and who is told."""

    panels: Sequence[Panel]
    tellers: Sequence[Teller]
    feed: Callable[[], object] = lambda: None  # a watchdog, after each complete tick
    vitals: Callable[[], Vitals | None] = lambda: None  # the newest look at ourselves; no waiting


def next_due(due_s: float, now_s: float, period_s: float) -> float:
    """The next moment of the schedule after `now_s`: missed ones are skipped, never made up."""
    if now_s < due_s:  # woken early
        return due_s
    return due_s + period_s * (math.floor((now_s - due_s) / period_s) + 1)


class Daemon:
    """Runs one profile on one machine, once."""

    def __init__(
        self,
        *,
        profile: Profile,
        machine: Machine,
        devices: Devices,
        crew: Crew,
        clock: Clock,
        log: FilteringBoundLogger,
        beginning: Beginning = FRESH,
    ) -> None:
        """Bind the parts together; nothing is driven yet."""
        self._profile = profile
        self._machine = machine
        self._devices = devices
        self._crew = crew
        self._clock = clock
        self._log = log
        self._order = TickOrder()
        self._halting = False
        self._state = initial_state(beginning, profile)
        self._is_safe = False

    def halt(self) -> None:
        """Stop the run and leave, stirrer too. Safe in a signal handler."""
        self._halting = True
        self._clock.wake()

    @property
    def state(self) -> State:
        """The state after the last complete tick."""
        return self._state

    def run(self) -> State:
        """Follow the profile to its end and return the last state; the heater is off then.

        Raises:
            CrashError: the program itself failed; outputs were made safe first.
        """
        try:
            try:
                self._follow()
            finally:  # however it ended, heat goes off before anything is said
                self._make_safe()
        # The one broad except of a run: nothing that fails may leave the heat on.
        except Exception as error:
            self._log.exception("loop_failed")
            heater = (
                "the heater is off"
                if self._is_safe
                else "the heater's switch did not answer, so unplug the machine now"
            )
            raise CrashError(
                f"bainward failed at {self._state.run_s:.0f} s of the run ({error!r}); "
                f"{heater}. Please report this with the log."
            ) from error
        return self._state

    def _follow(self) -> None:
        """Tick until the run is over."""
        period_s = self._machine.period_s
        due_s = self._clock.now_s()
        last_s = due_s - period_s
        other_s = self._clock.other_s() - period_s
        while not self._is_over(self._state):
            self._clock.wait_until(due_s)
            now_s = self._clock.now_s()
            before_s, other_s = other_s, self._clock.other_s()
            dt_s = now_s - last_s
            self._order.begin()
            readings = self._read(now_s, max(0.0, now_s - due_s), other_s - before_s - dt_s)
            self._order.mark(_READ)
            self._step(readings, now_s, dt_s)
            last_s = now_s
            due_s = next_due(due_s, now_s, period_s)

    def _is_over(self, state: State) -> bool:
        if state.mode not in ENDED or self._halting:
            return state.mode in ENDED
        return state.stirrer_rpm == 0.0 and not (self._devices.can_call and still_calls(state))

    def _step(self, readings: Readings, now_s: float, dt_s: float) -> None:
        order = self._order
        state, commands, events = tick(
            self._state, self._profile, self._machine, readings, dt_s, mark=order.mark
        )
        # Heat first: nothing that logs or publishes may come between a decision and the switch.
        self._devices.heater.drive(
            on=commands.heater_on or commands.alone > 0,
            alone=commands.alone,
            cap_c=commands.bath_cut_c,
            now_s=now_s,
            good=order.is_good_through(_COMMAND),
        )
        if state.trips and self._devices.permit is not None:
            # Now, not with the farewell: that may be half an hour away, and a power cut sooner.
            self._devices.permit.latch([str(trip.cause) for trip in state.trips], now_s)
        self._devices.stirrer.drive(rpm=commands.stirrer_rpm, now_s=now_s)
        if self._devices.cooler is not None:
            self._devices.cooler.drive(on=commands.cooling_on, now_s=now_s)
        if self._devices.can_call:
            self._call(signals_of(state), now_s)
        order.mark(_DRIVE)
        moment = Moment(
            now_s=now_s,
            state=state,
            heater_on=commands.heater_on,
            stirrer_rpm=commands.stirrer_rpm,
            shaft_rpm=readings.shaft.value if readings.shaft else None,
            load_w=readings.load.value if readings.load else None,
            events=events,
            lid=readings.lid,
            has_stop=readings.stop is not None,
        )
        for teller in self._crew.tellers:
            teller.tell(moment)
        order.mark(_RECORD)
        if order.complete:
            self._crew.feed()
        self._state = state

    def _call(self, signals: Signals, now_s: float) -> None:
        """Let buzzer and lamp call somebody, where they are fitted."""
        if self._devices.buzzer is not None:
            self._devices.buzzer.drive(on=signals.buzzer_on, now_s=now_s)
        if self._devices.lamp is not None:
            self._devices.lamp.drive(on=signals.lamp_on, now_s=now_s)

    def _read(self, now_s: float, late_s: float, ahead_s: float) -> Readings:
        devices, ask = self._devices, self._state.progress.ask
        requests = [request for panel in self._crew.panels for request in panel.take(now_s, ask)]
        if self._halting:
            requests.append(Request(verb=Verb.STOP))
        return Readings(
            bath=devices.bath.read(now_s),
            bowl=devices.bowl.read(now_s),
            level=_maybe(devices.level, now_s),
            shaft=_maybe(devices.shaft, now_s),
            load=_maybe(devices.load, now_s),
            current=_maybe(devices.current, now_s),
            lid=_maybe(devices.lid, now_s),
            stop=_maybe(devices.stop, now_s),
            permit=None if devices.permit is None else devices.permit.read(now_s),
            vitals=self._crew.vitals(),
            late_s=late_s,
            ahead_s=ahead_s,
            requests=tuple(requests),
        )

    def _make_safe(self) -> None:
        now_s = self._clock.now_s()
        try:
            self._devices.heater.drive(on=False, now_s=now_s)
            self._is_safe = True
        finally:  # a heater that does not answer is no reason to leave the stirrer turning
            try:
                self._devices.stirrer.drive(rpm=0.0, now_s=now_s)
            finally:  # nor either of them to leave a pump running, or a buzzer sounding
                self._call(QUIET, now_s)
                if self._devices.cooler is not None:
                    self._devices.cooler.drive(on=False, now_s=now_s)


def _maybe(sensor: Sensor | None, now_s: float) -> Reading | None:
    return None if sensor is None else sensor.read(now_s)
