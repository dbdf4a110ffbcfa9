"""Tables beside the main one: bainward among its rivals, and on machines built differently.

Responsible for those two; not for goals (table).
"""

from collections.abc import Sequence

from controller.report.table import Row
from tests.benchmarks.control_measures import BAND_K, RIVALS
from tests.benchmarks.control_numbers import asked, counted, percentile, shown, value, values
from tests.benchmarks.control_structures import TITLES as STRUCTURE_TITLES

TITLES = {
    "bainward": "bainward",
    "thermostat": "on/off thermostat on the bowl",
    "single_pi": "single PI by hand",
    "cascade": "cascade, textbook gains",
}
COLUMNS = (
    "melt overshoot K, median/p95/max",
    "rewarm overshoot K, median/p95/max",
    "two-hour hold off by K, median/p95",
    "melt time over bound, median",
    "rewarm time over bound, median",
    "all three ≤ 0.1 K",
)


def rivals_text(rows: Sequence[Row]) -> str:
    """All controllers side by side, on the machines that the rivals were tried on."""
    tried = asked(rows, "curve", "rivals")
    lines = [_line(tried, TITLES["bainward"], "")]
    lines += [_line(tried, TITLES[who], f"{who}_") for who in RIVALS]
    return _table(counted(tried, rows), lines)


def structures_text(rows: Sequence[Row]) -> str:
    """Bainward on machines with something that its estimate has no place for."""
    lines: list[str] = []
    tried: list[Row] = []
    for name, title in STRUCTURE_TITLES.items():
        tried = asked(rows, name)
        if not lines:
            lines.append(_line(asked(rows, "curve", name), "the same machines as drawn", ""))
        lines.append(_line(tried, title, f"{name}_", bound=f"{name}_"))
    return _table(f"bainward on {counted(tried, rows)}", lines)


def _table(corner: str, lines: Sequence[str]) -> str:
    titles = (corner, *COLUMNS)
    return "\n".join([f"| {' | '.join(titles)} |\n|{'---|' * len(titles)}", *lines])


def _line(rows: Sequence[Row], title: str, first: str, *, bound: str = "") -> str:
    """The columns that begin with `first`, against the bounds that begin with `bound`."""

    def spread(column: str, *shares: float) -> str:
        found = values(rows, f"{first}{column}")
        return " / ".join(shown(percentile(found, share), 3) for share in shares)

    def time(leg: str) -> str:
        own, least = f"{first}{leg}_time_s", f"{bound}{leg}_bound_s"
        return shown(percentile([value(row, own) / value(row, least) for row in rows], 0.5))

    good = sum(
        all(
            value(row, f"{first}{column}") <= BAND_K
            for column in ("melt_over_k", "rewarm_over_k", "hold_off_k")
        )
        for row in rows
    )
    cells = (
        title,
        spread("melt_over_k", 0.5, 0.95, 1.0),
        spread("rewarm_over_k", 0.5, 0.95, 1.0),
        spread("hold_off_k", 0.5, 0.95),
        time("melt"),
        time("rewarm"),
        f"{good / max(1, len(rows)):.1%}",
    )
    return f"| {' | '.join(cells)} |"
