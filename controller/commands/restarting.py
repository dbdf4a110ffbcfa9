"""A start soon after the end of a run: unless a person says so, it may be a tool's, not a person's.

Responsible for refusing what stops and starts services by itself, as after an upgrade; not for runs
that were cut off (resuming).
"""

from pathlib import Path

from controller.errors import StoppedError
from controller.journal.cut import boot_s_at_cut
from controller.journal.reader import find_newest
from controller.journal.records import Run

# Own engineering values, not published. On a slow board minutes go by between an upgrade's stop of
# a service and its start.
AFTER_SIGNAL_S = 600.0
# A signal may come when the record has its end already, and the process not yet.
AFTER_END_S = 15.0


def refuse_soon_again(folder: Path, machine: str, boot_id: str, boot_s: float) -> None:
    """Raise if the newest run of `machine` in `folder` ended so lately that a tool may start this.

    Only seconds since boot are compared, which no wall clock can spoil: a run of another boot ended
    at least `boot_s` ago.

    Raises:
        StoppedError: a person must say that a run shall begin.
    """
    run = find_newest(folder, machine)
    if run is None:
        return
    is_same_boot = run.header.boot_id == boot_id
    how, wait_s = _end(run, is_same_boot=is_same_boot)
    since_s = _since_s(run, boot_s) if is_same_boot else boot_s
    if since_s is None or since_s < wait_s:
        raise StoppedError(
            f"Run {run.header.run_id} {how} not long ago, and for {wait_s:.0f} s after that none "
            "begins unless a person says so: start it at a terminal, or with --begin-again."
        )


def _end(run: Run, *, is_same_boot: bool) -> tuple[str, float]:
    """How the run ended, and for how long, s, no other may begin by itself."""
    if run.closing is not None and run.closing.signal:
        return f"was ended by {run.closing.signal}", AFTER_SIGNAL_S
    if not is_same_boot:
        return "is over", 0.0
    if run.closing is None:
        return "ended without a word in its record", AFTER_SIGNAL_S
    return "has ended", AFTER_END_S


def _since_s(run: Run, boot_s: float) -> float | None:
    """Seconds since the run's last sample, in the same boot; None where the record can't tell."""
    then_s = boot_s_at_cut(run) if run.samples else None
    return None if then_s is None else boot_s - then_s
