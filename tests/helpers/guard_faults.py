"""What may befall guard and controller, and what must come of it: a table of real faults.

Responsible for causing each fault and measuring from outside; shared by the acceptance test and the
long campaign.
"""

import random
import signal
import socket
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from controller.clock import process_s
from controller.guard.decision import Cause, Lease
from controller.guard.messages import Rearm, pack
from tests.helpers.guard_stage import LIVELY, START_S, USUAL, Hogs, Stage, moment, never, until

MOST_S = 3.0  # from the fault to heat off, as promised
STAYS_S = 0.6  # how long a line is watched that must stay as it is
STARTS = 5  # a lively lease lapses before any heat, now and then, where a computer is busy


@dataclass(frozen=True, slots=True)
class Outcome:
    """One case, measured."""

    off_s: float
    cause: Cause


def kill_controller(stage: Stage) -> Outcome:
    """SIGKILL."""
    stage.signal_controller(signal.SIGKILL)
    return Outcome(stage.off_within(MOST_S), stage.latched())


def freeze_controller(stage: Stage) -> Outcome:
    """SIGSTOP."""
    stage.signal_controller(signal.SIGSTOP)
    return Outcome(stage.off_within(MOST_S), stage.latched())


def thaw_controller(stage: Stage) -> Outcome:
    """SIGSTOP until it latched, then SIGCONT: it asks for heat again, and gets none."""
    outcome = freeze_controller(stage)
    stage.signal_controller(signal.SIGCONT)
    never("heat by itself", stage.is_on, STAYS_S)
    return outcome


def cut_socket(stage: Stage) -> Outcome:
    """The controller lives on without its socket."""
    stage.signal_controller(signal.SIGUSR1)
    return Outcome(stage.off_within(MOST_S), stage.latched())


def trip_controller(stage: Stage) -> Outcome:
    """The controller trips, and says so as it ends."""
    stage.signal_controller(signal.SIGUSR2)
    return Outcome(stage.off_within(MOST_S), stage.latched())


def lose_probe(stage: Stage) -> Outcome:
    """The thermometer's file is gone."""
    stage.probe.unlink()
    return Outcome(stage.off_within(MOST_S), stage.latched())


def empty_probe(stage: Stage) -> Outcome:
    """The thermometer answers with nothing, as a 1-wire one does for every failure."""
    stage.probe.write_bytes(b"")
    return Outcome(stage.off_within(MOST_S), stage.latched())


def mad_probe(stage: Stage) -> Outcome:
    """The thermometer says what no bath can be."""
    stage.warm(-109_900)
    return Outcome(stage.off_within(MOST_S), stage.latched())


def pass_phase_cap(stage: Stage) -> Outcome:
    """The bath passes the limit of the lease, 50 °C."""
    stage.warm(50_100)
    return Outcome(stage.off_within(MOST_S), stage.latched())


def pass_machine_cap(stage: Stage) -> Outcome:
    """The bath passes the limit of the machine, 62 °C."""
    stage.warm(62_100)
    return Outcome(stage.off_within(MOST_S), stage.latched())


def kill_guard(stage: Stage) -> Outcome:
    """SIGKILL of the guard. A file keeps its level: that is for supervisor and hardware.

    Measured from the start of the next guard, which is off and latched though it is asked for heat.
    """
    stage.end_guard(signal.SIGKILL)
    return _restarted(stage)


def end_guard(stage: Stage) -> Outcome:
    """SIGTERM of the guard: off before it ends, and still off when it is started again."""
    stage.signal_guard(signal.SIGTERM)
    off_s = stage.off_within(MOST_S)
    assert stage.guard is not None
    assert stage.guard.wait(START_S) == 0
    return Outcome(off_s, _restarted(stage).cause)


def thaw_guard(stage: Stage) -> Outcome:
    """A guard that stood still longer than a lapse may last finds leases that are old.

    Measured from its SIGCONT: what happens before is for the supervisor's watchdog.
    """
    stage.signal_guard(signal.SIGSTOP)
    moment(1.0)
    stage.signal_guard(signal.SIGCONT)
    return Outcome(stage.off_within(MOST_S), stage.latched())


def shout(stage: Stage) -> Outcome:
    """Others come in and send garbage, leases and a re-arm: nothing changes but their welcome."""
    noise = random.Random(0)  # noqa: S311 - noise, no secret
    stranger = Lease(peer=7, number=1, heat=True, cap_mc=90_000, good=True)
    datagrams = [noise.randbytes(noise.randrange(1, 80)) for _ in range(40)]
    for last in (pack(Rearm(seen=Cause.NONE)), pack(stranger)):
        with socket.socket(socket.AF_UNIX, socket.SOCK_SEQPACKET) as intruder:
            intruder.connect(str(stage.socket))
            for data in (*datagrams, pack(stranger)[:-1], last):
                intruder.send(data)
    never("heat off", stage.is_off, STAYS_S)
    return kill_controller(stage)


def hog(stage: Stage) -> Outcome:
    """The controller freezes while others use the whole computer."""
    with Hogs():
        moment(0.2)
        return freeze_controller(stage)


def _restarted(stage: Stage) -> Outcome:
    began_s = process_s()
    stage.launch_guard()
    until("heat off", stage.is_off)
    took_s = process_s() - began_s
    stage.until_answered()
    stage.start_controller()
    cause = stage.latched()
    never("heat after a restart", stage.is_on, STAYS_S)
    return Outcome(took_s, cause)


@dataclass(frozen=True, slots=True)
class Fault:
    """One row: what is done, what must latch."""

    do: Callable[[Stage], Outcome]
    cause: Cause


FAULTS = {
    "controller killed": Fault(kill_controller, Cause.CONTROLLER_LOST),
    "controller frozen": Fault(freeze_controller, Cause.LEASE_LAPSED),
    "controller frozen, then thawed": Fault(thaw_controller, Cause.LEASE_LAPSED),
    "socket cut": Fault(cut_socket, Cause.CONTROLLER_LOST),
    "controller tripped": Fault(trip_controller, Cause.CONTROLLER_TRIPPED),
    "thermometer gone": Fault(lose_probe, Cause.GUARD_PROBE_LOST),
    "thermometer empty": Fault(empty_probe, Cause.GUARD_PROBE_LOST),
    "thermometer mad": Fault(mad_probe, Cause.GUARD_PROBE_LOST),
    "phase cap passed": Fault(pass_phase_cap, Cause.BATH_OVER_CAP),
    "machine cap passed": Fault(pass_machine_cap, Cause.BATH_OVER_CAP),
    "guard killed, then restarted": Fault(kill_guard, Cause.GUARD_RESTARTED),
    "guard ended": Fault(end_guard, Cause.GUARD_RESTARTED),
    "guard frozen, then thawed": Fault(thaw_guard, Cause.LEASE_LAPSED),
    "strangers shout, controller killed": Fault(shout, Cause.CONTROLLER_LOST),
    "computer hogged, controller frozen": Fault(hog, Cause.LEASE_LAPSED),
}


def run_case(name: str, seed: int, folder: Path, limits: str = LIVELY) -> Outcome:
    """One fault at a random moment of a heated run, from a seed; fails when heat stays on."""
    draw = random.Random(f"{name} {seed}")  # noqa: S311 - a moment, no secret
    period_s = 1.0 if limits == USUAL else draw.choice((0.1, 0.2, 0.3))
    after_s = draw.uniform(0.0, 0.6)
    for attempt in range(STARTS):
        with Stage(folder / str(attempt), limits) as stage:
            if not stage.heats(period_s):
                continue
            moment(after_s)
            outcome = FAULTS[name].do(stage)
            assert outcome.cause is FAULTS[name].cause, (name, outcome)
            until("the cause on disk", lambda: stage.on_disk() is outcome.cause)  # noqa: B023
            return outcome
    raise AssertionError(f"{name}: no heat in {STARTS} starts, each lapsed before: a busy computer")
