"""The commands that run a profile: `try` on the bench, `run` on a machine in real time.

Responsible for gathering what the wiring needs and for what is printed; not for the run itself.
"""

import argparse
import logging
import secrets
import shutil
import sys
from contextlib import ExitStack
from dataclasses import dataclass, replace
from pathlib import Path

import structlog

from controller import logs, notify
from controller.book.finishing import Room
from controller.book.traces import recall
from controller.clock import Clock, RealClock, VirtualClock, process_s, wall_time
from controller.commands.announcing import opened
from controller.commands.booking import check_page, note_room
from controller.commands.ending import show_end
from controller.commands.faulting import check_broker, fault_text, shown_faults, untold
from controller.commands.keyboard import HELP, Keyboard
from controller.commands.link_line import LinkLine
from controller.commands.places import made, runs_folder, state_folder
from controller.commands.resuming import Place, Typist, ask_about_cut_run
from controller.commands.signals import Watcher, signals_watched
from controller.commands.streams import quieten
from controller.commands.tracing import Product, attending_text, keep, product_of
from controller.commands.trusting import concluded, proofs_to_renew
from controller.core.lacks import lacks_of, mode_text, sentences
from controller.core.profile import Profile
from controller.core.records import replace as replaced
from controller.core.recovery import FRESH, Beginning
from controller.errors import BainwardError, BusyError, Exit, UsageError
from controller.files.attach_shape import BenchAttach
from controller.files.machine_file import MachineFile
from controller.files.profile_file import load_profile
from controller.hatch import Hatch
from controller.journal.host import boot_id, read_stamp
from controller.journal.records import Identity
from controller.link.broker import EmbeddedBroker
from controller.link.settings import LinkSettings
from controller.lock import MachineLock
from controller.ports import Panel, Teller
from controller.report.plot import check_picture
from controller.report.progress import REFRESH_S, ProgressLine
from controller.trials.faults import FaultPlan, plans_for
from controller.trials.staging import really_in_bowl, staged
from controller.trials.trial import askers, fitted_with
from controller.wiring import (
    Attached,
    Bench,
    Order,
    Result,
    attach,
    attach_bench,
    execute,
    guarded,
    identity,
    lateness_s,
    machine_meant,
    real_sources,
    refuse_unless_sound,
)

BROKER_PORT = 1883
PERSON_SPEED = 60.0  # simulated seconds a second, where a person is to keep up
TYPING_REFRESH_S = 10.0  # how seldom the live line may wipe what somebody types


def try_profile(options: argparse.Namespace) -> Exit:
    """`bainward try`: simulated time, the bench's scripted cook, an embedded broker."""
    _check_picture(options)
    machine_file = machine_meant(options.machine)
    if not isinstance(machine_file.attach, BenchAttach):
        raise UsageError(
            f"try simulates, and machine {machine_file.machine.name} is a real one; "
            "give a machine file of the bench, or use run."
        )
    if options.seed is not None:
        machine_file = replace(machine_file, attach=replace(machine_file.attach, seed=options.seed))
    if options.fitted is not None:
        machine_file = fitted_with(machine_file, options.fitted)
    profile = load_profile(options.profile, machine_file.machine)
    plans = plans_for(options.fault, profile)
    folder = options.journal_dir or machine_file.journal_dir or state_folder() / "tries"
    with signals_watched() as watcher, ExitStack() as stack:
        broker = _try_broker(options, stack)
        check_broker(plans, is_ours=broker is not None)
        speed = options.speed or (PERSON_SPEED if options.you_answer else None)
        name, is_f = machine_file.machine.name, _is_fahrenheit(options, machine_file.link)
        scene = _Scene(
            path=_new_record(folder, profile),
            clock=VirtualClock(speed),
            hatch=opened(stack, name, is_try=True, fahrenheit=is_f) if speed else (),
            link=_try_link(options, machine_file, broker),
            watcher=watcher,
            person_answers=options.you_answer,
            plans=plans,
            broker=broker,
            panels=askers(options.give_up_after),
        )
        for plan in plans:
            sys.stdout.write(f"Fault: {fault_text(plan)}\n")
        result = _go(options, machine_file, profile, scene)
    return result.outcome


def run_profile(options: argparse.Namespace) -> Exit:
    """`bainward run`: real time, one daemon a machine, the keyboard as a panel."""
    _check_picture(options)
    machine_file = machine_meant(options.machine)
    profile = load_profile(options.profile, machine_file.machine)
    sys.stdout.write(proofs_to_renew(machine_file, profile))
    folder = runs_folder(options.journal_dir, machine_file.journal_dir)
    link = None if options.no_broker else _named_broker(options, machine_file.link)
    refuse_unless_sound(real_sources(made(folder)), lateness_s)
    name = machine_file.machine.name
    memory = made(state_folder() / "machines")
    person = sys.stdin if sys.stdin.isatty() else None
    product = product_of(options, profile, recall(memory, name), person, sys.stdout)
    with signals_watched() as watcher, MachineLock(state_folder(), name), ExitStack() as stack:
        scene = _Scene(
            path=_new_record(folder, profile),
            clock=RealClock(),
            hatch=opened(stack, name, fahrenheit=_is_fahrenheit(options, machine_file.link)),
            link=link,
            watcher=watcher,
            panels=askers(),
            is_real=True,
            kept=(memory, product),
        )
        result = _go(options, machine_file, profile, scene)
    return concluded(machine_file, profile, scene.path, result.outcome)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Scene:
    """What differs between a run in real time and one on the bench's own."""

    path: Path  # of the run's record
    clock: Clock
    link: LinkSettings | None
    watcher: Watcher
    panels: tuple[Panel, ...]  # who starts it, and perhaps stops it
    hatch: tuple[Hatch, ...] = ()  # for what is announced from another terminal
    person_answers: bool = False  # instead of the bench's scripted cook
    is_real: bool = False  # real time: cut runs are asked about, a service manager is told
    plans: tuple[FaultPlan, ...] = ()  # what is to break, on a bench
    broker: EmbeddedBroker | None = None  # our own, which a fault may stop
    kept: tuple[Path, Product] | None = None  # where to remember what is in the machine, and that


def _new_record(folder: Path, profile: Profile) -> Path:
    """Where a run that begins now is written down; its name is the run's own."""
    name = f"{wall_time():%Y%m%dT%H%M%SZ}-{profile.name}-{secrets.token_hex(2)}"
    return made(folder) / f"{name}.jsonl"


def _check_picture(options: argparse.Namespace) -> None:
    if options.plot is not None:
        check_picture(options.plot)
    if options.page is not None:
        check_page(options.page)


def _go(
    options: argparse.Namespace,
    machine_file: MachineFile,
    profile: Profile,
    scene: _Scene,
) -> Result:
    """Run it, then print the summary from its journal."""
    fahrenheit = _is_fahrenheit(options, machine_file.link)
    bound = logs.set_up(
        sys.stderr,
        json_lines=options.log == "json",
        wall_time=wall_time,
        least=logging.INFO if options.log else logging.ERROR,
    )
    order = _order(options, machine_file, profile, scene)
    bound.run_id = order.identity.run_id
    # Only now: until here whoever is at the keyboard may have been asked something else.
    keyboard = _keyboard()
    screen = _screen(profile, fahrenheit=fahrenheit, typing=bool(keyboard))
    line = LinkLine(screen, is_real=scene.is_real)
    phases = tuple(phase.name for phase in profile.phases)
    events = logs.EventLog(order.log, bound, phases, shown=logs.on_screen(options.log))
    tellers: tuple[Teller, ...] = (*order.tellers, screen, line, events, *scene.hatch)
    tellers += shown_faults(order.tellers, screen.note)
    order = replace(order, panels=(*order.panels, *keyboard, *scene.hatch), tellers=tellers)
    mode = _mode_said(machine_file)
    order.log.info(
        "run_started", profile=profile.name, machine=machine_file.machine.name, mode=mode
    )
    room = Room(room_c=machine_file.machine.room_c, humidity=options.humidity)
    _begin(scene, order, room, is_bench=isinstance(machine_file.attach, BenchAttach))
    result = execute(order, watch=scene.watcher, linked=line.follow)
    screen.finish()
    sys.stdout.write(untold(order.tellers))
    order.log.info("run_ended", outcome=result.outcome.name.lower())
    failure = result.journal_failure
    try:
        show_end(options, scene.path, failure, room, fahrenheit=fahrenheit)
    except BrokenPipeError:
        quieten(sys.stdout)  # nobody reads any more; how the run ended still counts
    except BainwardError as error:
        sys.stderr.write(f"bainward: {error}\n")
    return result


def _begin(scene: _Scene, order: Order, room: Room, *, is_bench: bool) -> None:
    """Nothing can refuse the run any more: remember what is in the machine, and say who stays."""
    if scene.is_real or room.humidity is not None:
        note_room(scene.path, room)
    if scene.kept is not None:
        keep(scene.path, order.identity, order.profile, order.machine.name, *scene.kept)
        sys.stdout.write(attending_text(order.profile, is_bench=is_bench))
    if scene.is_real:
        notify.ready()


def _mode_said(machine_file: MachineFile) -> str:
    """Say what the machine does without; its mode in a few words."""
    lacks = lacks_of(machine_file.machine)
    sys.stdout.write("".join(f"{sentence}\n" for sentence in sentences(lacks)))
    return mode_text(lacks)


def _order(
    options: argparse.Namespace,
    machine_file: MachineFile,
    profile: Profile,
    scene: _Scene,
) -> Order:
    """Everything that the run is made of but the screen and the keyboard."""
    machine, began_utc = machine_file.machine, wall_time().isoformat(timespec="seconds")
    attached, bench = _attached(machine_file, profile, scene)
    boot = boot_id() if scene.is_real else ""
    who = identity(scene.path.stem, began_utc, profile, machine, boot=boot)
    beginning = FRESH
    if scene.is_real:
        beginning = _beginning(options, scene, profile, machine_file, (who, attached))
        who = replace(who, continues=beginning.continues)
        if options.chocolate:  # in a profile for another chocolate it was refused before
            beginning = replaced(beginning, is_kind_known=True)
    order = Order(
        profile=profile,
        machine=machine,
        attached=attached,
        clock=scene.clock,
        identity=who,
        journal_path=scene.path,
        link=scene.link,
        panels=scene.panels,
        tellers=(),
        log=structlog.get_logger(),
        beginning=beginning,
        feed=notify.alive if scene.is_real else _nobody,
        stamp=read_stamp if scene.is_real else None,
        looks_at=real_sources(scene.path.parent) if scene.is_real else None,
        ended_by=scene.watcher.signal,
    )
    return order if bench is None else staged(order, bench, scene.plans, broker=scene.broker)


def _attached(
    machine_file: MachineFile, profile: Profile, scene: _Scene
) -> tuple[Attached, Bench | None]:
    """The machine's devices; with faults to come, the bench itself, too."""
    plan, machine = machine_file.attach, machine_file.machine
    if not scene.plans or not isinstance(plan, BenchAttach):
        attached, bench = attach(machine_file, profile, scene.clock), None
    else:
        in_bowl, filled = really_in_bowl(scene.plans, profile)
        bench = attach_bench(plan, machine, in_bowl, filled=filled)
        attached = guarded(bench, machine)
    return (replace(attached, panels=()) if scene.person_answers else attached), bench


def _nobody() -> None:
    """Feed no watchdog: simulated time is nobody's service."""


def _beginning(
    options: argparse.Namespace,
    scene: _Scene,
    profile: Profile,
    machine_file: MachineFile,
    run: tuple[Identity, Attached],
) -> Beginning:
    """Where this run begins: a person decides, where one was cut off before."""
    place = Place(
        folder=scene.path.parent,
        profile=profile,
        machine=machine_file.machine,
        identity=run[0],
        stamp=read_stamp(),
    )
    typist = Typist(sys.stdin, lambda: scene.watcher.is_early) if sys.stdin.isatty() else None
    return ask_about_cut_run(
        place,
        run[1].devices,
        scene.clock,
        word=options.after_cut,
        person=typist,
        shown=sys.stdout,
        fahrenheit=_is_fahrenheit(options, machine_file.link),
    )


def _screen(profile: Profile, *, fahrenheit: bool, typing: bool) -> ProgressLine:
    return ProgressLine(
        sys.stdout,
        profile=profile,
        clock_s=process_s,
        fahrenheit=fahrenheit,
        columns=shutil.get_terminal_size().columns,
        refresh_s=TYPING_REFRESH_S if typing else REFRESH_S,
    )


def _keyboard() -> tuple[Panel, ...]:
    """The keyboard, if a person sits at one."""
    if not sys.stdin.isatty():
        return ()
    sys.stdout.write(f"{HELP}\n")
    return (Keyboard(sys.stdin, sys.stdout),)


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
    options: argparse.Namespace, machine_file: MachineFile, broker: EmbeddedBroker | None
) -> LinkSettings | None:
    """Where a `try` publishes: the named broker, or an embedded one on loopback, or nowhere."""
    base = machine_file.link or LinkSettings()
    base = replace(
        base, fahrenheit=_is_fahrenheit(options, base), device_id=f"{base.device_id}-try"
    )
    if options.broker is not None:
        return _named_broker(options, base)
    if broker is None:
        return None
    return replace(
        base,
        host="127.0.0.1",
        port=broker.port,
        username=None,
        password_file=None,
        password_variable=None,
        tls=None,
    )


def _try_broker(options: argparse.Namespace, stack: ExitStack) -> EmbeddedBroker | None:
    """A broker of our own on loopback, unless another is named or none is wanted."""
    if options.no_broker or options.broker is not None:
        return None
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
    return broker
