"""The batch page: one HTML file that tells a batch to whoever was not there.

Responsible for what stands where, and for escaping it; not for sentences (story), the drawing
(curve) or the look (style). The file needs nothing from outside, not even a font.
"""

import re
from collections.abc import Iterable
from datetime import timedelta
from html import escape

from controller.book.besides import besides
from controller.book.curve import NARROW, WIDE, Scene, curve
from controller.book.finishing import Room, ended_of, steps
from controller.book.label import break_text, label_html
from controller.book.listing import BLOOM_LOOK_S
from controller.book.notes import Bloom, Gloss, Notes, SetTest, Snap
from controller.book.story import Told, sentences, test_sentences
from controller.book.style import STYLE
from controller.core.profile import Kind
from controller.core.scales import retold
from controller.core.words import mass_text, shown_temperature
from controller.journal.records import TEMPER_JUDGED
from controller.report.words import clock_text, duration_text, span_text

ROOM_C = 20.0  # where the record does not tell: a kitchen
KEY = (
    ("bowl", "the bowl, with the chocolate in it"),
    ("bath", "the water bath around it"),
    ("wanted", "where the bowl was to be"),
)
LINES = 3  # to write on
_WORDS = re.compile(r">[^<]+<")  # between tags
_UNIT = re.compile(r"(?<=\d) (?=(?:g|kg|kWh|W|K|h|min|s|mm|%|°[CF])(?![a-z]))")  # stays beside it
FORM_V = (
    "Form V is the kind of cocoa butter crystal that makes chocolate shine and snap. Too little of "
    "it, and pieces turn grey and soft; too much, and the chocolate is thick and sets dull."
)
SIMULATED = "Simulated on the bench: no chocolate was made."


def page(told: Told, room: Room | None = None) -> str:
    """The whole file, UTF-8; the room is the one noted if none is told."""
    title = f"{told.chocolate.capitalize()}, {told.began:%d %B %Y}".replace(" 0", " ")
    parts = (
        _head(told, title),
        _short(told),
        _curve(told),
        _asked(told),
        _test(told),
        _afterwards(told),
        _next(told, room or room_of(told.notes)),
        _figures(told),
    )
    return _document(title, "".join(parts))


def room_of(notes: Notes) -> Room:
    """The room that was noted, or a kitchen of which nobody said how damp it is."""
    room_c = ROOM_C if notes.room_c is None else notes.room_c
    return Room(room_c=room_c, humidity=notes.humidity)


def label_page(told: Told) -> str:
    """The label alone, as a file to be printed."""
    broken = break_text(told.run)
    warned = f'<p class="warn">{escape(broken)}</p>' if broken else ""
    return _document(f"Label, {told.chocolate}", f"<h1>Label</h1>{warned}{label_html(told)}")


def _document(title: str, body: str) -> str:
    body = _WORDS.sub(lambda found: _UNIT.sub("\u00a0", found[0]), body)
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width,initial-scale=1">'
        '<meta http-equiv="Content-Security-Policy" content="default-src \'none\'; '
        "style-src 'unsafe-inline'\">"
        f"<title>{escape(title)}</title><style>{STYLE}</style></head>\n"
        f"<body><main>{body}</main></body></html>\n"
    )


def _is_simulated(told: Told) -> bool:
    closing = told.run.closing
    return closing is not None and closing.truth is not None


def _head(told: Told, title: str) -> str:
    summary = told.summary
    line = (
        f"{summary.profile_title}, {mass_text(summary.batch_kg)} on machine "
        f"{summary.machine_name}, begun at {told.began:%H:%M}"
    )
    made = f"<p>Made of it: {escape(told.notes.made)}.</p>" if told.notes.made else ""
    bench = f'<p class="warn">{SIMULATED}</p>' if _is_simulated(told) else ""
    return (
        f'<header><h1>{escape(title)}</h1><p class="quiet">{escape(line)}</p>{bench}{made}</header>'
    )


def _short(told: Told) -> str:
    first, *rest = sentences(told)
    traces = ", ".join(told.notes.traces)
    warned = (
        f'<p class="warn">May contain traces of {escape(traces)}, from the batch before.</p>'
        if traces
        else ""
    )
    is_food = told.summary.profile_kind != Kind.WATER
    holds = f"<p>Allergens: {escape(told.contains)}.</p>" if is_food else ""
    return (
        f'<p class="lead"><strong>{escape(first)}</strong></p>'
        f"<p>{escape(' '.join(rest))}</p>{holds}{warned}"
    )


def _curve(told: Told) -> str:
    scene = Scene(
        run=told.run,
        phases=told.summary.phases,
        asked=told.asked,
        fahrenheit=told.fahrenheit,
        summary=_in_words(told),
    )
    if not told.run.samples:
        return ""
    key = "".join(
        f'<li><svg viewBox="0 0 38 12" aria-hidden="true"><path class="{name}" fill="none"'
        f' d="M0 6H38"/></svg>{words}</li>'
        for name, words in KEY
    )
    numbers = " Numbers are the questions below." if told.asked else ""
    is_judged = any(note.name == TEMPER_JUDGED for note in told.run.events)
    green = " In the lowest bar green means in temper." if is_judged else ""
    return (
        '<h2>How it went</h2><figure><ul class="key">'
        f"{key}</ul>{curve(scene, WIDE)}{curve(scene, NARROW)}"
        "<figcaption>Along the foot hours and minutes since the start, which was at "
        f"{told.began:%H:%M}.{numbers}{green}</figcaption></figure>"
    )


def _in_words(told: Told) -> str:
    """The curve for who can't see it."""
    parts = [
        f"{phase.name} from {clock_text(phase.start_s)} for {duration_text(phase.duration_s)}, "
        f"bowl to {shown_temperature(phase.target_c, fahrenheit=told.fahrenheit)}"
        for phase in told.summary.phases
    ]
    return "Phases: " + "; ".join(parts) + "." if parts else "No phase was begun."


def _said(told: Told, text: str) -> str:
    """The record's own words, in the scale of the page."""
    return escape(retold(text, fahrenheit=told.fahrenheit))


def _asked(told: Told) -> str:
    items = []
    for one in told.asked:
        if one.took_s is None:
            answer = "not answered"
        else:
            word = str(one.choice).replace("-", " ")
            who = "" if one.by != "time" else ", taken for want of an answer,"
            when = f"after {duration_text(one.took_s)}" if one.took_s > 0.0 else "at once"
            answer = f"<strong>{escape(word)}</strong>{who} {when}"
        put = f"{told.clock(one.at_s)}, {escape(one.phase)}: {_said(told, one.text)}"
        items.append(f"<li>{put}<br>{answer}</li>")
    more = [
        f"<li>{told.clock(at_s)}: {_said(told, words)}</li>"
        for at_s, words in besides(told.run, fahrenheit=told.fahrenheit)
    ]
    told_of = f"<p>Between the questions:</p><ul>{''.join(more)}</ul>" if more else ""
    if not items and not more:
        return ""
    asked = f'<ol class="asked">{"".join(items)}</ol>' if items else ""
    return f"<h2>What was asked and done</h2>{asked}{told_of}"


def _test(told: Told) -> str:
    judged = told.summary.judged
    reckoned = ""
    if judged is not None and judged.why:
        reckoned = f'<p>{_said(told, judged.why)}</p><p class="quiet">{FORM_V}</p>'
    if not told.is_tempered and not reckoned:
        return ""
    said = "".join(f"<p>{escape(sentence)}</p>" for sentence in test_sentences(told))
    return f"<h2>Set test and temper</h2>{said}{reckoned}"


def _afterwards(told: Told) -> str:
    """What is noted of the pieces, as boxes: ticked, or to be ticked with a pencil."""
    if told.summary.profile_kind == Kind.WATER:
        return ""
    notes = told.notes
    later = told.began + timedelta(seconds=BLOOM_LOOK_S)
    on = f"{later:%d %B}".lstrip("0")
    boxes = (
        _boxes("Gloss", Gloss, notes.gloss),
        _boxes("Snap", Snap, notes.snap),
        _boxes(f"Bloom, looked for a week later (from {on})", Bloom, notes.bloom),
    )
    remarks = "".join(
        f"<li>{escape(one.at_utc[:10])}: {escape(one.text)}</li>" for one in notes.remarks
    )
    listed = f"<ul>{remarks}</ul>" if remarks else ""
    lines = '<div class="line"></div>' * LINES
    shelf = " --tries" if _is_simulated(told) else ""
    return (
        f'<section class="keep"><h2>How the pieces turned out</h2>{"".join(boxes)}{listed}'
        f'<p class="quiet">Room for notes, on paper or with '
        f"<code>bainward book note {escape(told.summary.run_id)} --remark TEXT{shelf}</code>:</p>"
        f"{lines}"
        "</section>"
    )


def _boxes(name: str, words: Iterable[SetTest | Gloss | Snap | Bloom], ticked: str | None) -> str:
    items = "".join(
        f'<li><span aria-hidden="true">{"✓" if word == ticked else ""}</span>'
        f"{word.replace('-', ' ')}{_noted(word == ticked)}</li>"
        for word in words
    )
    return f'<p><strong>{escape(name)}</strong></p><ul class="boxes">{items}</ul>'


def _noted(is_ticked: bool) -> str:
    return " <em>(noted)</em>" if is_ticked else ""


def _next(told: Told, room: Room) -> str:
    kind = told.notes.chocolate or told.summary.profile_kind
    found = steps(kind, room, ended_of(told.run), fahrenheit=told.fahrenheit)
    items = "".join(f"<dt>{escape(one.name)}</dt><dd>{escape(one.text)}</dd>" for one in found)
    label = "" if kind == Kind.WATER else f"<h2>Label</h2>{label_html(told)}"
    return f'<h2>Now</h2><dl class="steps">{items}</dl>{label}'


def _figures(told: Told) -> str:
    summary = told.summary
    over, ready_s = summary.working_overshoot_k, summary.ready_s
    rows = [
        *(
            (f"Phase {one.name}", _phase(told, one.start_s, one.duration_s))
            for one in summary.phases
        ),
        ("Ready", "never" if ready_s is None else f"after {duration_text(ready_s)}"),
        ("Lasted", duration_text(summary.lasted_s)),
        ("Most too warm", "" if over is None else span_text(over, fahrenheit=told.fahrenheit)),
        ("Heat", f"{summary.heat_asked_kwh:.3f} kWh asked of the heater"),
        ("Bath", f"{mass_text(told.run.header.water_kg)} of water"),
        ("Numbers from", told.run.header.profile_source),
        ("Run", f"{summary.run_id}, bainward {told.run.header.version}"),
    ]
    items = "".join(
        f"<dt>{escape(name)}</dt><dd>{escape(text)}</dd>" for name, text in rows if text
    )
    return f"<h2>Figures</h2><dl>{items}</dl>"


def _phase(told: Told, start_s: float, lasted_s: float) -> str:
    return f"from {told.clock(start_s)} for {duration_text(lasted_s)}"
