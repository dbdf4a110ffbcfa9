"""The person at the terminal, for the steps of commissioning.

Responsible for lines, questions and their answers; not for what is asked (commissioning).
"""

import sys

from controller.commissioning.person import NO, YES
from controller.errors import StoppedError

_OVER = "\r\x1b[K"  # over the line that stands there


class AtTerminal:
    """Somebody who reads standard output and types; see `commissioning.person`."""

    def __init__(self) -> None:
        """Nothing was said."""
        self._is_shown = False

    def say(self, text: str) -> None:
        """Print it."""
        self._end_line()
        sys.stdout.write(f"{text.rstrip()}\n")
        sys.stdout.flush()

    def show(self, text: str) -> None:
        """Print it over the last such line; where nobody looks at a terminal, as a line."""
        if sys.stdout.isatty():
            sys.stdout.write(f"{_OVER}{text}")
            self._is_shown = True
        else:
            sys.stdout.write(f"{text}\n")
        sys.stdout.flush()

    def ask(self, question: str, words: tuple[str, ...] = (YES, NO)) -> str:
        """Ask until one of the words comes.

        Raises:
            StoppedError: nobody is at a terminal, or the input has ended.
        """
        self._end_line()
        if not sys.stdin.isatty():
            raise StoppedError(
                f"This step wants a person at a terminal, who is asked: {question} What was shown "
                "so far is kept; give the same command at a terminal."
            )
        choices = "/".join(words)
        while True:
            sys.stdout.write(f"{question} [{choices}] ")
            sys.stdout.flush()
            line = sys.stdin.readline()
            if not line:
                raise StoppedError(
                    "Nobody answers any more; what was shown so far is kept, and the same command "
                    "goes on."
                )
            word = line.strip().lower()
            found = [one for one in words if word and one.startswith(word)]
            if word in words or len(found) == 1:
                return word if word in words else found[0]
            sys.stdout.write(f"Write one of {', '.join(words)}.\n")

    def _end_line(self) -> None:
        if self._is_shown:
            sys.stdout.write("\n")
            self._is_shown = False
