"""The command line's words: every command, option and help text.

Responsible for the parser; not for what a command does.
"""

import argparse
from pathlib import Path

from controller.commands.alarm_options import add_alarms
from controller.commands.bench_options import add_bench
from controller.commands.book_options import (
    RUN_HELP,
    add_book,
    add_humidity,
    add_product,
    add_shelf,
)
from controller.commands.commissioning_options import add_commissioning
from controller.commands.demo_options import add_demo
from controller.commands.faulting import add_faults
from controller.commands.ordeal_options import add_ordeal
from controller.commands.page_options import add_page
from controller.commands.parts_options import add_parts
from controller.commands.planning_options import add_plan
from controller.commands.rescue_options import add_leave, add_rescue
from controller.commands.service_options import add_health, add_service
from controller.commands.sweep_options import add_sweep
from controller.commands.values import duration_s, names, seed_number
from controller.commands.watch_options import add_notify, add_watch
from controller.guard.resets import Confirm

EPILOG = """\
exit codes:
  0  finished; with chocolate, in temper      5  stopped by a person or signal, or too late
  1  the program failed (heat is off)         6  a file that is given can't be used
  2  the command line can't be understood     7  machine or port taken by another process
  3  finished, but not in temper              8  a record or picture can't be written
  4  an interlock tripped                     9  a device, guard, run or service isn't there
                                             10  a real machine is not proven yet

of a sweep: 0 the table is whole, however its machines fared; 1 a machine's run failed, or workers
were lost for good; 5 interrupted, and the same command goes on; of an ordeal besides: 4 harm came
before it was seen, or a machine tripped that was whole; of health: 9 something must be mended
before anything heats, and 0 with remarks alone
"""


class BrokerAt(argparse.Action):
    """HOST:PORT, checked."""

    def __call__(
        self,
        parser: argparse.ArgumentParser,
        namespace: argparse.Namespace,
        values: object,
        option_string: str | None = None,
    ) -> None:
        """Split and keep it, or say what to write."""
        host, _, port = str(values).rpartition(":")
        host = host.strip("[]")
        if not host or not port.isdecimal() or not 0 < int(port) <= MAX_PORT:
            parser.error(
                f"{option_string} {values}: write HOST:PORT, the port from 1 to {MAX_PORT}, "
                "for example 127.0.0.1:1883"
            )
        setattr(namespace, self.dest, (host, int(port)))


class Version(argparse.Action):
    """The installed version, looked up only when asked: the look costs a third of a start."""

    def __call__(
        self,
        parser: argparse.ArgumentParser,
        namespace: argparse.Namespace,
        values: object,
        option_string: str | None = None,
    ) -> None:
        """Print it and leave."""
        del namespace, values, option_string
        from importlib.metadata import version  # noqa: PLC0415 - start-up time

        parser.exit(message=f"{parser.prog} {version('bainward')}\n")


MAX_PORT = 65535


def port_number(text: str) -> int:
    """A TCP port."""
    if not text.isdecimal() or not 0 < int(text) <= MAX_PORT:
        raise argparse.ArgumentTypeError(f"{text} is not a port: write 1 to {MAX_PORT}")
    return int(text)


def speed_factor(text: str) -> float:
    """How many simulated seconds go into one real second."""
    try:
        factor = float(text)
    except ValueError:
        factor = 0.0
    if not MIN_SPEED <= factor <= MAX_SPEED:
        raise argparse.ArgumentTypeError(
            f"{text} is not a speed: write {MIN_SPEED:g} to {MAX_SPEED:g}, for example 60"
        )
    return factor


MIN_SPEED = 0.1
MAX_SPEED = 10_000.0


def parser() -> argparse.ArgumentParser:
    """The whole command line."""
    top = argparse.ArgumentParser(
        prog="bainward",
        description="Keeps a home-built chocolate tempering machine to its profile, and says so.",
        epilog=EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    top.add_argument(
        "--version", action=Version, nargs=0, default=argparse.SUPPRESS, help="show it"
    )
    commands = top.add_subparsers(dest="command", required=True, metavar="COMMAND")
    _try(commands)
    add_demo(commands)
    _run(commands)
    _announce(commands)
    add_leave(commands)
    _request(commands)
    add_watch(commands, BrokerAt)
    add_notify(commands, BrokerAt)
    _page(commands)
    add_plan(commands)
    add_parts(commands)
    add_rescue(commands)
    add_sweep(commands)
    add_ordeal(commands)
    _compare(commands)
    _check(commands)
    _profiles(commands)
    _journal(commands)
    add_book(commands)
    add_service(commands)
    add_health(commands)
    _broker_setup(commands)
    add_commissioning(commands)
    add_alarms(commands)
    _guard(commands)
    _rearm(commands)
    add_bench(commands)
    return top


def _common(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--units", choices=("C", "F"), help="show temperatures in °C (usual) or °F"
    )


def _machine(command: argparse.ArgumentParser, *, required: bool = False) -> None:
    command.add_argument(
        "--machine",
        metavar="MACHINE",
        required=required,
        help="a machine file, a bench machine's name (like brisk), or drawn-SEED-NUMBER",
    )


def _running(command: argparse.ArgumentParser) -> None:
    _common(command)
    command.add_argument("profile", metavar="PROFILE", help="a shipped name, or a .toml file")
    command.add_argument(
        "--journal-dir", type=Path, metavar="DIR", help="where the run's record is written"
    )
    where = command.add_mutually_exclusive_group()
    where.add_argument(
        "--broker", action=BrokerAt, metavar="HOST:PORT", help="publish at this MQTT broker"
    )
    where.add_argument("--no-broker", action="store_true", help="publish nowhere")
    command.add_argument(
        "--log", choices=("text", "json"), help="log every event on standard error"
    )
    command.add_argument("--plot", type=Path, metavar="FILE", help="draw the run (.svg or .png)")
    command.add_argument(
        "--page", type=Path, metavar="FILE", help="write the batch page at the end (.html)"
    )
    add_humidity(command)


def _try(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    command = commands.add_parser(
        "try",
        help="run a profile on the simulated bench",
        description="Runs a profile on the simulated bench, in simulated time.",
    )
    _running(command)
    _machine(command)
    command.add_argument("--seed", type=seed_number, metavar="N", help="seed of the bench's noise")
    command.add_argument(
        "--fitted",
        type=names,
        metavar="LIST",
        help="fit just these, of level,shaft,load,second-switch,mains-live,current,lid,stop, "
        "or none for nothing at all (left out: as the file says)",
    )
    add_faults(command)
    command.add_argument(
        "--give-up-after",
        type=duration_s,
        metavar="TIME",
        help="stop a run that takes longer, like 8h",
    )
    command.add_argument(
        "--speed",
        type=speed_factor,
        metavar="N",
        help="N simulated seconds a second (default: as fast as it goes)",
    )
    command.add_argument(
        "--you-answer",
        action="store_true",
        help="leave the questions to you instead of the bench's cook (at --speed 60)",
    )
    command.add_argument(
        "--port", type=port_number, metavar="N", help="port of the embedded broker (1883)"
    )


def _run(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    command = commands.add_parser(
        "run",
        help="run a profile on a machine, in real time",
        description=(
            "Runs a profile on the machine of a machine file, in real time. "
            "Never leave a heated machine alone."
        ),
    )
    _running(command)
    _machine(command, required=True)
    add_product(command)
    cut = command.add_mutually_exclusive_group()
    cut.add_argument(
        "--resume",
        dest="after_cut",
        action="store_const",
        const="resume",
        default="",
        help="go on with a run that was cut off, where that may be offered",
    )
    cut.add_argument(
        "--begin-again",
        dest="after_cut",
        action="store_const",
        const="begin-again",
        help="begin at the first phase whatever was cut off, or stopped by a signal just now",
    )


def _announce(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    command = commands.add_parser(
        "announce",
        help="tell a run what you have just done",
        description=(
            "Tells a run on this computer what you have just done, such as added 200 g, topped-up "
            "300 g at 45 C, swapped 50 % at 15 C, stirrer paused, stirrer on, lid open, lid closed."
        ),
    )
    _machine(command)
    command.add_argument("deed", nargs="+", metavar="DEED", help="the deed, with its amount")


def _request(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    command = commands.add_parser(
        "request",
        help="ask a run over MQTT",
        description=(
            "Asks a run over MQTT: stop, pause, acknowledge, resume, or answer and a choice. What "
            "leads to heat is taken where the machine file's remote allows it, and signed with its "
            "signing_key."
        ),
    )
    _whom(command, required=True)
    command.add_argument("words", nargs="+", metavar="WORD", help="what to ask for")


def _whom(command: argparse.ArgumentParser, *, required: bool = False) -> None:
    """Which machine is meant, and where it publishes."""
    _machine(command, required=required)
    command.add_argument("--broker", action=BrokerAt, metavar="HOST:PORT", help="at this broker")
    command.add_argument("--try", dest="try_", action="store_true", help="a try, not a run")


def _page(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    command = add_page(commands)
    _common(command)
    _whom(command)


def _compare(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    command = commands.add_parser(
        "compare",
        help="lay two runs, or two sweeps, side by side",
        description=(
            "Lays two runs (records, .jsonl) or two sweeps (tables, .csv or .parquet) side by side."
            " Machines of sweeps are matched by name. Exit code 6 if a record or table is damaged."
        ),
    )
    _common(command)
    command.add_argument("before", type=Path, metavar="A", help="a record or a table")
    command.add_argument("after", type=Path, metavar="B", help="another of the same kind")
    command.add_argument("--plot", type=Path, metavar="FILE", help="draw both (.svg or .png)")


def _check(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    command = commands.add_parser(
        "check",
        help="check a machine file and profiles, and explain them",
        description="Checks a machine file and profiles against each other and explains them.",
    )
    _common(command)
    command.add_argument("profiles", nargs="*", metavar="PROFILE")
    _machine(command)


def _profiles(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    command = commands.add_parser("profiles", help="list the shipped profiles")
    _common(command)


def _broker_setup(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    command = commands.add_parser(
        "broker-setup",
        help="write the configuration of a safe broker, with certificates and passwords",
        description=(
            "Writes a hardened mosquitto configuration with fresh certificates, passwords and an "
            "access list for the machine, a cook and an onlooker, and says what a phone needs."
        ),
    )
    command.add_argument("folder", type=Path, metavar="DIR", help="a new or empty folder")
    command.add_argument(
        "--host",
        action="append",
        metavar="NAME",
        help="name or address of the broker's computer, may be repeated (this one's name)",
    )
    command.add_argument(
        "--device", default="bainward", metavar="ID", help="the machine in topics (bainward)"
    )
    command.add_argument(
        "--port", type=port_number, default=8883, metavar="N", help="for phones (8883)"
    )
    command.add_argument(
        "--device-port", type=port_number, default=8884, metavar="N", help="for the machine (8884)"
    )


def _journal(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    command = commands.add_parser(
        "journal",
        help="verify, show or export the record of a run",
        description="Reads the record of a run: a .jsonl file in the folder of records.",
    )
    actions = command.add_subparsers(dest="action", required=True, metavar="ACTION")
    for name, text in (
        ("verify", "say whether every byte is as it was written; exit code 6 if not"),
        ("show", "print the run's summary"),
        ("export", "write the record for other programs"),
    ):
        action = actions.add_parser(name, help=text)
        action.add_argument("run", metavar="FILE|RUN", help=f"the record's path, {RUN_HELP}")
        add_shelf(action)
        if name == "show":
            _common(action)
        if name == "export":
            kind = action.add_mutually_exclusive_group(required=True)
            kind.add_argument("--csv", action="store_true", help="the samples, one a row")
            kind.add_argument("--json", action="store_true", help="all of it, as one object")


def _guard(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    command = commands.add_parser(
        "guard",
        help="guard the heater of a machine",
        description=(
            "Owns the heater's lines and permits heat only while a run asks for it and the guard's "
            "own thermometer agrees. Runs until it is told to end; starts and ends with heat off."
        ),
    )
    command.add_argument("--machine", type=Path, metavar="FILE", required=True)
    command.add_argument(
        "--off",
        dest="command",
        action="store_const",
        const="guard --off",
        default=argparse.SUPPRESS,
        help="guard nothing: drive the heater's lines off, once",
    )


def _rearm(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    command = commands.add_parser(
        "rearm",
        help="clear what the guard has latched, after a look at the machine",
        description="Shows what the guard has latched and what to do first, then clears it.",
    )
    _common(command)
    command.add_argument("--machine", type=Path, metavar="FILE", required=True)
    command.add_argument(
        "--yes", action="store_true", help="you have looked, where that is enough; don't ask"
    )
    command.add_argument(
        "--confirm",
        choices=[str(word) for word in Confirm],
        help="what you did, as the cause wants it; don't ask",
    )
