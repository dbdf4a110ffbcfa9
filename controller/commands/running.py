"""The commands that run a profile: `try` on the bench, `run` on a machine in real time.

Responsible for gathering what the wiring needs and for what is printed; not for the run itself.
"""

import argparse
import logging
import secrets
import shutil
import signal
import sys
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from types import FrameType

import structlog

from controller import logs
from controller.clock import Clock, RealClock, VirtualClock, process_s, wall_time
from controller.commands.keyboard import HELP, Keyboard
from controller.commands.places import made, state_folder
from controller.core.machine import Machine
from controller.core.profile import PowerBack, Profile
from controller.core.signals import Request, Verb
from controller.daemon import Daemon
from controller.errors import BainwardError, BusyError, Exit, UsageError
from controller.files.attach_shape import BenchAttach
from controller.files.machine_file import MachineFile, load_machine_file
from controller.files.profile_file import load_profile
from controller.journal.reader import find_unfinished, read_run
from controller.link.broker import EmbeddedBroker
from controller.link.settings import LinkSettings
from controller.lock import MachineLock
from controller.ports import Panel, Question
from controller.report.plot import check_picture, plot_run
from controller.report.progress import REFRESH_S, ProgressLine
from controller.report.summary import summarise, summary_text
from controller.wiring import Order, Result, attach, execute, identity

BROKER_PORT = 1883
PERSON_SPEED = 60.0  # simulated seconds a second, where a person is to keep up
TYPING_REFRESH_S = 10.0  # how seldom the live line may wipe what somebody types


class Starter:
    """A panel that starts the run at its first tick: the person who typed the command."""

    def __init__(self) -> None:
        """Not yet started."""
        self._due = True

    def take(self, now_s: float, ask: Question | None) -> tuple[Request, ...]:  # noqa: ARG002 - the Panel's contract
        """A start, once."""
        if not self._due:
            return ()
        self._due = False
        return (Request(verb=Verb.START),)


def try_profile(options: argparse.Namespace) -> Exit:
    """`bainward try`: simulated time, the bench's scripted cook, an embedded broker."""
    _check_picture(options)
    machine_file = load_machine_file(options.machine)
    if not isinstance(machine_file.attach, BenchAttach):
        raise UsageError(
            f"try simulates, and machine {machine_file.machine.name} is a real one; "
            "give a machine file of the bench, or use run."
        )
    if options.seed is not None:
        machine_file = replace(machine_file, attach=replace(machine_file.attach, seed=options.seed))
    profile = load_profile(options.profile, machine_file.machine)
    folder = options.journal_dir or machine_file.journal_dir or state_folder() / "tries"
    with _signals() as watcher, ExitStack() as stack:
        link = _try_link(options, machine_file, stack)
        speed = options.speed or (PERSON_SPEED if options.you_answer else None)
        clock = VirtualClock(speed)
        result = _go(
            options, machine_file, profile, _Scene(folder, clock, link, watcher, options.you_answer)
        )
    return result.outcome


def run_profile(options: argparse.Namespace) -> Exit:
    """`bainward run`: real time, one daemon a machine, the keyboard as a panel."""
    _check_picture(options)
    machine_file = load_machine_file(options.machine)
    profile = load_profile(options.profile, machine_file.machine)
    folder = options.journal_dir or machine_file.journal_dir or state_folder() / "runs"
    link = None if options.no_broker else _named_broker(options, machine_file.link)
    with _signals() as watcher, MachineLock(folder, machine_file.machine.name):
        _tell_of_cut_run(folder, profile, machine_file.machine)
        scene = _Scene(folder, RealClock(), link, watcher)
        result = _go(options, machine_file, profile, scene)
    return result.outcome


@dataclass(frozen=True, slots=True)
class _Scene:
    """What differs between a run in real time and one on the bench's own."""

    folder: Path
    clock: Clock
    link: LinkSettings | None
    watcher: "Watcher"
    person_answers: bool = False  # instead of the bench's scripted cook


def _check_picture(options: argparse.Namespace) -> None:
    if options.plot is not None:
        check_picture(options.plot)


def _go(
    options: argparse.Namespace,
    machine_file: MachineFile,
    profile: Profile,
    scene: _Scene,
) -> Result:
    """Run it, then print the summary from its journal."""
    fahrenheit = _is_fahrenheit(options, machine_file.link)
    began = wall_time()
    run_id = f"{began:%Y%m%dT%H%M%SZ}-{profile.name}-{secrets.token_hex(2)}"
    bound = logs.set_up(
        sys.stderr,
        json_lines=options.log == "json",
        wall_time=wall_time,
        least=logging.INFO if options.log else logging.ERROR,
    )
    bound.run_id = run_id
    log = structlog.get_logger()
    keyboard = _keyboard()
    screen = _screen(profile, fahrenheit=fahrenheit, typing=bool(keyboard))
    events = logs.EventLog(log, bound, tuple(phase.name for phase in profile.phases))
    attached = attach(machine_file, profile)
    if scene.person_answers:
        attached = replace(attached, panels=())
    path = made(scene.folder) / f"{run_id}.jsonl"
    order = Order(
        profile=profile,
        machine=machine_file.machine,
        attached=attached,
        clock=scene.clock,
        identity=identity(
            run_id, began.isoformat(timespec="seconds"), profile, machine_file.machine
        ),
        journal_path=path,
        link=scene.link,
        panels=(Starter(), *keyboard),
        tellers=(screen, events),
        log=log,
    )
    log.info("run_started", profile=profile.name, machine=machine_file.machine.name)
    result = execute(order, watch=scene.watcher)
    screen.finish()
    log.info("run_ended", outcome=result.outcome.name.lower())
    _show(path, result.journal_failure, options.plot, fahrenheit=fahrenheit)
    return result


def _screen(profile: Profile, *, fahrenheit: bool, typing: bool) -> ProgressLine:
    return ProgressLine(
        sys.stdout,
        profile=profile,
        clock_s=process_s,
        fahrenheit=fahrenheit,
        columns=shutil.get_terminal_size().columns,
        refresh_s=TYPING_REFRESH_S if typing else REFRESH_S,
    )


def _show(path: Path, failure: OSError | None, plot: Path | None, *, fahrenheit: bool) -> None:
    """Print what the record says, and draw it if that was asked for."""
    if failure is not None:
        sys.stdout.write(
            f"The record {path} breaks off ({failure}): free the disk, "
            "or name another folder with --journal-dir, before the next run.\n"
        )
    run = read_run(path)
    sys.stdout.write("\n" + summary_text(summarise(run), fahrenheit=fahrenheit).rstrip() + "\n")
    sys.stdout.write(f"Record: {path}\n")
    if plot is not None:
        plot_run(run, plot, fahrenheit=fahrenheit)
        sys.stdout.write(f"Picture: {plot}\n")


def _keyboard() -> tuple[Panel, ...]:
    """The keyboard, if a person sits at one."""
    if not sys.stdin.isatty():
        return ()
    sys.stdout.write(f"{HELP}\n")
    return (Keyboard(sys.stdin, sys.stdout),)


@contextmanager
def _signals() -> Iterator["Watcher"]:
    """SIGTERM and SIGINT halt the daemon: heat off, stirrer off, record closed."""
    watcher = Watcher()
    before = {
        number: signal.signal(number, watcher.on_signal)
        for number in (signal.SIGTERM, signal.SIGINT)
    }
    try:
        yield watcher
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


class Watcher:
    """Passes a signal on to the daemon that runs."""

    def __init__(self) -> None:
        """Nobody to tell yet."""
        self._daemon: Daemon | None = None
        self._early = False

    def __call__(self, daemon: Daemon) -> None:
        """Take note of the daemon; a signal that came too early counts now."""
        self._daemon = daemon
        if self._early:
            daemon.halt()

    def on_signal(self, _number: int, _frame: FrameType | None) -> None:
        """Handle a signal."""
        if self._daemon is None:
            self._early = True
        else:
            self._daemon.halt()


def _is_fahrenheit(options: argparse.Namespace, settings: LinkSettings | None) -> bool:
    """The command line's unit, or else the machine file's."""
    if options.units is None:
        return settings is not None and settings.fahrenheit
    return bool(options.units == "F")


def _named_broker(
    options: argparse.Namespace, settings: LinkSettings | None
) -> LinkSettings | None:
    """The machine file's link, at another broker if the command line names one."""
    fahrenheit = _is_fahrenheit(options, settings)
    if options.broker is None:
        return None if settings is None else replace(settings, fahrenheit=fahrenheit)
    host, port = options.broker
    base = settings or LinkSettings()
    return replace(base, host=host, port=port, fahrenheit=fahrenheit)


def _try_link(
    options: argparse.Namespace, machine_file: MachineFile, stack: ExitStack
) -> LinkSettings | None:
    """Where a `try` publishes: the named broker, or an embedded one on loopback, or nowhere."""
    if options.no_broker:
        return None
    base = machine_file.link or LinkSettings()
    base = replace(
        base, fahrenheit=_is_fahrenheit(options, base), device_id=f"{base.device_id}-try"
    )
    if options.broker is not None:
        return _named_broker(options, base)
    broker = EmbeddedBroker(options.port or BROKER_PORT)
    try:
        broker.start()
    except (BusyError, UsageError) as error:
        if options.port is not None:
            raise
        sys.stdout.write(f"Not published over MQTT. {error}\n")
        return None
    stack.callback(broker.stop)
    sys.stdout.write(f"Published over MQTT at 127.0.0.1:{broker.port}, topics homie/5/#\n")
    return replace(base, host="127.0.0.1", port=broker.port, username=None, password_file=None)


def _tell_of_cut_run(folder: Path, profile: Profile, machine: Machine) -> None:
    """Say what became of a run that never closed its record. Heat never resumes by itself."""
    try:
        cut = find_unfinished(folder, machine.name)
    except BainwardError:
        return
    if cut is None or not cut.samples:
        return
    last = cut.samples[-1]
    advice = {
        PowerBack.ASK: "Look at the batch first; stop now if it should not be melted again.",
        PowerBack.BEGIN_AGAIN: "Its batch is melted again from the start.",
    }[profile.power_back]
    sys.stdout.write(
        f"Run {cut.header.run_id} was cut off in {last.phase} after {last.t_s / 60:.0f} min "
        f"with the bowl at {last.bowl_c:.1f} °C. This run begins at the first phase. {advice}\n"
    )
