"""A run as a picture.

Responsible for what may go wrong on the way to one; not for the drawing (drawing), which needs
matplotlib and is imported only when somebody wants a picture.
"""

import importlib.util
from pathlib import Path

from controller.errors import AccessError, UsageError
from controller.journal.records import Run

NO_MATPLOTLIB = (
    "A picture needs matplotlib, which is not installed; install bainward with its extra: "
    "pip install '.[report]'."
)
SUFFIXES = (".png", ".svg")


def check_picture(path: Path) -> None:
    """See before a run whether its picture can be.

    Raises:
        UsageError: another suffix.
        AccessError: its folder is not there.
    """
    if path.suffix not in SUFFIXES:
        raise UsageError(
            f"The picture {path} must end in {' or '.join(SUFFIXES)}; give it such a name."
        )
    if importlib.util.find_spec("matplotlib") is None:
        raise UsageError(NO_MATPLOTLIB)
    if not path.parent.is_dir():
        raise AccessError(
            f"The picture {path} can't be written: there is no folder {path.parent}; make it."
        )


def plot_run(run: Run, path: Path, *, fahrenheit: bool = False) -> None:
    """Draw the run into `path`, an .svg or .png file. The same run gives the same picture.

    Raises:
        UsageError: another suffix, a run without samples, or matplotlib is not installed.
        AccessError: the file can't be written.
    """
    check_picture(path)
    if not run.samples:
        raise UsageError(
            f"The run {run.header.run_id} holds no samples to draw; name one that got going."
        )
    try:
        from controller.report.drawing import draw  # noqa: PLC0415 - an extra, and slow to import
    except ImportError as error:
        raise UsageError(NO_MATPLOTLIB) from error
    try:
        draw(run, path, fahrenheit=fahrenheit)
    except OSError as error:
        raise AccessError(
            f"The picture {path} can't be written ({error.strerror}); make its folder exist and"
            " be writable, or name another."
        ) from error
