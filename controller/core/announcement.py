"""What a person may announce of their own deeds, and the plain words for it.

Responsible for the shape, its words, what is too much to be true and the likely slip in it; not for
what follows of it (hands) or for who may say it how often (heeding).
"""

import math
import re
from enum import StrEnum

from msgspec import Struct

from controller.core.scales import in_celsius

# Own engineering values, not published: what lies outside is a slip of the finger.
MASS_MIN_KG, MASS_MAX_KG = 0.001, 5.0
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


# How warm what comes in can be, °C: set chocolate still is set in a hot kitchen, a melt is one and
# not scorched, and a bath's water is neither ice nor steam. Own engineering values.
SANE_C = {Deed.ADDED: (0.0, 40.0), Deed.TOPPED_UP: (25.0, 60.0), Deed.SWAPPED: (0.0, 100.0)}

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
_WEIGHED = frozenset({Deed.ADDED, Deed.TOPPED_UP})
_BARE = re.compile(rf"(?:added|topped-up) ({_NUMBER})(?: at .*)?", re.ASCII)


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
    if given.deed in _WEIGHED and not MASS_MIN_KG <= given.mass_kg <= MASS_MAX_KG:
        return False
    if not (math.isnan(given.share) or 0.0 < given.share <= 1.0):
        return False
    return math.isnan(given.temp_c) or _is_sane(given.deed, given.temp_c)


def doubt(text: str) -> str:
    """Why words mean no deed, as a clause with the likely slip; empty where none is likely."""
    plain = " ".join(text.casefold().split())
    form = _FORM.fullmatch(plain)
    if form is None:
        bare = _BARE.fullmatch(plain)
        return "" if bare is None else f"{bare[1]} has no unit; did you mean {bare[1]} g?"
    deed, unit = Deed(form["deed"]), form["unit"] or ""
    if deed in _WEIGHED and unit in {"g", "kg"}:
        slip = _mass_slip(float(form["amount"]), unit)
        if slip:
            return slip
    return _temp_slip(deed, form["temp"], form["scale"]) if deed in _UNITS else ""


def _mass_slip(amount: float, unit: str) -> str:
    """What is wrong with a mass, if anything is."""
    per_kg = {"g": _G_PER_KG, "kg": 1.0}
    if MASS_MIN_KG <= amount / per_kg[unit] <= MASS_MAX_KG:
        return ""
    wrong = f"{amount:g} {unit} can't be: 1 g to {MASS_MAX_KG:g} kg go in at a time"
    for number, other in ((amount, "g"), (amount, "kg"), (-amount, unit)):
        if MASS_MIN_KG <= number / per_kg[other] <= MASS_MAX_KG:
            return f"{wrong}; did you mean {number:g} {other}?"
    return f"{wrong}."


def _temp_slip(deed: Deed, temp: str | None, scale: str | None) -> str:
    """What is wrong with how warm something is said to be, if anything is."""
    if temp is None:
        return ""
    number, other = float(temp), {"c": "F", "f": "C"}[scale or "c"]
    as_said, as_meant = (
        in_celsius(number) if one == "F" else number
        for one in ("F" if scale == "f" else "C", other)
    )
    if _is_sane(deed, as_said):
        return ""
    low_c, high_c = SANE_C[deed]
    wrong = f"{number:g} {(scale or 'c').upper()} can't be: from {low_c:g} to {high_c:g} C can"
    return f"{wrong}; did you mean {number:g} {other}?" if _is_sane(deed, as_meant) else f"{wrong}."


def _is_sane(deed: Deed, temp_c: float) -> bool:
    low_c, high_c = SANE_C.get(deed, (-math.inf, math.inf))
    return low_c <= temp_c <= high_c
