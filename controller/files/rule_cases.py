"""What the rules look at, and how they write a temperature for a file.

Responsible for the shapes that the rules share; not for any rule.
"""

import math
from dataclasses import dataclass

from controller.core.machine import Machine
from controller.core.profile import Phase, Profile, Question

SLACK = 1e-6  # a limit written in °F is not an exact number in °C


@dataclass(frozen=True, slots=True, kw_only=True)
class ProfileCase:
    """What a rule about the whole profile looks at."""

    profile: Profile
    machine: Machine


@dataclass(frozen=True, slots=True, kw_only=True)
class PhaseCase:
    """What a rule about one phase looks at."""

    phase: Phase
    before: Phase | None
    is_last: bool
    has_crystals: bool  # there are some to lose, in this phase or from it on
    profile: Profile
    machine: Machine


@dataclass(frozen=True, slots=True, kw_only=True)
class QuestionCase:
    """What a rule about one question looks at."""

    question: Question
    phase: Phase
    profile: Profile


def at_least(value_c: float) -> str:
    """A temperature as a file writes it, rounded up to a tenth."""
    return f'"{math.ceil((value_c - SLACK) * 10) / 10:g} C"'


def at_most(value_c: float) -> str:
    """A temperature as a file writes it, rounded down to a tenth."""
    return f'"{math.floor((value_c + SLACK) * 10) / 10:g} C"'


def repeated(words: tuple[str, ...]) -> str | None:
    """The first word that stands there twice, or None."""
    return next((word for index, word in enumerate(words) if word in words[:index]), None)
