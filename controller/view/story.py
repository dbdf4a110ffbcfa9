"""What a cook asks from across the room, answered: what is it doing, may I dip, how long still?

Responsible for one word, one sentence and how urgent it is; not for layout. What is not live is
never answered as if it were.
"""

from dataclasses import dataclass
from enum import StrEnum

from controller.core.profile import Verdict
from controller.core.scales import in_fahrenheit
from controller.core.state import Mode
from controller.core.tempering import Temper
from controller.view.board import Standing, View
from controller.view.facts import Facts
from controller.view.spans import age_text, span_text

_PERCENT = 100.0


_OVER = frozenset(
    {Mode.STOPPING, Mode.STOPPED, Mode.ABORTING, Mode.ABORTED, Mode.COMPLETE}
)  # nothing gets ready any more


class Tone(StrEnum):
    """How urgent it is, for colour and sign."""

    CALM = "calm"
    GOOD = "good"
    ASKS = "asks"
    CARE = "care"  # something to look after, and no danger
    ALARM = "alarm"
    OLD = "old"  # not live


@dataclass(frozen=True, slots=True, kw_only=True)
class Story:
    """Where the run stands."""

    word: str
    sentence: str
    tone: Tone


_DOING = {"melt": "Melting", "cool": "Cooling", "rewarm": "Warming", "hold": "Holding"}

_AT_REST = {
    Mode.IDLE: ("Idle", Tone.CALM),
    Mode.STOPPING: ("Stopping", Tone.CALM),
    Mode.STOPPED: ("Stopped", Tone.CALM),
    Mode.ABORTING: ("Ending early", Tone.CARE),
    Mode.ABORTED: ("Ended early", Tone.CARE),
    Mode.COMPLETE: ("Finished", Tone.GOOD),
    Mode.PAUSING: ("Pausing", Tone.CALM),
    Mode.PAUSED: ("Paused", Tone.CALM),
    Mode.RESUMING: ("Going on", Tone.CALM),
}


def story(view: View) -> Story:
    """Where the run stands: what is not live first, then a trip, an alarm, a question."""
    told = _not_live(view)
    if told is None:
        facts = view.facts
        told = _pressing(facts) or _at_rest(facts) or _crystals(facts) or _doing(facts)
    return told


def _not_live(view: View) -> Story | None:
    """What is to be said where nothing shown may be taken for the present."""
    facts, was = view.facts, _was(view)
    if view.standing is Standing.LIVE:
        return None
    if view.standing is Standing.NO_BROKER:
        word, text = "No broker", f"The broker can't be reached. {was} Look at the machine itself."
    elif view.standing is Standing.NO_MACHINE:
        word, text = "No machine", "The broker knows of no machine by this name; start a run."
    elif view.standing is Standing.LOST:
        word = "Machine lost"
        text = f"Its program or network went away without a word. {was} Go and look at it."
    elif view.standing is Standing.OFF:
        word, text = "Not running", f"No run goes on. The last one said: {facts.headline or '-'}"
    else:
        word, text = "Not live", f"The machine is silent. {was} Go and look at it."
    return Story(word=word, sentence=text, tone=Tone.OLD)


def _was(view: View) -> str:
    """How old what is shown is; the age itself is shown apart, for it changes all the time."""
    if view.facts.device_state is None:
        return "Nothing is known of the machine."
    if view.age_s is None:
        return "What is shown was kept by the broker, and nobody knows how old it is."
    return "What is shown is old."


def _pressing(facts: Facts) -> Story | None:
    """A trip, an alarm that holds heat back, a question, an alarm that nobody has answered."""
    if facts.tripped:
        text = facts.headline or "Heat is off. Look at the machine."
        return Story(word="Tripped", sentence=text, tone=Tone.ALARM)
    texts = [one.text for one in facts.alerts]
    if texts and facts.heat_permitted is False:
        return Story(word="Alarm", sentence=" ".join(texts), tone=Tone.ALARM)
    if facts.asked is not None:
        return Story(word="Your turn", sentence=facts.asked.text, tone=Tone.ASKS)
    if any(text in (facts.headline or "") for text in texts):
        return Story(word="Look here", sentence=facts.headline or "", tone=Tone.CARE)
    return None


def _at_rest(facts: Facts) -> Story | None:
    if facts.mode not in _AT_REST:
        return None
    word, tone = _AT_REST[facts.mode]
    if facts.mode is Mode.COMPLETE and facts.set_test is Verdict.NOT_IN_TEMPER:
        tone = Tone.CARE
    return Story(word=word, sentence=facts.headline or "", tone=tone)


def _crystals(facts: Facts) -> Story | None:
    """What a cook with something to dip wants to know, once it is at its working temperature."""
    if not is_working(facts):
        return None
    dip = may_dip(facts)
    if dip is None or dip.tone is Tone.CALM:
        return None
    if dip.word == "Yes" and facts.advice is not None:
        return Story(word="Ready", sentence=facts.advice, tone=Tone.CARE)
    words = {"Yes": "Ready", "Too thick": "Thickening"}
    return Story(word=words.get(dip.word, "Don't dip"), sentence=dip.sentence, tone=dip.tone)


def is_working(facts: Facts) -> bool:
    """Whether the run is in its last phase, where chocolate is worked with."""
    return bool(facts.phases) and facts.phase == facts.phases[-1]


def may_dip(facts: Facts) -> Story | None:
    """The answer to "may I dip?"; None where the profile tempers nothing.

    A set test of this run overrules the estimate where that says nothing else.
    """
    temper, why = facts.temper, facts.temper_why or ""
    if temper in {None, Temper.NONE}:
        return None
    if facts.set_test is Verdict.NOT_IN_TEMPER or temper in _SPOILT:
        word = "Too thick" if temper is Temper.OVER else "No"
        return Story(word=word, sentence=_mended(facts), tone=Tone.CARE)
    if not is_working(facts) or temper is Temper.NOT_YET:
        return Story(word="Not yet", sentence=why, tone=Tone.CALM)
    if facts.set_test is Verdict.IN_TEMPER:
        return Story(word="Yes", sentence=f"The set test was clean. {why}", tone=Tone.GOOD)
    is_good = temper is Temper.IN_TEMPER
    word, tone = ("Yes", Tone.GOOD) if is_good else ("Can't say", Tone.CALM)
    return Story(word=word, sentence=why, tone=tone)


_SPOILT = frozenset({Temper.OVER, Temper.UNDER, Temper.MELTED_OUT})
# Where the run advises nothing itself: common practice of the trade, no source.
_HELPS = {
    Temper.OVER: "Top it up with melted chocolate, and say so at the machine.",
    Temper.MELTED_OUT: "It wants seed, or to be cooled anew.",
}


def _mended(facts: Facts) -> str:
    """Why it is out of temper, and what helps."""
    why = facts.temper_why or "The set test failed."
    helps = facts.advice or _HELPS.get(facts.temper or Temper.NONE, "")
    return f"{why} {helps}".strip()


def _doing(facts: Facts) -> Story:
    phase = facts.phase or ""
    word = _DOING.get(phase, phase.capitalize()) or "No word yet"
    return Story(word=word, sentence=facts.headline or "", tone=Tone.CALM)


def temperature_text(temperature_c: float | None, *, fahrenheit: bool) -> str:
    """A temperature to the tenth with its scale; a dash where there is none."""
    if temperature_c is None:
        return "-"
    if fahrenheit:
        return f"{in_fahrenheit(temperature_c):.1f} °F"
    return f"{temperature_c:.1f} °C"


READY, OVER, NOT_KNOWN = "ready", "over", "not known"
NO_SPANS = frozenset({READY, OVER, NOT_KNOWN})


def left_text(facts: Facts) -> str:
    """The answer to "how long still?": "43 min", or one of `NO_SPANS`."""
    if facts.tripped or facts.mode in _OVER:
        return OVER
    if facts.remaining_s is None:
        return NOT_KNOWN
    if facts.remaining_s <= 0.0 and is_working(facts):
        return READY
    return span_text(facts.remaining_s)


def works_text(facts: Facts) -> str:
    """How long it stays in temper; empty where nobody knows, or where that is hours."""
    if facts.works_least_s is None:
        return ""
    least = span_text(facts.works_least_s)
    if facts.works_s is None:
        return f"{least} at least"
    return f"{span_text(facts.works_s)}, {least} at least"


_NOTHING_SAID = frozenset({None, Temper.NONE, Temper.UNKNOWN, Temper.NOT_YET})


def verdict_text(facts: Facts) -> str:
    """The verdict and how sure it is: "in temper, 92 % sure"; empty where there is none."""
    if facts.temper in _NOTHING_SAID:
        return ""
    sure = "" if facts.confidence is None else f", {facts.confidence * _PERCENT:.0f} % sure"
    return f"{str(facts.temper).replace('-', ' ')}{sure}"


def freshness_text(view: View) -> str:
    """How old what is shown is: "live", "12 s old", "of unknown age"."""
    if view.is_live:
        return "live"
    return "of unknown age" if view.age_s is None else f"{age_text(view.age_s)} old"
