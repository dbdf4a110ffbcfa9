"""A physical number with all that belongs to it: unit, default, source, and the range of its draws.

Responsible for how a table of such numbers is written and read; not for any number.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field, fields
from typing import Any, cast


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """One row of a table of parameters."""

    name: str
    unit: str  # "1" for a plain number
    default: float
    source: str
    low: float  # the range of random draws; low and high are the default where none is drawn
    high: float
    together: str  # rows with the same word rise and fall together; "" means on its own

    @property
    def is_drawn(self) -> bool:
        """Whether machines differ in it."""
        return self.low < self.high


def quantity(
    default: float,
    unit: str,
    source: str,
    *,
    drawn: tuple[float, float] | None = None,
    together: str = "",
) -> Any:  # noqa: ANN401 - stands for a field, as dataclasses.field itself does
    """A field of a frozen dataclass that carries its row.

    Args:
        default: The value of the reference machine.
        unit: SI or °C, as the field's name says it.
        source: Where the number comes from, in words.
        drawn: Lowest and highest value of random machines; None: all have the default.
        together: A word; all rows with it are drawn as one, from low to high.
    """
    low, high = drawn or (default, default)
    if not low <= default <= high:
        raise ValueError(f"The default {default} {unit} lies outside its range {low} to {high}.")
    row = {"unit": unit, "source": source, "low": low, "high": high, "together": together}
    return field(default=default, metadata=row)


def rows(table: type) -> Iterator[Quantity]:
    """Every quantity of a dataclass, in the order in which it is written."""
    for each in fields(table):
        if "unit" in each.metadata:
            yield Quantity(
                name=each.name, default=cast("float", each.default), **dict(each.metadata)
            )
