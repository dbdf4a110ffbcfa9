"""How much of the working window the errors of a bowl's thermometer eat.

Responsible for tolerances by their standards and for adding them up; not for measuring any of them
(calibrate) and not for what a driver reads.
"""

import math
import re

from msgspec import Struct

from controller.planning.quantities import quoted

WINDOW_K = 0.5  # either side of working temperature: common practice, no source
# IEC 60751 for finished thermometers, +-(first + second |t|), K (its text was not read first-hand;
# A and B as in the project's notes, AA and C from memory).
PLATINUM = {
    "aa": (0.10, 0.0017),
    "a": (0.15, 0.002),
    "b": (0.30, 0.005),
    "c": (0.60, 0.010),
}
PLATINUM_RANGE_C = (-30.0, 150.0)  # in which all four hold, film or wire (from memory, not checked)
# 12 bit thermometers on 1-wire: +-0.5 K from -10 to +85 °C, steps of 1/16 K: datasheet 19-7487.
ONE_WIRE_K, ONE_WIRE_STEP_K = 0.5, 0.0625
# IEC 60751: R = zero (1 + A t + B t²) above 0 °C.
PLATINUM_A, PLATINUM_B = 3.9083e-3, -5.775e-7
# A ratio converter with 15 bit of a reference of four times the zero: datasheet 19-6478.
RATIO_STEP = 4.0 / 32768.0
# Own engineering values, not published.
RESISTOR = 1e-3  # tolerance of a converter's reference
PLACE_K = 0.10  # what a probe reads beside what the bowl is, stirred
HOLD_K = 0.05  # how far a held bowl sways: tests/benchmarks/control.py, two-hour hold, most
CALIBRATED_K = 0.05  # left by two points, ice and steam or a reference
AGES_K = 0.05  # until it is calibrated again
_ELEMENT = re.compile(r"\bpt1000?")
OWN = (0.005, 3.0)  # tolerances that anybody may write down, K


class ProbeKind(Struct, frozen=True, kw_only=True):
    """A thermometer as it is sold."""

    name: str
    first_k: float
    per_c: float  # more of it for each degree
    step_k: float
    is_platinum: bool = False


class Budget(Struct, frozen=True, kw_only=True):
    """What adds up at one temperature, each as a limit either side."""

    sold_k: float  # the sensor
    converter_k: float  # its reference resistor, where there is one
    step_k: float  # half of it
    place_k: float
    hold_k: float

    @property
    def bought(self) -> tuple[float, ...]:
        """Without any calibration."""
        return (self.sold_k, self.converter_k, self.step_k, self.place_k, self.hold_k)

    @property
    def calibrated(self) -> tuple[float, ...]:
        """With sensor and converter calibrated as one."""
        return (CALIBRATED_K, AGES_K, self.step_k, self.place_k, self.hold_k)


def probe_kind(text: str) -> ProbeKind:
    """What is meant by "1-wire", "platinum B" or a tolerance of its own like "0.2 K".

    Raises:
        ValueError: that is none of them.
    """
    words = _ELEMENT.sub(" ", text.casefold().replace("-", " ")).split()
    if words in (["1", "wire"], ["1wire"], ["onewire"]):
        return ProbeKind(name="1-wire", first_k=ONE_WIRE_K, per_c=0.0, step_k=ONE_WIRE_STEP_K)
    meant = [word for word in words if word in PLATINUM]
    rest = {"platinum", "class", *meant}
    if len(meant) == 1 and set(words) <= rest:
        first_k, per_c = PLATINUM[meant[0]]
        name = f"platinum, class {meant[0].upper()}"
        return ProbeKind(name=name, first_k=first_k, per_c=per_c, step_k=0.0, is_platinum=True)
    return _own(text)


def _own(text: str) -> ProbeKind:
    """A tolerance that stands in a data sheet."""
    number, unit = text.replace(",", ".").replace("±", "").strip().rstrip("kK").strip(), text[-1:]
    try:
        value_k = float(number)
    except ValueError:
        value_k = math.nan
    if unit not in {"k", "K"} or math.isnan(value_k):
        classes = ", ".join(one.upper() for one in PLATINUM)
        raise ValueError(
            f"{quoted(text)} is no thermometer; write 1-wire, platinum with its class "
            f"({classes}), or the tolerance of its data sheet like 0.2 K"
        )
    if not OWN[0] <= value_k <= OWN[1]:
        raise ValueError(
            f"{quoted(text)} can't be: a thermometer's tolerance is from {OWN[0]:g} to {OWN[1]:g} K"
        )
    return ProbeKind(name=f"±{value_k:g} K", first_k=value_k, per_c=0.0, step_k=0.0)


def budget_at(kind: ProbeKind, temp_c: float) -> Budget:
    """Its errors at one temperature."""
    converter_k, step_k = 0.0, kind.step_k
    if kind.is_platinum:
        ratio = 1.0 + PLATINUM_A * temp_c + PLATINUM_B * temp_c**2
        per_k = PLATINUM_A + 2.0 * PLATINUM_B * temp_c
        converter_k, step_k = RESISTOR * ratio / per_k, RATIO_STEP / per_k
    return Budget(
        sold_k=kind.first_k + kind.per_c * abs(temp_c),
        converter_k=converter_k,
        step_k=0.5 * step_k,
        place_k=PLACE_K,
        hold_k=HOLD_K,
    )


def worst_k(errors: tuple[float, ...]) -> float:
    """All of them at their limits on one side."""
    return sum(errors)


def expanded_k(errors: tuple[float, ...]) -> float:
    """What holds nineteen times in twenty: each anywhere within its limits, k = 2.

    JCGM 100:2008 (the GUM), 4.3.7 and 6.2: the deviation of a uniform distribution is its half
    width over the root of 3.
    """
    return 2.0 * math.sqrt(sum(error**2 for error in errors) / 3.0)
