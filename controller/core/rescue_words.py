"""A rescue in plain words: what to do step by step, and why.

Responsible for sentences; not for what is proposed (rescuing).
"""

import math

from controller.core.actions import Act, Do, Done, Ending
from controller.core.mishaps import Window
from controller.core.rescuing import SURE
from controller.core.tempering import LEAST_V, MOST_V
from controller.core.words import mass_text, shown_temperature

_S_PER_MIN = 60.0
_PERCENT = 100.0
_STEP_K = 0.5
_F_PER_K = 1.8
_LEAST_SWAP_KG = 0.1
_LEAST_WAY_K = 0.4  # a shorter way is not worth a line
LATER = (
    "Then make a set test: it is the judge. If it is streaked or stays soft, melt all of it and "
    "temper it again."
)
_TITLES = {
    Act.WAIT: "Wait",
    Act.WARM: "Warm it in small steps, then back",
    Act.COOL: "Cool it and warm it again",
    Act.SEED: "Add seed",
    Act.TOP_UP: "Top it up with melted chocolate",
    Act.MELT: "Melt all of it and temper it again",
    Act.MELT_SEED: "Melt all of it and temper it with seed",
}


def minutes_text(span_s: float) -> str:
    """A time as a cook says it, such as "12 min"."""
    if not math.isfinite(span_s):
        return "longer than anybody waits"
    return f"{max(1, round(span_s / _S_PER_MIN))} min"


def crystals_text(form_v: tuple[float, float, float]) -> str:
    """What is believed of form V, as one sentence."""
    low, middle, high = (f"{_PERCENT * value:.1f}" for value in form_v)
    return (
        f"Form V is about {middle} % of the fat ({low} to {high}; "
        f"{_PERCENT * LEAST_V:g} to {_PERCENT * MOST_V:g} is in temper)."
    )


def title(ending: Ending) -> str:
    """The action with what it costs, such as "Add seed (12 min, 15 g)"."""
    if ending.action.act is Act.WAIT and not _waits(ending):
        return "Go on working"
    if ending.action.act is Act.WAIT and not ending.action.moves[-1].span_s:
        return f"Bring it back to its working temperature ({minutes_text(ending.takes_s)})"
    costs = [minutes_text(ending.takes_s)]
    if ending.added_kg > 0.0:
        costs.append(mass_text(ending.added_kg))
    return f"{_TITLES[ending.action.act]} ({', '.join(costs)})"


def _waits(ending: Ending) -> bool:
    return ending.takes_s >= _S_PER_MIN


def steps_text(
    ending: Ending, window: Window, *, water_c: float, fahrenheit: bool = False
) -> tuple[str, ...]:
    """What to do, one sentence a step; cold water is of `water_c`, for which it was reckoned."""
    lines: list[str] = []
    for step in ending.steps:
        line = _step_text(step, window, water_c, fahrenheit=fahrenheit)
        if line:
            lines.append(line)
    return tuple(lines)


def _step_text(step: Done, window: Window, water_c: float, *, fahrenheit: bool) -> str:
    move = step.move
    match move.do:
        case Do.LEAD:
            return _way_text(step, water_c, fahrenheit=fahrenheit)
        case Do.KEEP:
            return (
                f"Keep it there, stirring, for {minutes_text(step.takes_s)}." if move.span_s else ""
            )
        case Do.SEED:
            most = shown_temperature(window.seed_c, fahrenheit=fahrenheit)
            return (
                f"With the bowl at {most} or below, add {mass_text(step.added_kg)} of finely "
                f"chopped, well-tempered chocolate ({_PERCENT * move.share:.2g} % of the bowl)."
            )
        case Do.POUR:
            at = shown_temperature(move.temp_c, fahrenheit=fahrenheit)
            mass = mass_text(step.added_kg)
            return f"Pour in {mass} of melted chocolate of {at}, stirring."


def _way_text(step: Done, water_c: float, *, fahrenheit: bool) -> str:
    to_c = step.move.temp_c
    to = shown_temperature(to_c, fahrenheit=fahrenheit)
    if abs(to_c - step.from_c) < _LEAST_WAY_K and step.swapped_kg < _LEAST_SWAP_KG:
        return ""
    if to_c > step.from_c:
        by = f"{_STEP_K * _F_PER_K:.1f} °F" if fahrenheit else f"{_STEP_K:g} K"
        small = f" in steps of {by}" if to_c - step.from_c > _STEP_K and to_c < _HOT_C else ""
        soft = " once it is soft" if step.from_c < _SOFT_C and to_c >= _HOT_C else ""
        return f"Warm the bowl{small} to {to}, stirring{soft}."
    if step.swapped_kg >= _LEAST_SWAP_KG:
        cold = shown_temperature(water_c, fahrenheit=fahrenheit)
        mass = mass_text(round(step.swapped_kg, 1))
        return (
            f"Swap {mass} of the bath's water for cold water at {cold}, and let the bowl come down "
            f"to {to}, stirring; dry its rim."
        )
    return f"Let the bowl come down to {to}, stirring."


_SOFT_C = 26.0  # own engineering value: colder, it may have set
_HOT_C = 38.0  # on the way to a melt nothing is left to be careful with


def why_text(ending: Ending, found: tuple[Ending, ...]) -> str:
    """Why this one: what it ends in, and what the next would cost."""
    low, middle, high = (f"{_PERCENT * value:.1f}" for value in ending.form_v)
    sure = "and so very likely" if ending.confidence >= SURE else "more likely than not"
    text = f"It ends with about {middle} % of the fat in form V ({low} to {high}), {sure} in temper"
    if ending.action.act in {Act.MELT, Act.MELT_SEED}:
        gentler = [one for one in found if one.action.act not in {Act.MELT, Act.MELT_SEED}]
        best = max(gentler, key=lambda one: one.confidence, default=None)
        if best is None:
            return f"{text}; nothing gentler helps a batch that has set."
        gentle = _TITLES[best.action.act]
        return (
            f"{text}; the best without melting ({gentle[0].lower()}{gentle[1:]}, "
            f"{minutes_text(best.takes_s)}) is less sure."
        )
    melts = [one for one in found if one.action.act in {Act.MELT, Act.MELT_SEED}]
    least_s = min((one.takes_s for one in melts), default=math.inf)
    if math.isfinite(least_s):
        text += f"; melting all of it would take {minutes_text(least_s)}"
    return f"{text}."
