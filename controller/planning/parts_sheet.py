"""The page of `bainward parts`: what to look for in each part, and its danger beside it.

Responsible for words; not for any figure (parts). It names kinds of parts, never a make, and
leaves wires and fuses to local codes and to those who are licensed.
"""

import math
from collections.abc import Callable, Iterator

from controller.core.words import mass_text, shown_temperature
from controller.planning.heater import POTS, Heater, lacks_of, water_kg_for
from controller.planning.lines import INDENT, wrapped
from controller.planning.parts import SOLID_STATE, Parts
from controller.planning.probe_budget import WINDOW_K, expanded_k, worst_k
from controller.planning.relay_life import DROP_V, FIT_BATCHES, S_PER_H, batches, switches_per_h

S_PER_MIN = 60.0
BEYOND = 1.5  # times the largest machine of the bench
SOME_MIN = 10.0  # shorter spans are told to a tenth
Shown = Callable[[float], str]

FIRST = (
    "DANGER: mains beside hot water. What follows says what to look for and no more. Your local "
    "electrical code comes before it, and mains work is for a person licensed to do it where the "
    "code asks for one. bainward is not certified; software is no protective device."
)


def parts_sheet(parts: Parts, *, fahrenheit: bool = False) -> str:
    """All of it, with a newline at the end."""

    def shown(value_c: float) -> str:
        return shown_temperature(value_c, fahrenheit=fahrenheit)

    order = parts.order
    title = (
        f"Parts for {mass_text(order.machine.batch_kg)} of {order.kind} chocolate on "
        f"{order.machine.mains_v:g} V"
    )
    rows = [
        ("First", [FIRST]),
        ("Pot", _pot(parts)),
        ("Heater", _heater(parts)),
        ("Stuck on", _stuck(parts, shown)),
        ("Switches", _switches(parts)),
        ("Cut-out", _cut_out(parts, shown)),
        ("Mains", _mains(parts)),
        ("Probes", _probes(parts, shown)),
        ("Stirrer", STIRRER),
        ("Next", NEXT),
    ]
    lines = [*wrapped(title), ""]
    for name, sentences in rows:
        label = name
        for sentence in sentences:
            lines += wrapped(sentence, f"{label:{INDENT}}")
            label = ""
    return "\n".join([*lines, "", *_table(parts)]) + "\n"


NEXT = ("hardware/README.md says how to go on. For its machine file, to be measured later:",)
STIRRER = (
    (
        "A geared low-voltage motor that a hand can stop, its lid switch in series, a stop button "
        "in reach; shaft pulses, or nobody sees it stand."
    ),
    "DANGER: it starts by itself while a run goes on. Keep fingers, hair and sleeves away.",
)


def _pot(parts: Parts) -> Iterator[str]:
    machine = parts.order.machine
    yield (
        f"{mass_text(machine.water_kg)} of water, vessel and bowl {machine.vessel_j_per_k:.0f} J/K,"
        f" losing {machine.loss_w_per_k:.1f} W/K with its lid on."
    )
    if machine.batch_kg > BEYOND * POTS[-1][0]:
        yield (
            f"Much larger than any machine that the figures were tried on "
            f"({mass_text(POTS[-1][0])}): take them for guesses, or plan rounds."
        )
    if parts.order.assumed:
        yield f"Assumed, as it was not told: {', '.join(parts.order.assumed)}."


def _heater(parts: Parts) -> Iterator[str]:
    one = parts.heater
    if one is None:
        yield _none_fits(parts)
        return
    if math.isinf(one.melts_s):
        yield f"{one.power_w:g} W: it never melts this batch; take more power, or a smaller pot."
    else:
        yield (
            f"{one.power_w:g} W: melts in about {_span(one.melts_s)}, nine times in ten within "
            f"{_span(one.melts_p90_s)}; holds with {100.0 * one.hold_duty:.0f} % of its power."
        )
    others = [size for size in parts.sizes if size.power_w != one.power_w and _is_near(size, one)]
    if others:
        beside = ", ".join(f"{size.power_w:g} W {_melt(size)}" for size in others)
        yield (
            f"Beside it, {beside}. More power soon helps little, since the bowl's wall is slow, "
            "and leaves less time when something sticks."
        )
    for lack in lacks_of(one):
        yield f"NO: it {lack}." if not lack.startswith("one") else f"NO: {_pulse(parts, one)}"


def _none_fits(parts: Parts) -> str:
    lacking = {why for size in parts.sizes for why in lacks_of(size)}
    return (
        "NO: none of the usual sizes melts and holds this batch from one socket: make it in "
        f"rounds, or plan it with somebody licensed (reasons: {'; '.join(sorted(lacking)[:3])})."
    )


def _pulse(parts: Parts, one: Heater) -> str:
    machine = parts.order.machine
    return (
        f"one pulse of {machine.min_on_s:g} s warms the bath by {one.pulse_k:.1f} K, too coarse to "
        f"hold; take {water_kg_for(one.power_w, machine):.1f} kg of water, a smaller heater or "
        "shorter pulses."
    )


def _stuck(parts: Parts, shown: Shown) -> Iterator[str]:
    one = parts.heater
    if one is None:
        return
    spoils, boils = one.stuck.spoils_s, one.stuck.boils_s
    if math.isfinite(spoils):
        yield (
            f"With one switch welded while it holds, the good crystals melt after about "
            f"{_span(spoils)}: a second switch that the guard can open saves the batch."
        )
    end = f"boils after {_span(boils)}" if math.isfinite(boils) else "comes near to boiling"
    yield f"With nothing else to stop it the bath {end} (at {shown(parts.boils_c)})."
    yield (
        f"DANGER: fire. A pot without water warms by {one.dry_k_per_min:.0f} K a minute, and its "
        "element far faster: a thermal fuse ON THE ELEMENT, and a level switch in series."
    )


def _switches(parts: Parts) -> Iterator[str]:
    order, one = parts.order, parts.heater
    yield (
        "Two in series, of different kinds, both on when driven high and pulled to off by a "
        "resistor: what makes one of them stick should not reach the other."
    )
    if one is None:
        return
    shortest_s = max(order.machine.min_on_s, order.machine.period_s)
    rate = switches_per_h(one.hold_duty, shortest_s)
    yield (
        f"The first, {order.relay}, with pulses of {shortest_s:g} s or more: about {rate:.0f} "
        f"switchings an hour while it holds, {_cycles(parts.cycles)} on and off in a batch held "
        f"for {order.hold_s / S_PER_H:g} h."
    )
    if order.relay == SOLID_STATE:
        heat_w = DROP_V * one.draws_high_a
        yield (
            f"It wears by heat, not by switching: about {heat_w:.1f} W in it at full power, so a "
            "heat sink in free air, and a rating of several times the current. It fails closed: "
            "never alone."
        )
        yield (
            "The second, a relay or contactor with contacts: it switches without load but for a "
            "few tests a run, and so lasts."
        )
        return
    yield from _contacts(parts, order.endurance)


def _contacts(parts: Parts, endurance: float) -> Iterator[str]:
    lasts = batches(parts.cycles, endurance)
    verdict = (
        "write its first day beside it, and replace it before"
        if lasts >= FIT_BATCHES
        else f"fewer than {FIT_BATCHES}: take longer pulses (--shortest) or solid-state"
    )
    yield (
        f"With contacts for {endurance:g} cycles at this load (its data sheet's electrical "
        f"endurance) one such relay in ten has failed after {_cycles(lasts)} batches: {verdict}. "
        "It fails welded as well as open: never alone."
    )
    yield "The second, solid-state on a heat sink, or a relay of another kind and make."


def _cut_out(parts: Parts, shown: Shown) -> Iterator[str]:
    machine = parts.order.machine
    yield (
        f"{shown(parts.cut_out_c)}, on the tank, to be reset by hand only, its contact in series "
        f"with the element: above the machine's limit of {shown(machine.bath_max_c)} by what such "
        f"a thing errs, so that it opens by {shown(parts.cut_out_most_c)} at the latest."
    )
    yield (
        f"DANGER: scald. Water at {shown(machine.bath_max_c)} burns deeply in about "
        f"{_seconds(parts.scald_bath_s)}, at {shown(parts.cut_out_most_c)} in "
        f"{_seconds(parts.scald_cut_out_s)} or less: a lid, a base that can't tip, a cable nobody "
        "trips over. Never bypass a cut-out or set it higher."
    )


def _mains(parts: Parts) -> Iterator[str]:
    one = parts.heater
    if one is not None:
        yield (
            f"{one.draws_a:.1f} A, and {one.draws_high_a:.1f} A with the mains at their highest: "
            "fuse, plug, wire, both switches and cut-out are chosen by your code for that and for "
            "the fuse before them, not by this page."
        )
    yield (
        "Behind a residual-current device of 30 mA or less; metal earthed; both poles switched; "
        "wire for heat near the tank, held against pull, with a drip loop; the enclosure above the "
        "water line; board, probes and stirrer on isolated low voltage."
    )
    yield "DANGER: shock. Unplug before you touch water, wiring or stirrer."


def _probes(parts: Parts, shown: Shown) -> Iterator[str]:
    budget, name = parts.budget, parts.order.probe.name
    converter = f", its converter ±{budget.converter_k:.2f} K" if budget.converter_k else ""
    step = f", half a step {budget.step_k:.3f} K" if budget.step_k else ""
    yield (
        f"Three: bowl, bath, and the guard's own in the bath. {name[:1].upper()}{name[1:]}: "
        f"±{budget.sold_k:.2f} K at {shown(parts.work_c)} as sold{converter}{step}; its place "
        f"±{budget.place_k:.2f} K, the hold ±{budget.hold_k:.2f} K."
    )
    yield f"As sold: {_window(budget.bought)}. {_verdict(budget.bought, 'calibrate it')}"
    yield (
        f"Calibrated: {_window(budget.calibrated)}. "
        f"{_verdict(budget.calibrated, 'take a better one')}"
    )
    yield "DANGER: a probe out of the water reads cold, and heat goes on: fix it so it can't slip."


def _window(errors: tuple[float, ...]) -> str:
    return (
        f"±{expanded_k(errors):.2f} K nineteen times in twenty, ±{worst_k(errors):.2f} K at worst, "
        f"of a window of ±{WINDOW_K:g} K"
    )


def _verdict(errors: tuple[float, ...], advice: str) -> str:
    if worst_k(errors) <= WINDOW_K:
        return "That fits."
    if expanded_k(errors) <= WINDOW_K:
        return f"That mostly fits; to be sure, {advice}."
    return f"That does not fit: {advice} before you trust a batch to it."


def _table(parts: Parts) -> Iterator[str]:
    """For the machine file, as its lines."""
    machine, one = parts.order.machine, parts.heater
    yield "[bath]"
    yield f'water = "{machine.water_kg:.3g} kg"'
    yield f'vessel = "{machine.vessel_j_per_k:.0f} J/K"'
    yield f'loss = "{machine.loss_w_per_k:.1f} W/K"'
    if one is not None:
        yield f'heater = "{one.power_w:g} W"'
    yield f'mains = "{machine.mains_v:g} V"'
    yield ""
    yield "[bowl]"
    yield f'batch = "{machine.batch_kg:g} kg"'
    yield ""
    yield "[relay]"
    yield f'kind = "{parts.order.relay}"'
    yield f'min_on = "{machine.min_on_s:g} s"'
    yield f'min_off = "{machine.min_off_s:g} s"'


def _is_near(size: Heater, one: Heater) -> bool:
    return 0.4 * one.power_w <= size.power_w <= 2.5 * one.power_w and not lacks_of(size)


def _melt(size: Heater) -> str:
    return _span(size.melts_s)


def _span(seconds: float) -> str:
    if math.isinf(seconds):
        return "ever"
    minutes = seconds / S_PER_MIN
    if minutes < SOME_MIN:
        return f"{minutes:.1f} min"
    hours, rest = divmod(round(minutes), 60)
    return f"{hours} h {rest:02} min" if hours else f"{rest} min"


def _seconds(seconds: float) -> str:
    return "minutes" if math.isinf(seconds) else f"{seconds:.0f} s"


def _cycles(count: float) -> str:
    """To two digits: more would be a claim."""
    if count <= 0.0 or math.isinf(count):
        return "no"
    digits = max(0, math.floor(math.log10(count)) - 1)
    return f"{round(count, -digits):.0f}"
