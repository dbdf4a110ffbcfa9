"""The person at the machine, who looks, moves things and answers.

Responsible for what a step may want of them; not for a terminal (commands/at_terminal).
"""

from typing import Protocol

YES, NO = "yes", "no"


class Person(Protocol):
    """Somebody who reads what is said and does it."""

    def say(self, text: str) -> None:
        """Tell them something that stays to be read."""
        ...

    def show(self, text: str) -> None:
        """Tell them how it stands; the next such line takes its place."""
        ...

    def ask(self, question: str, words: tuple[str, ...] = (YES, NO)) -> str:
        """One of the words.

        Raises:
            StoppedError: nobody is there, or they want to leave it.
        """
        ...
