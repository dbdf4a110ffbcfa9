"""Runs and sweeps as pictures.

Responsible for what may go wrong on the way to one; not for the drawing (drawing, runs_plot,
sweep_plot), which needs matplotlib and is imported only when somebody wants a picture.
"""

import importlib.util
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from controller.errors import AccessError, UsageError
from controller.journal.records import Run
from controller.report.compare_layout import BOTH
from controller.report.compare_match import Matched
from controller.report.table import Row, table_of
from controller.report.target import check_target

NO_MATPLOTLIB = (
    "A picture needs matplotlib, which is not installed; install bainward with its extra: "
    "pip install '.[report]'."
)
SUFFIXES = (".png", ".svg")
LONGEST_NAME = 50


def check_picture(path: Path) -> None:
    """See before a run whether its picture can be.

    Raises:
        UsageError: another suffix, or matplotlib is not installed.
        AccessError: it can't be written.
    """
    if path.suffix not in SUFFIXES:
        raise UsageError(
            f"The picture {path} must end in {' or '.join(SUFFIXES)}; give it such a name."
        )
    if importlib.util.find_spec("matplotlib") is None:
        raise UsageError(NO_MATPLOTLIB)
    check_target(path, "picture")


def plot_run(run: Run, path: Path, *, fahrenheit: bool = False) -> None:
    """Draw the run into `path`, an .svg or .png file. The same run gives the same picture.

    Raises:
        UsageError: another suffix, a run without samples, or matplotlib is not installed.
        AccessError: the file can't be written.
    """
    _check_samples(run)
    with _explained(path):
        from controller.report.drawing import draw  # noqa: PLC0415 - an extra, and slow to import

        draw(run, path, fahrenheit=fahrenheit)


def plot_sweep(
    rows: Sequence[Row], path: Path, *, title: str = "", fahrenheit: bool = False
) -> None:
    """Draw a sweep's table into `path`, an .svg or .png file: a panel a column.

    `rows` are as the table has them, one a machine, all with the same columns in the same order,
    `machine` among them; NaN or an empty text stands for what did not happen. A column of numbers
    is drawn as a distribution, its unit taken from the end of its name (`_s`, `_k`, `_c`, `_kwh`);
    any other as counts of its words. The same rows give the same picture.

    Raises:
        UsageError: another suffix, no rows, or matplotlib is not installed.
        AccessError: the file can't be written.
    """
    if not rows:
        raise UsageError("The sweep has no rows to draw; let at least one machine finish.")
    table = table_of(rows)
    with _explained(path):
        from controller.report.sweep_plot import draw_sweeps  # noqa: PLC0415 - as above

        words = title or f"{len(rows)} machines"
        draw_sweeps([("machines", table)], path, title=words, fahrenheit=fahrenheit)


def plot_runs(before: Run, after: Run, path: Path, *, fahrenheit: bool = False) -> None:
    """Draw two runs on one time axis into `path`, an .svg or .png file.

    Raises:
        UsageError: another suffix, a run without samples, or matplotlib is not installed.
        AccessError: the file can't be written.
    """
    _check_samples(before)
    _check_samples(after)
    with _explained(path):
        from controller.report.runs_plot import draw_runs  # noqa: PLC0415 - as above

        draw_runs(before, after, path, fahrenheit=fahrenheit)


def plot_sweeps(found: Matched, path: Path, *, fahrenheit: bool = False) -> None:
    """Draw two sweeps into `path`, an .svg or .png file: each column of both on one scale.

    Raises:
        UsageError: another suffix, or matplotlib is not installed.
        AccessError: the file can't be written.
    """
    with _explained(path):
        from controller.report.sweep_plot import draw_sweeps  # noqa: PLC0415 - as above

        sweeps = list(zip(BOTH, found.both, strict=True))
        names = [f"{side}: {_end(name)}" for side, name in zip(BOTH, found.names, strict=True)]
        title = "\n".join([*names, f"{len(found.before.rows)} machines in both"])
        draw_sweeps(sweeps, path, title=title, fahrenheit=fahrenheit)


def _end(name: str) -> str:
    """A path that is too long for a picture by its end, where paths differ."""
    return name if len(name) <= LONGEST_NAME else f"...{name[3 - LONGEST_NAME :]}"


def _check_samples(run: Run) -> None:
    if not run.samples:
        raise UsageError(
            f"The run {run.header.run_id} holds no samples to draw; name one that got going."
        )


@contextmanager
def _explained(path: Path) -> Iterator[None]:
    """Say in one sentence why `path` can't be drawn."""
    check_picture(path)
    try:
        yield
    except ImportError as error:
        raise UsageError(NO_MATPLOTLIB) from error
    except OSError as error:
        raise AccessError(
            f"The picture {path} can't be written ({error.strerror}); make its folder exist and"
            " be writable, or name another."
        ) from error
