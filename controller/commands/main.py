"""The command `bainward`: parse, dispatch, and turn every error into one sentence.

Responsible for exit codes and for what a failed command prints; not for any command's work.
"""

import io
import sys
from collections.abc import Callable, Sequence

from controller.commands.options import parser
from controller.errors import BainwardError, Exit


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):  # a terminal that can't show ° must not end a run
            stream.reconfigure(errors="replace")
    options = parser().parse_args(argv)
    try:
        return int(_command(options.command)(options))
    except BainwardError as error:
        sys.stderr.write(f"bainward: {error}\n")
        return int(error.exit_code)
    except BrokenPipeError:
        # Whoever read our output has gone; nothing is left to say.
        sys.stderr.close()
        return int(Exit.DONE)


def _command(name: str) -> Callable[..., Exit]:
    """The function of a command, imported only now: each pays for its own libraries."""
    if name in ("try", "run"):
        from controller.commands import running  # noqa: PLC0415 - start-up time

        return running.try_profile if name == "try" else running.run_profile
    from controller.commands import checking  # noqa: PLC0415 - start-up time

    return checking.check if name == "check" else checking.list_profiles
