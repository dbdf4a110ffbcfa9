"""The command `bainward`: parse, dispatch, and turn every error into one sentence.

Responsible for exit codes and for what a failed command prints; not for any command's work.
"""

import argparse
import sys
from collections.abc import Callable, Sequence
from importlib import import_module
from pathlib import Path

from controller.commands.streams import quieten, settle_streams
from controller.errors import BainwardError, Exit


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code."""
    settle_streams()
    words = sys.argv[1:] if argv is None else argv
    options = _parsed(words)
    if options is None:
        return int(Exit.USAGE)
    code = int(Exit.DONE)
    try:
        code = int(_command(options.command)(options))
        sys.stdout.flush()
    except BainwardError as error:
        sys.stderr.write(f"bainward: {_shown(str(error))}\n")
        return int(error.exit_code)
    except BrokenPipeError:
        # Whoever read our output has gone; nothing is left to say.
        quieten(sys.stdout)
    except KeyboardInterrupt:
        return int(Exit.STOPPED)
    except OSError as error:
        quieten(sys.stdout)
        sys.stderr.write(f"bainward: the output can't be written ({error.strerror}).\n")
        return int(Exit.NO_PERMISSION)
    return code


def _parsed(words: Sequence[str]) -> argparse.Namespace | None:
    """What was asked for; None, and help, for nothing at all."""
    # As the service manager says it within the seconds that a dead guard has: the options of all
    # other commands would take longer than the work.
    if len(words) == len(_OFF) + 1 and tuple(words[:-1]) == _OFF:
        return argparse.Namespace(command="guard --off", machine=Path(words[-1]))
    parser = import_module("controller.commands.options").parser()
    if not words:
        parser.print_help(sys.stderr)
        return None
    options: argparse.Namespace = parser.parse_args(words)
    return options


_OFF = ("guard", "--off", "--machine")
# Where each command lives: its module of controller.commands, and the function in it.
COMMANDS = {
    "try": ("running", "try_profile"),
    "demo": ("demoing", "demo"),
    "run": ("running", "run_profile"),
    "request": ("requesting", "request"),
    "watch": ("watching", "watch"),
    "notify": ("notifying", "notify"),
    "page": ("paging", "page"),
    "announce": ("announcing", "announce"),
    "leave": ("leaving", "leave"),
    "plan": ("planning", "plan"),
    "parts": ("advising", "advise"),
    "rescue": ("rescuing", "rescue"),
    "sweep": ("sweeping", "sweep"),
    "ordeal": ("ordealing", "ordeal"),
    "compare": ("comparing", "compare"),
    "check": ("checking", "check"),
    "profiles": ("checking", "list_profiles"),
    "journal": ("journaling", "journal"),
    "book": ("booking", "book"),
    "service": ("servicing", "write_units"),
    "health": ("health", "health"),
    "broker-setup": ("broker_setup", "set_up_broker"),
    "alarms": ("alarming", "alarms"),
    "guard": ("guarding", "guard"),
    "guard --off": ("switching_off", "switch_off"),
    "rearm": ("guarding", "rearm"),
    "bench": ("benching", "bench"),
    "probes": ("showing", "probes"),
    "prove": ("showing", "prove"),
    "calibrate": ("calibrating", "calibrate"),
    "fit": ("fitting", "fit"),
}


def _command(name: str) -> Callable[..., Exit]:
    """The function of a command, imported only now: each pays for its own libraries."""
    module, function = COMMANDS[name]
    found: Callable[..., Exit] = getattr(import_module(f"controller.commands.{module}"), function)
    return found


def _shown(sentences: str) -> str:
    """What came from a file or a broker must not steer the terminal it is shown on."""
    return "".join(sign if sign.isprintable() or sign == "\n" else "?" for sign in sentences)
