"""Values on the command line that more than one command takes.

Responsible for one clear sentence about a value that is none; not for which option takes it.
"""

import argparse


def duration_s(text: str) -> float:
    """A time of some length, in s."""
    from controller.files.temperatures import parse_duration_s  # noqa: PLC0415 - start-up time

    try:
        value_s = parse_duration_s(text)
    except ValueError:
        value_s = 0.0
    if not value_s > 0.0:
        raise argparse.ArgumentTypeError(f"{text} is no time: write it like 90min or 8h")
    return value_s


def positive(text: str) -> int:
    """A whole number from 1."""
    if not text.isdecimal() or int(text) < 1:
        raise argparse.ArgumentTypeError(
            f"{text} is not a number of them: write a whole one from 1"
        )
    return int(text)


def seed_number(text: str) -> int:
    """A whole number, nought too."""
    if not text.isdecimal():
        raise argparse.ArgumentTypeError(f"{text} is no seed: write a whole number")
    return int(text)


def names(text: str) -> tuple[str, ...]:
    """Names with commas between them; "none" for none."""
    return () if text == "none" else tuple(name.strip() for name in text.split(","))


def humidity(text: str) -> float:
    """Relative humidity of a room, 0 to 1.

    Raises:
        argparse.ArgumentTypeError: it is none; the sentence says what to write.
    """
    from controller.planning.quantities import HUMIDITY, read  # noqa: PLC0415 - start-up time

    try:
        return read(text, HUMIDITY)
    except ValueError as error:
        raise argparse.ArgumentTypeError(str(error)) from None
