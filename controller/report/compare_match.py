"""Which machines of two sweeps are the same.

Responsible for pairing by name and for refusing what can't be paired; not for comparing.
"""

from dataclasses import dataclass

from controller.errors import UsageError
from controller.report.table import Table, table_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Matched:
    """Two tables with the same columns and the same machines in the same order."""

    names: tuple[str, str]  # what the tables are called
    before: Table
    after: Table
    sizes: tuple[int, int]  # how many machines each had
    only: tuple[tuple[str, ...], tuple[str, ...]]  # the machines that the other had not

    @property
    def both(self) -> tuple[Table, Table]:
        """Both tables."""
        return (self.before, self.after)


def match(names: tuple[str, str], before: Table, after: Table) -> Matched:
    """The machines of both tables, paired by name, in the order of the first.

    Raises:
        UsageError: the columns differ, or no machine is in both.
    """
    only = [
        sorted(set(one.columns) - set(other.columns))
        for one, other in ((before, after), (after, before))
    ]
    if any(only):
        where = "; ".join(
            f"only {name} has {', '.join(columns)}"
            for name, columns in zip(names, only, strict=True)
            if columns
        )
        raise UsageError(
            f"The tables have different columns ({where}); compare sweeps of profiles with the same"
            " phases, made by the same version of bainward."
        )
    first, second = (dict(zip(t.machines, t.rows, strict=True)) for t in (before, after))
    common = [machine for machine in first if machine in second]
    if not common:
        raise UsageError(
            f"{names[0]} and {names[1]} have no machine in common; compare sweeps with the same"
            " --seed."
        )
    return Matched(
        names=names,
        before=table_of([first[machine] for machine in common]),
        after=table_of([second[machine] for machine in common]),
        sizes=(len(first), len(second)),
        only=(
            tuple(machine for machine in first if machine not in second),
            tuple(machine for machine in second if machine not in first),
        ),
    )
