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
from controller.core.words import heat_held, heat_now, seen_by_guard
from controller.view.board import Standing, View
from controller.view.facts import Facts
from controller.view.spans import age_text, span_text

_PERCENT = 100.0


_BY_BUTTON = frozenset({Mode.STOPPING, Mode.STOPPED})
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
    """A trip, the stop button, an alarm that holds heat back, a question, an open alarm."""
    if facts.tripped:
        text = facts.headline or "Look at the machine."
        return Story(word="Tripped", sentence=text, tone=Tone.ALARM)
    if facts.stop_pressed and facts.mode in _BY_BUTTON:
        return Story(word="Stop button", sentence=facts.headline or "", tone=Tone.ALARM)
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
    if facts.mode is Mode.COMPLETE and is_spoilt(facts):
        tone = Tone.CARE
    return Story(word=word, sentence=facts.headline or "", tone=tone)


def _crystals(facts: Facts) -> Story | None:
    """What a cook with something to dip wants to know, once it is at its working temperature."""
    if not is_working(facts):
        return None
    dip = may_dip(facts)
    if dip is None or dip.tone is Tone.CALM:
        return None
    if dip.word == YES and facts.advice is not None:
        return Story(word="Ready", sentence=facts.advice, tone=Tone.CARE)
    words = {YES: "Ready", TOO_THICK: "Thickening"}
    return Story(word=words.get(dip.word, "Don't dip"), sentence=dip.sentence, tone=dip.tone)


def is_working(facts: Facts) -> bool:
    """Whether the run is in its last phase, where chocolate is worked with."""
    return bool(facts.phases) and facts.phase == facts.phases[-1]


YES, NO, TOO_THICK, NOT_YET, CANT_SAY = "Yes", "No", "Too thick", "Not yet", "Can't say"


def may_dip(facts: Facts) -> Story | None:
    """The answer to "may I dip?"; None where the profile tempers nothing, or the run is over.

    A set test of this run overrules the estimate where that says nothing else.
    """
    temper, why = facts.temper, facts.temper_why or ""
    if temper in {None, Temper.NONE} or is_over(facts):
        return None
    if is_spoilt(facts):
        word = TOO_THICK if temper is Temper.OVER else NO
        return Story(word=word, sentence=_mended(facts), tone=Tone.CARE)
    is_tested = facts.set_test is Verdict.IN_TEMPER
    is_on_its_way = (facts.remaining_s or 0.0) > 0.0 and not is_tested
    if not is_working(facts) or temper is Temper.NOT_YET or is_on_its_way:
        return Story(word=NOT_YET, sentence=why, tone=Tone.CALM)
    if is_tested:
        return Story(word=YES, sentence=f"The set test was clean. {why}", tone=Tone.GOOD)
    is_good = temper is Temper.IN_TEMPER
    word, tone = (YES, Tone.GOOD) if is_good else (CANT_SAY, Tone.CALM)
    return Story(word=word, sentence=why, tone=tone)


def is_over(facts: Facts) -> bool:
    """Whether heat is off for good, so that nothing gets ready any more, nor stays so."""
    return bool(facts.tripped) or facts.mode in _OVER


def is_at_rest(facts: Facts) -> bool:
    """Whether nothing is meant to be warm: before a run, and after it."""
    return is_over(facts) or facts.mode is Mode.IDLE


def is_spoilt(facts: Facts) -> bool:
    """Whether it is out of temper, by the set test or by the estimate."""
    return facts.set_test is Verdict.NOT_IN_TEMPER or facts.temper in _SPOILT


_SPOILT = frozenset({Temper.OVER, Temper.UNDER, Temper.MELTED_OUT})
# Where the run advises nothing itself: common practice of the trade, no source.
_HELPS = {
    Temper.OVER: "Top it up with melted chocolate, and say so at the machine.",
    Temper.UNDER: "It wants more seed, or to be cooled anew; then make a set test.",
    Temper.MELTED_OUT: "It wants seed, or to be cooled anew.",
}
_FAILED = {
    Temper.IN_TEMPER: "The set test failed. By now it seems in temper: make another first.",
    None: "The set test failed. It wants seed, or to be tempered anew; then make another.",
}


def _mended(facts: Facts) -> str:
    """Why it is out of temper, and what helps."""
    temper, advice = facts.temper, facts.advice
    if temper not in _SPOILT:
        failed = _FAILED.get(temper) or _FAILED[None]
        return f"The set test failed. {advice}" if advice else failed
    helps = advice or _HELPS.get(temper or Temper.NONE, "")
    return f"{facts.temper_why or ''} {helps}".strip()


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


def heat_text(facts: Facts) -> str:
    """What the heater does: "heat 73 %"; empty where nobody says."""
    told = [alert.cause for alert in facts.alerts]
    if is_at_rest(facts):
        seen = [seen_by_guard(alert.text) for alert in facts.alerts]
        return f"heat {heat_now((facts.trip_cause or '', *told, *seen))}"
    if facts.heat_permitted is False:
        return f"heat {heat_held(told)}"
    if not facts.duty:
        return "" if facts.duty is None else "no heat needed now"
    if facts.duty == 1.0 and facts.heater_on is False:  # as before a start's questions are answered
        return "heat is off for now"
    return f"heat {facts.duty * _PERCENT:.0f} %"


LID_OFF = "The lid is off: put it back on when your hands are out."


def remark(view: View) -> str:
    """What is to be done besides, which is no alarm; empty where that is nothing."""
    is_off = view.is_live and view.facts.lid_open and not is_over(view.facts)
    return LID_OFF if is_off else ""


READY, OVER, NOT_KNOWN, NOT_READY = "ready", "over", "not known", "not ready"
NO_SPANS = frozenset({READY, OVER, NOT_KNOWN, NOT_READY})


def left_text(facts: Facts) -> str:
    """The answer to "how long still?": "43 min", or one of `NO_SPANS`.

    It says "ready" where the answer to "may I dip?" is yes, or where nothing is tempered.
    """
    if is_over(facts):
        return OVER
    dip = may_dip(facts) if is_working(facts) else None
    if dip is not None and dip.tone is not Tone.CALM:
        return READY if dip.word == YES else NOT_READY
    if facts.remaining_s is None or facts.mode is Mode.IDLE:
        return NOT_KNOWN
    if facts.remaining_s > 0.0 or not is_working(facts):
        return span_text(facts.remaining_s)
    if dip is None:
        return READY
    return NOT_READY if dip.word == NOT_YET else NOT_KNOWN


def works_text(facts: Facts) -> str:
    """How long it stays in temper; empty where nobody knows, or where that is hours."""
    if facts.works_least_s is None or is_over(facts) or is_spoilt(facts):
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
    if facts.temper is Temper.IN_TEMPER and is_spoilt(facts):
        return "by the set test not in temper"
    sure = "" if facts.confidence is None else f", {facts.confidence * _PERCENT:.0f} % sure"
    return f"{str(facts.temper).replace('in-', 'in ').replace('-out', ' out')}{sure}"


def freshness_text(view: View) -> str:
    """How old what is shown is: "live", "12 s old", "of unknown age"."""
    if view.is_live:
        return "live"
    return "of unknown age" if view.age_s is None else f"{age_text(view.age_s)} old"
