"""What a person may announce of their own deeds, and the plain words for it.

Responsible for the shape, its words and what is too much to be true; not for what follows of it
(hands) or for who may say it how often (heeding).
"""

import math
import re
from enum import StrEnum

from msgspec import Struct

from controller.core.scales import in_celsius

MASS_MAX_KG = 5.0  # own engineering values: more than that is a slip of the finger
TEMP_MIN_C, TEMP_MAX_C = 0.0, 100.0
_PERCENT = 100.0
_G_PER_KG = 1000.0


class Deed(StrEnum):
    """What hands can do to bath, bowl and machine."""

    ADDED = "added"  # set chocolate
    TOPPED_UP = "topped-up"  # melted chocolate
    SWAPPED = "swapped"  # water of the bath
    STIRRER_PAUSED = "stirrer paused"
    STIRRER_ON = "stirrer on"
    LID_OPEN = "lid open"
    LID_CLOSED = "lid closed"


class Announcement(Struct, frozen=True, kw_only=True):
    """One deed. What was not said is NaN."""

    deed: Deed
    mass_kg: float = math.nan
    share: float = math.nan  # of the bath's water, 0 to 1
    temp_c: float = math.nan  # of what came in

    @property
    def words(self) -> str:
        """As it is typed: "added 200 g at 20 C"."""
        parts = [self.deed.value]
        if math.isfinite(self.mass_kg):
            parts.append(f"{self.mass_kg * _G_PER_KG:.0f} g")
        if math.isfinite(self.share):
            parts.append(f"{self.share * _PERCENT:.0f} %")
        if math.isfinite(self.temp_c):
            parts.append(f"at {self.temp_c:.1f} C")
        return " ".join(parts)


HOW = (
    "announce added 200 g, topped-up 300 g at 45 C, swapped 50 % at 15 C, "
    "stirrer paused, stirrer on, lid open or lid closed"
)
_DEED = "|".join(deed.value for deed in Deed)
_NUMBER = r"-?\d{1,5}(?:[.]\d{1,4})?"
_FORM = re.compile(
    rf"(?P<deed>{_DEED})"
    rf"(?: (?P<amount>{_NUMBER}) ?(?P<unit>kg|g|%))?"
    rf"(?: at (?P<temp>{_NUMBER}) ?°?(?P<scale>c|f))?",
    re.ASCII,
)
_UNITS = {
    Deed.ADDED: frozenset({"g", "kg"}),
    Deed.TOPPED_UP: frozenset({"g", "kg"}),
    Deed.SWAPPED: frozenset({"", "%"}),
}
_NO_UNITS = frozenset({""})


def announced(text: str) -> Announcement | None:
    """The announcement that words mean, without the word `announce`; None for what is none."""
    form = _FORM.fullmatch(" ".join(text.casefold().split()))
    if form is None:
        return None
    deed, unit = Deed(form["deed"]), form["unit"] or ""
    if unit not in _UNITS.get(deed, _NO_UNITS) or (form["temp"] and deed not in _UNITS):
        return None
    amount = float(form["amount"]) if unit else math.nan
    temp_c = float(form["temp"]) if form["temp"] else math.nan
    if form["scale"] == "f":
        temp_c = in_celsius(temp_c)
    mass_kg = {"kg": amount, "g": amount / _G_PER_KG}.get(unit, math.nan)
    share = amount / _PERCENT if unit == "%" else math.nan
    given = Announcement(deed=deed, mass_kg=mass_kg, share=share, temp_c=temp_c)
    return given if is_possible(given) else None


def is_possible(given: Announcement) -> bool:
    """Whether its numbers can be true, and say what they must."""
    if given.deed in {Deed.ADDED, Deed.TOPPED_UP} and not 0.0 < given.mass_kg <= MASS_MAX_KG:
        return False
    if not (math.isnan(given.share) or 0.0 < given.share <= 1.0):
        return False
    return math.isnan(given.temp_c) or TEMP_MIN_C <= given.temp_c <= TEMP_MAX_C
