"""What a signed-in cook asks of the run, carried to it over MQTT.

Responsible for reading a form strictly and for bounded waiting; not for judging what is asked: that
is the run's own affair, with its tokens and signatures (link/asking).
"""

import asyncio
from typing import Annotated

import msgspec

from controller.errors import BainwardError
from controller.link.asking import ask_run
from controller.link.settings import LinkSettings
from controller.link.wishes import ONLY_HERE, Command

MOST_AT_ONCE = 4  # own engineering value: an answer never keeps a stop waiting
_Word = Annotated[str, msgspec.Meta(max_length=128, pattern=r"\A[^\x00-\x1f\x7f]*\Z")]


class Errand(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A form as it was sent."""

    form: _Word
    command: Command
    choice: _Word = ""
    ask: _Word = ""  # the question that was on the page


class Errands:
    """Asks the run, a few at a time."""

    def __init__(self, settings: LinkSettings) -> None:
        """Where the run is to be found."""
        self._settings = settings
        self._under_way = 0

    @property
    def is_busy(self) -> bool:
        """Whether so many are under way that another would wait too long."""
        return self._under_way >= MOST_AT_ONCE

    async def run(self, errand: Errand) -> tuple[bool, str]:
        """Whether the run took it, and what came of it in one sentence."""
        self._under_way += 1
        try:
            said = await asyncio.to_thread(
                ask_run, self._settings, errand.command, errand.choice, errand.ask
            )
        except BainwardError as error:
            return False, str(error)
        finally:
            self._under_way -= 1
        told = f"{said} {errand.choice}".strip()
        return True, f"The run took it: {told}."


def errand_of(body: bytes) -> Errand | None:
    """The form that a body is; None where it is none, or asks for what is done only by hand."""
    try:
        errand = msgspec.json.decode(body, type=Errand)
    except (msgspec.MsgspecError, ValueError, RecursionError):
        return None
    is_whole = errand.command is not Command.ANSWER or bool(errand.choice and errand.ask)
    return errand if is_whole and errand.command not in ONLY_HERE else None
