"""The errors a user can meet, each one sentence that says what, where and what to do.

Responsible for the tree and the exit codes; not for printing.
"""

from enum import IntEnum


class Exit(IntEnum):
    """Exit codes of the command, documented in README.md."""

    DONE = 0  # finished; with chocolate: in temper
    CRASHED = 1  # an error of the program itself; heat is off
    USAGE = 2  # the command line can't be understood
    NOT_IN_TEMPER = 3  # the run finished, but not in temper
    TRIPPED = 4  # an interlock ended the run, or a trip is still latched
    STOPPED = 5  # a person or a signal stopped the run
    BAD_FILE = (
        6  # a profile, machine, plan or push file, record or table is missing, unreadable or wrong
    )
    BUSY = 7  # another daemon runs this machine, a port is taken, or the computer is too busy
    NO_PERMISSION = 8  # a file or folder can't be read or written
    HARDWARE = 9  # a device, guard, run, broker or push service can't be reached
    UNPROVEN = 10  # a real machine is not commissioned yet, or a proof of it is too old

    @property
    def word(self) -> str:
        """As records and tables write it: `not-in-temper`."""
        return self.name.lower().replace("_", "-")


class BainwardError(Exception):
    """An error with a sentence for the user and an exit code."""

    exit_code = Exit.CRASHED


class CrashError(BainwardError):
    """The program itself failed."""


class ProfileError(BainwardError):
    """A profile can't be used."""

    exit_code = Exit.BAD_FILE


class MachineFileError(BainwardError):
    """A machine file can't be used."""

    exit_code = Exit.BAD_FILE


class PlanError(BainwardError):
    """A plan file can't be used."""

    exit_code = Exit.BAD_FILE


class PushFileError(BainwardError):
    """A push file can't be used."""

    exit_code = Exit.BAD_FILE


class TableError(BainwardError):
    """The table of a sweep can't be used."""

    exit_code = Exit.BAD_FILE


class RecordError(BainwardError):
    """The record of a run can't be used."""

    exit_code = Exit.BAD_FILE


class BusyError(BainwardError):
    """Something that this needs is held by another process."""

    exit_code = Exit.BUSY


class AccessError(BainwardError):
    """A file or folder can't be read or written."""

    exit_code = Exit.NO_PERMISSION


class LatchedError(BainwardError):
    """A trip that no person has cleared yet forbids it."""

    exit_code = Exit.TRIPPED


class HardwareError(BainwardError):
    """A device can't be attached."""

    exit_code = Exit.HARDWARE


class UnprovenError(BainwardError):
    """A real machine may not heat before a step of its commissioning."""

    exit_code = Exit.UNPROVEN


class UsageError(BainwardError):
    """The command line asks for something that can't be."""

    exit_code = Exit.USAGE


class StoppedError(BainwardError):
    """A run did not begin, for want of a person's word."""

    exit_code = Exit.STOPPED
