"""Numbers in the words of a cook: how long, how far off, how sure.

Responsible for short texts that reports share; not for sentences on a run (controller.core.words).
"""

from datetime import UTC, datetime

from controller.core.profile import Verdict
from controller.core.scales import F_PER_K

S_PER_MIN = 60
MIN_PER_H = 60

_VERDICTS = {
    Verdict.NONE: "not made",
    Verdict.IN_TEMPER: "in temper",
    Verdict.NOT_IN_TEMPER: "not in temper",
}


def clock_text(run_s: float) -> str:
    """Run time as on a kitchen clock: "1:07:42"."""
    minutes, seconds = divmod(int(run_s), S_PER_MIN)
    hours, minutes = divmod(minutes, MIN_PER_H)
    return f"{hours}:{minutes:02}:{seconds:02}"


def duration_text(seconds: float) -> str:
    """A length of time to the minute: "1 h 07 min", "12 min"; to the second under a minute."""
    if seconds < S_PER_MIN:
        return f"{round(seconds)} s"
    hours, minutes = divmod(round(seconds / S_PER_MIN), MIN_PER_H)
    return f"{hours} h {minutes:02} min" if hours else f"{minutes} min"


def times_text(count: int) -> str:
    """How often: "once", "twice", "3 times"."""
    return {1: "once", 2: "twice"}.get(count, f"{count} times")


def wall_text(iso: str) -> str:
    """A moment as a person reads it, to the minute: "2031-02-03 11:46 UTC"; else as it came."""
    try:
        moment = datetime.fromisoformat(iso)
    except ValueError:
        return iso
    return f"{moment.astimezone(UTC):%Y-%m-%d %H:%M} UTC" if moment.tzinfo else iso


def span_text(span_k: float, *, fahrenheit: bool, sign: bool = False) -> str:
    """A difference of temperatures: "0.12 K" or "0.22 °F"."""
    number, unit = (span_k * F_PER_K, "°F") if fahrenheit else (span_k, "K")
    return f"{number:+.2f} {unit}" if sign else f"{number:.2f} {unit}"


def verdict_text(verdict: Verdict) -> str:
    """What the set test said."""
    return _VERDICTS[verdict]
