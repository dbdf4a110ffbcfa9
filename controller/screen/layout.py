"""What stands on the terminal, line by line: drawn from a cook's questions, the first on top.

Responsible for words, order and what is left out where there is no room; not for colours or keys
(terminal). What is not live is marked as old on every line that has a value.
"""

import textwrap
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, tzinfo

from controller.view.board import View
from controller.view.facts import Facts
from controller.view.scale import scaled
from controller.view.spans import span_text
from controller.view.story import (
    NO_SPANS,
    NOT_READY,
    OVER,
    READY,
    Story,
    Tone,
    freshness_text,
    heat_text,
    is_at_rest,
    is_working,
    left_text,
    may_dip,
    remark,
    story,
    temperature_text,
    verdict_text,
    works_text,
)

LEAST_COLUMNS, LEAST_ROWS = 20, 4  # less shows what fits, cut off
WIDEST = 96  # longer lines are hard to read: own choice
_LABEL = 8  # columns of a label
_FIRST_ROW = "Bowl"
_LAST = 8  # the rank of what is missed least
_WIDE = frozenset({"W", "F"})  # Unicode Standard Annex 11: two columns on a terminal


@dataclass(frozen=True, slots=True)
class Line:
    """One line; without a tone it is plain."""

    text: str
    tone: Tone | None = None
    bold: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """Where and how it is shown."""

    name: str  # of the machine
    columns: int
    rows: int
    fahrenheit: bool | None  # None: as the machine itself
    how: str  # to answer a question
    trouble: str = ""  # why nothing can be heard
    zone: tzinfo | None = None  # None: the computer's own


@dataclass(frozen=True, slots=True)
class _Block:
    """Lines that stand or fall together; those of the highest rank fall first."""

    rank: int
    lines: tuple[Line, ...]
    apart: bool = False  # with a blank line before it, where there is room


def screen(view: View, frame: Frame) -> tuple[Line, ...]:
    """Every line of the screen; no more than its rows, none wider than its columns."""
    view = scaled(view, fahrenheit=frame.fahrenheit)
    told = story(view)
    blocks = [
        _Block(0, (_head(view, frame),)),
        _Block(0, (Line(told.word.upper(), told.tone, bold=True),), apart=True),
        _Block(0, tuple(_wrapped(printable(told.sentence), frame, told.tone))),
        *_trouble(frame),
        *_besides(view, frame),
        *_question(view, told, frame),
        *_alarms(view, told, frame),
        *(
            _Block(rank, (_row(*row, view),), apart=row[0] == _FIRST_ROW)
            for rank, row in _rows(view, told, frame)
        ),
        _Block(_LAST, (Line("q leaves; the run goes on without this screen."),), apart=True),
    ]
    lines = [line for block in _that_fit(blocks, frame.rows) for line in block.lines]
    cut = (Line(clipped(printable(one.text), frame.columns), one.tone, one.bold) for one in lines)
    return tuple(cut)[: max(1, frame.rows)]


def plain(view: View, frame: Frame) -> str:
    """The same on one line, for where there is no screen."""
    view = scaled(view, fahrenheit=frame.fahrenheit)
    told = story(view)
    sentence = printable(told.sentence)
    asked = view.facts.asked
    if view.is_live and asked is not None and sentence.endswith(printable(asked.text)):
        sentence += f" [{' / '.join(map(printable, asked.choices))}]"
    if besides := remark(view):
        sentence = f"{sentence.rstrip('.')}. {besides}"
    if frame.trouble:
        sentence += f" ({printable(frame.trouble)})"
    word = printable(told.word)  # a phase's name may be anybody's
    if sentence.startswith(word):
        return sentence
    return f"{word}: {sentence}" if sentence else word


def what_counts(view: View) -> tuple[object, ...]:
    """What a change of is worth a line: not a temperature, nor how old it is."""
    facts, told = view.facts, story(view)
    asked = None if facts.asked is None or not view.is_live else facts.asked.id
    alerts = tuple(one.text for one in facts.alerts) if view.is_live else ()
    besides = remark(view)
    return view.standing, told.word, facts.phase, facts.mode, asked, alerts, besides, facts.run_id


def printable(text: str) -> str:
    """Somebody's words, without what steers a terminal."""
    return "".join(sign if sign.isprintable() else "?" for sign in text)


def clipped(text: str, columns: int) -> str:
    """As much of a line as there is room for."""
    room = columns
    for at, sign in enumerate(text):
        room -= _columns_of(sign)
        if room < 0:
            return text[:at]
    return text


def _columns_of(sign: str) -> int:
    if unicodedata.combining(sign):
        return 0
    return 2 if unicodedata.east_asian_width(sign) in _WIDE else 1


def _wrapped(text: str, frame: Frame, tone: Tone | None = None) -> Iterable[Line]:
    width = max(LEAST_COLUMNS, min(frame.columns, WIDEST))
    return (Line(one, tone) for one in textwrap.wrap(text, width))


def _head(view: View, frame: Frame) -> Line:
    """Which machine, and how far all of this may be believed."""
    profile = view.facts.profile
    name = printable(frame.name if profile is None else f"{frame.name}, {profile}")
    fresh = freshness_text(view) if view.is_live else f"NOT LIVE, {freshness_text(view)}"
    gap = min(frame.columns, WIDEST) - len(name) - len(fresh)
    if gap < 1:
        return Line(fresh, None if view.is_live else Tone.OLD, bold=True)
    return Line(f"{name}{' ' * gap}{fresh}", None if view.is_live else Tone.OLD, bold=True)


def _trouble(frame: Frame) -> Iterable[_Block]:
    if frame.trouble:
        yield _Block(1, tuple(_wrapped(f"Why: {printable(frame.trouble)}.", frame)))


def _besides(view: View, frame: Frame) -> Iterable[_Block]:
    if said := remark(view):
        yield _Block(1, tuple(_wrapped(said, frame, Tone.CARE)))


def _question(view: View, told: Story, frame: Frame) -> Iterable[_Block]:
    asked = view.facts.asked
    if asked is None:
        return
    lines: list[Line] = []
    if told.sentence != asked.text:
        was = "It asks" if view.is_live else "It asked"
        lines += _wrapped(f"{was}: {printable(asked.text)}", frame, Tone.ASKS)
    if view.is_live:
        words = (f"{one} (leads to heat)" if one in asked.heating else one for one in asked.choices)
        lines += _wrapped(f"Answer: {printable(', '.join(words))}", frame, Tone.ASKS)
        lines += _wrapped(frame.how, frame)
    yield _Block(1, tuple(lines), apart=True)


def _alarms(view: View, told: Story, frame: Frame) -> Iterable[_Block]:
    for alert in view.facts.alerts:
        if alert.text not in told.sentence:
            was = "Alarm" if view.is_live else "There was an alarm"
            text = f"{was}: {printable(alert.text)}"
            yield _Block(1, tuple(_wrapped(text, frame, Tone.CARE)), apart=True)


def _row(label: str, text: str, view: View) -> Line:
    """A value; one that is not live can't be mistaken for one that is."""
    if view.is_live:
        return Line(f"{label:<{_LABEL}}{printable(text)}")
    return Line(f"{label:<{_LABEL}}was {printable(text)}", Tone.OLD)


def _rows(view: View, told: Story, frame: Frame) -> Iterable[tuple[int, tuple[str, str]]]:
    """Rank, label and text of each value that there is."""
    facts = view.facts
    is_f = facts.fahrenheit if frame.fahrenheit is None else frame.fahrenheit
    if facts.mode is None:
        return
    targets_c = facts.bowl_setpoint_c, facts.bath_setpoint_c
    bowl_target_c, bath_target_c = (None, None) if is_at_rest(facts) else targets_c
    yield 2, (_FIRST_ROW, _towards(facts.bowl_c, bowl_target_c, fahrenheit=is_f))
    if ready := _ready(view, frame):
        yield 2, ("Ready", ready)
    dip = may_dip(facts)
    if dip is not None:
        why = "" if dip.sentence in told.sentence else printable(dip.sentence)
        yield 3, ("Dip?", f"{dip.word}. {why}".rstrip())
    if verdict := verdict_text(facts):
        yield 4, ("Temper", verdict)
    if works := works_text(facts):
        yield 3, ("Stays", f"in temper for {works}")
    bath = _towards(facts.bath_c, bath_target_c, fahrenheit=is_f)
    yield 5, ("Bath", ", ".join(filter(None, (bath, heat_text(facts)))))
    yield 6, ("Phase", _phases(facts))
    if stirrer := _stirrer(facts):
        yield 7, ("Stirrer", stirrer)


def _towards(now_c: float | None, target_c: float | None, *, fahrenheit: bool) -> str:
    now = temperature_text(now_c, fahrenheit=fahrenheit)
    if target_c is None:
        return now
    return f"{now}, to be {temperature_text(target_c, fahrenheit=fahrenheit)}"


def _ready(view: View, frame: Frame) -> str:
    """How long still, and at what hour; of an old forecast the hour alone."""
    facts, left = view.facts, left_text(view.facts)
    is_there = left in {READY, NOT_READY} or (is_working(facts) and facts.remaining_s == 0.0)
    if left == OVER or is_there:  # whether it may be dipped says more
        return "now" if left == READY and may_dip(facts) is None else ""
    if facts.ready_at is None:
        return "" if left in NO_SPANS or not view.is_live else f"in {left}"
    hours = _hour(facts.ready_at, frame)
    if facts.ready_early is not None and facts.ready_late is not None:
        early, late = _hour(facts.ready_early, frame), _hour(facts.ready_late, frame)
        hours += f" ({early} to {late})"
    return f"in {left}, at {hours}" if view.is_live and left not in NO_SPANS else f"at {hours}"


def _hour(moment: datetime, frame: Frame) -> str:
    try:
        return f"{moment.astimezone(frame.zone):%H:%M}"
    except OverflowError:  # at an end of the calendar, where only a liar's moments are
        return "-"


def _phases(facts: Facts) -> str:
    """All of them, the present one in brackets, and how long it has lasted."""
    names = facts.phases or ((facts.phase,) if facts.phase else ())
    marked = " > ".join(f"[{one}]" if one == facts.phase else one for one in names)
    since = facts.phase_elapsed_s
    return marked if since is None else f"{marked}, since {span_text(since)}"


def _stirrer(facts: Facts) -> str:
    if facts.stirrer_on is None:
        return ""
    if not facts.stirrer_on:
        return "off"
    speed = "on" if facts.stirrer_rpm is None else f"{facts.stirrer_rpm:.0f} rpm"
    load = facts.stirrer_load_w
    return speed if load is None else f"{speed}, load {load:.1f} W"


def _that_fit(blocks: Iterable[_Block], rows: int) -> list[_Block]:
    """Without those of the highest rank until the rest fits; aired where there is room."""
    left = [block for block in blocks if block.lines]
    while sum(len(block.lines) for block in left) > rows:
        rank = max(block.rank for block in left)
        if rank == 0:
            break
        del left[max(at for at, block in enumerate(left) if block.rank == rank)]
    spare = rows - sum(len(block.lines) for block in left)
    aired: list[_Block] = []
    for block in left:
        if block.apart and spare > 0:
            aired.append(_Block(block.rank, (Line(""),)))
            spare -= 1
        aired.append(block)
    return aired
