"""Spans of time in words.

Responsible for wording; not for clocks.
"""

_S_PER_MIN = 60
_MIN_PER_H = 60
_SHORT_S = 120  # an age under it is counted in seconds


def span_text(span_s: float) -> str:
    """A span to the minute: "under 1 min", "43 min", "1 h 05 min"."""
    minutes = round(span_s / _S_PER_MIN)
    if minutes < 1:
        return "under 1 min"
    hours, rest = divmod(minutes, _MIN_PER_H)
    return f"{hours} h {rest:02d} min" if hours else f"{rest} min"


def age_text(age_s: float) -> str:
    """An age: "12 s", "5 min", "2 h 10 min"."""
    return f"{age_s:.0f} s" if age_s < _SHORT_S else span_text(age_s)
