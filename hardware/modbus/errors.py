"""The one error of this package, met only while a board is being attached.

Responsible for its name; not for what becomes of it (the wiring turns it into the command's own).
"""


class AttachError(Exception):
    """A board can't be attached; one sentence that says what, where and what to do."""
