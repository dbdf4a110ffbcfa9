"""The look that all pictures share: colours, type, paper.

Responsible for how a picture looks and for writing it the same way each time; not for what it
shows.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

# Eight colours told apart with every kind of colour vision: Okabe & Ito, "Color Universal
# Design" (2008); hex values from memory, not checked.
BLUE, VERMILION, BLACK, GREEN, PURPLE = "#0072B2", "#D55E00", "#000000", "#009E73", "#CC79A7"

# Own choices for a page about 900 pixels wide.
WIDTH_IN = 9.0
DPI = 120
FONT_PT = 10.0
SMALL_PT = 8.5
SHADES = ("#FFFFFF", "#EEF1F4")
GRID = "#D5DADF"
QUIET = "#59636E"

# No date and no version, so that the same run gives the same bytes.
PLACE_DIGITS = 6  # of a picture's width or height: far less than a pixel
METADATA: dict[str, dict[str, str | None]] = {
    ".svg": {"Date": None, "Creator": None},
    ".png": {"Software": None},
}


@contextmanager
def paper(height_in: float) -> Iterator[Figure]:
    """An empty picture in the project's look; draw into it, and save it, while this holds."""
    with mpl.rc_context(
        {
            "font.size": FONT_PT,
            "axes.spines.top": False,
            "axes.spines.right": False,
            "svg.hashsalt": "bainward",  # otherwise ids in the file are random
        }
    ):
        figure = Figure(figsize=(WIDTH_IN, height_in), dpi=DPI, layout="constrained")
        FigureCanvasAgg(figure)
        yield figure


def save(figure: Figure, path: Path) -> None:
    """Write a picture. The same picture gives the same bytes.

    Raises:
        OSError: the file can't be written.
    """
    # The layout's solver leaves another rounding error each time; it goes with the last digits.
    figure.draw_without_rendering()
    figure.set_layout_engine("none")
    for axes in figure.axes:
        left, bottom, width, height = (
            round(part, PLACE_DIGITS) for part in axes.get_position().bounds
        )
        axes.set_position((left, bottom, width, height))
    figure.savefig(path, format=path.suffix[1:], metadata=METADATA[path.suffix])


def quiet_grid(axes: Axes) -> None:
    """Thin lines to read heights by."""
    axes.grid(axis="y", color=GRID, linewidth=0.6)
