"""The command `request`: ask a run over MQTT, also for what leads to heat where it may.

Responsible for whom to ask and what is printed; not for the request itself (link/asking).
"""

import argparse
import sys
from dataclasses import replace

from controller.errors import Exit, UsageError
from controller.link.asking import ask_run
from controller.link.settings import LinkSettings
from controller.link.wishes import ONLY_HERE, Command
from controller.wiring import machine_meant

_WORDS = tuple(command for command in Command if command not in ONLY_HERE)
HOW = f"{', '.join(word.value for word in _WORDS if word is not Command.ANSWER)}, or answer WORD"


def request(options: argparse.Namespace) -> Exit:
    """`bainward request WORD`.

    Raises:
        UsageError: that is no request, or the run refused it.
        HardwareError: broker or run don't answer.
    """
    command, choice = _meant(options.words)
    settings = settings_meant(options.machine, options.broker, is_try=options.try_)
    sys.stdout.write(f"The run took it: {ask_run(settings, command, choice)}.\n")
    return Exit.DONE


def settings_meant(
    machine: str | None, broker: tuple[str, int] | None, *, is_try: bool
) -> LinkSettings:
    """Where the run of a machine, or a try of one, is to be found.

    Raises:
        UsageError: the machine has no link, and no broker is named.
        MachineFileError: there is no such machine.
    """
    machine_file = machine_meant(machine)
    settings = machine_file.link
    if settings is None and broker is None and not is_try:
        raise UsageError(
            f"Machine {machine_file.machine.name} has no [mqtt], so it is not known whom to ask; "
            "add the table, or name a broker with --broker HOST:PORT."
        )
    settings = settings or LinkSettings()
    if broker is not None:
        settings = replace(settings, host=broker[0], port=broker[1])
    if is_try:
        settings = replace(settings, device_id=f"{settings.device_id}-try")
    return settings


def _meant(words: list[str]) -> tuple[Command, str]:
    known = {word.value: word for word in _WORDS}
    command = known.get(words[0].casefold())
    takes = 2 if command is Command.ANSWER else 1
    if command is None or len(words) != takes:
        raise UsageError(f"{' '.join(words)!r} is no request; write {HOW}.")
    return command, words[1] if takes > 1 else ""
