"""The command `bainward`: parse, dispatch, and turn every error into one sentence.

Responsible for exit codes and for what a failed command prints; not for any command's work.
"""

import sys
from collections.abc import Callable, Sequence

from controller.commands.options import parser
from controller.commands.streams import quieten, settle_streams
from controller.errors import BainwardError, Exit


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code."""
    settle_streams()
    options = parser().parse_args(argv)
    code = int(Exit.DONE)
    try:
        code = int(_command(options.command)(options))
        sys.stdout.flush()
    except BainwardError as error:
        sys.stderr.write(f"bainward: {error}\n")
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


def _command(name: str) -> Callable[..., Exit]:
    """The function of a command, imported only now: each pays for its own libraries."""
    if name in ("try", "run"):
        from controller.commands import running  # noqa: PLC0415 - start-up time

        return running.try_profile if name == "try" else running.run_profile
    if name == "guard --off":
        from controller.commands import switching_off  # noqa: PLC0415 - start-up time

        return switching_off.switch_off
    if name in ("guard", "rearm"):
        from controller.commands import guarding  # noqa: PLC0415 - start-up time

        return guarding.guard if name == "guard" else guarding.rearm
    if name == "service":
        from controller.commands import servicing  # noqa: PLC0415 - start-up time

        return servicing.write_units
    if name == "journal":
        from controller.commands import journaling  # noqa: PLC0415 - start-up time

        return journaling.journal
    from controller.commands import checking  # noqa: PLC0415 - start-up time

    return checking.check if name == "check" else checking.list_profiles
