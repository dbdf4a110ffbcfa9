"""What the link shows of temper: the estimate, what is advised, whether it may be left.

Responsible for these rows of the tree; not for the others (tree).
"""

import math
from functools import partial

from controller.core.profile import Verdict
from controller.core.tempering import Temper
from controller.link.homie import Datatype, Property, Rhythm, choices
from controller.ports import Moment

NOTHING = "none"  # Homie's empty string is one zero byte; a word reads better on a phone
_PERCENT = 100.0
# Own engineering values, not published.
_EACH_10_S = Rhythm(gap_s=10.0)
_SENTENCE = Rhythm(gap_s=10.0, words_at_once=True)

_enum = partial(Property, datatype=Datatype.ENUM)
_integer = partial(Property, datatype=Datatype.INTEGER)
_string = partial(Property, datatype=Datatype.STRING)


def _keeps(moment: Moment, which: int) -> str | None:
    """Seconds for which it stays in temper; none where that is hours, or nobody knows."""
    temper, run_s = moment.state.temper, moment.state.run_s
    left_s = temper.keeps_s[which] - (run_s - temper.keeps_at_s)
    return str(max(0, int(left_s))) if math.isfinite(left_s) else None


TEMPER = (
    _enum(
        path="temper/verdict",
        name="What the crystals are, as far as that can be told",
        format=choices(Temper),
        value=lambda m: m.state.temper.verdict.value,
    ),
    _integer(
        path="temper/confidence",
        name="How likely that is",
        unit="%",
        format="0:100",
        rhythm=_EACH_10_S,
        value=lambda m: str(round(m.state.temper.confidence * _PERCENT)),
    ),
    _string(
        path="temper/why",
        name="What says so",
        rhythm=_SENTENCE,
        value=lambda m: m.state.temper.why or NOTHING,
    ),
    _integer(
        path="temper/working-time-least",
        name="It stays in temper for so long at least",
        unit="s",
        rhythm=_EACH_10_S,
        value=lambda m: _keeps(m, 0),
    ),
    _integer(
        path="temper/working-time",
        name="It stays in temper for so long most likely",
        unit="s",
        rhythm=_EACH_10_S,
        value=lambda m: _keeps(m, 1),
    ),
    _string(
        path="temper/advice",
        name="What to do about it, or with what thickens",
        rhythm=_SENTENCE,
        value=lambda m: m.state.advice.text or NOTHING,
    ),
    _enum(
        path="temper/set-test",
        name="What the set test said",
        format=choices(Verdict),
        value=lambda m: m.state.progress.verdict.value,
    ),
    _string(
        path="temper/leave",
        name="Whether it may be left, to whoever asked last",
        value=lambda m: m.state.advice.leave or NOTHING,
    ),
)
