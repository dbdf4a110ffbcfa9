"""Messages for tests of pushing.

Responsible for plausible ones (own invention); not for any expectation.
"""

from controller.core.interlock_rows import Priority
from controller.push.message import Message, Waiting
from controller.push.settings import Kind


def message(text: str = "Close the lid.", priority: Priority = Priority.HIGH) -> Message:
    """An alarm."""
    return Message(
        kind=Kind.ALARM,
        priority=priority,
        title="Alarm - kitchen",
        text=text,
        about="$alert/lid-open",
        value=text,
    )


def waiting(text: str = "Close the lid.", priority: Priority = Priority.HIGH) -> Waiting:
    """The same on its way."""
    return Waiting(
        number=7, id="0a1b2c3d-7", message=message(text, priority), at_s=0.0, is_held=False
    )
