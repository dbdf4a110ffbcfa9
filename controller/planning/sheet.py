"""The sheet: a plan on one page of plain text, to be pinned up beside the machine.

Responsible for its words and order; not for any figure on it (plan) or for the clock (commands).
"""

import math
from collections.abc import Callable, Iterator

from msgspec import Struct

from controller.core.outlook import LIMIT_S
from controller.core.scales import retold
from controller.core.words import mass_text, obstacle_text, shown_temperature
from controller.planning.amounts import Use
from controller.planning.lines import FIXED, INDENT, wrapped
from controller.planning.plan import DIP_S, SET_S, SHELL_S, TOP_UP_C, ColdWater, Plan
from controller.planning.room import SETS_LEAST_C, SETS_MOST_C, Remark, Weight

J_PER_KWH = 3.6e6
S_PER_MIN, MIN_PER_H = 60.0, 60
ALIKE_K = 0.5  # a tap this near to what is asked for will do
ALIKE_SHARE = 0.02
MUCH_MORE = 1.1  # than the machine's usual batch
MOST_SEED = 0.33  # 10 to 33 % of the batch: common practice, no source


class Hours(Struct, frozen=True, kw_only=True):
    """The hours on a local clock, as texts."""

    wish: str  # "done by 15:00"
    sure: str  # begin then, to keep it nine times in ten
    even: str  # and then, to keep it as often as not
    at: Callable[[float], str]  # run time of a batch that begins at the sure hour, s
    late: str = ""  # set where the sure hour is over: what can still be had


def sheet(
    plan: Plan, hours: Hours | None = None, *, fahrenheit: bool = False, profile: str = ""
) -> str:
    """All of it, with a newline at the end; `profile` is its file, where it is none that ships."""

    def shown(value_c: float) -> str:
        return shown_temperature(value_c, fahrenheit=fahrenheit)

    made = " and ".join(_made(use) for use in plan.wish.uses)
    fat = f" of {100.0 * plan.wish.fat:.0f} % fat" if plan.wish.fat is not None else ""
    of_what = f"{made}," if made else f"{mass_text(plan.batch_kg)} of"
    title = f"Plan: {of_what} {plan.wish.kind} chocolate{fat}"
    parts = [
        ("Chocolate", _chocolate(plan)),
        ("Seed", _seed(plan, shown)),
        ("Bath", _bath(plan, shown)),
        ("Hours", _hours(plan, hours, fahrenheit=fahrenheit)),
        ("Heat", _heat(plan)),
        ("Room", _room(plan, shown)),
        ("Run", (retold(one, fahrenheit=fahrenheit) for one in _run(plan, profile))),
    ]
    lines = [*wrapped(title + _by(hours)), ""]
    for name, sentences in parts:
        label = name
        for sentence in sentences:
            lines += wrapped(sentence, f"{label:{INDENT}}")
            label = ""
    return "\n".join(lines) + "\n"


def _by(hours: Hours | None) -> str:
    return f", {hours.wish}" if hours is not None else ""


def _made(use: Use) -> str:
    if use.is_shell:
        return f"{use.count} x {use.name}" if use.count > 1 else use.name
    return f"{use.count} {use.name}"


def _span(seconds: float) -> str:
    hours, minutes = divmod(round(seconds / S_PER_MIN), MIN_PER_H)
    return f"{hours} h {minutes:02} min" if hours else f"{minutes} min"


def _chocolate(plan: Plan) -> Iterator[str]:
    yield f"{mass_text(plan.batch_kg)} in all, seed included."
    for use in plan.wish.uses:
        if use.is_shell:
            yield (
                f"{_made(use)}: {mass_text(use.needs_kg)} in the bowl to fill and pour out, of "
                f"which {mass_text(use.takes_kg)} stay in the mould."
            )
        else:
            left = mass_text(use.needs_kg - use.takes_kg)
            yield f"{_made(use)}: {mass_text(use.takes_kg)}, and {left} to dip the last one in."
    if plan.better:
        order = ", then ".join(_made(use) for use in plan.better)
        yield f"In another order {mass_text(plan.better_kg)} would do: {order}."
    elif len(plan.wish.uses) > 1:
        yield "In this order: what is poured out of a mould is used for the next."
    if plan.needed_kg > plan.batch_kg + 1e-9:
        yield (
            f"That is {mass_text(plan.needed_kg - plan.batch_kg)} too little for this: "
            f"{mass_text(plan.needed_kg)} are needed."
        )
    if plan.batch_kg > MUCH_MORE * plan.usual_kg:
        yield (
            f"The machine's own file has {mass_text(plan.usual_kg)}: see that it fits, or make it "
            f"in {math.ceil(plan.batch_kg / plan.usual_kg)} rounds and plan one of them."
        )


def _seed(plan: Plan, shown: Callable[[float], str]) -> Iterator[str]:
    asked = [
        f"{mass_text(one.mass_kg)} "
        + ("first" if one.bowl_c is None else f"with the bowl at {shown(one.bowl_c)} or below")
        for one in plan.portions
    ]
    if asked:
        yield (
            f"{', '.join(asked)}: finely chopped and well tempered, as the run will ask. Cold "
            "water does the rest of the cooling."
        )
    else:
        yield "None: this profile makes its crystals by cooling."
    seed = plan.seed
    yield (
        f"Without cold water, the bowl lifted out of the bath, it takes {mass_text(seed.all_kg)}: "
        f"{mass_text(seed.first_kg)} first (to about {shown(seed.after_first_c)}), the last "
        f"{mass_text(seed.late_kg)} with the bowl at {shown(seed.at_most_c)} or below, where part "
        "of it stays solid. All at once it may melt out. So much seed makes it thick."
    )
    if seed.all_kg > MOST_SEED * plan.batch_kg:
        yield (
            f"That is {100.0 * seed.all_kg / plan.batch_kg:.0f} % of the batch, more than is ever "
            "used: let the melt cool some way first, or take cooler seed."
        )


def _bath(plan: Plan, shown: Callable[[float], str]) -> Iterator[str]:
    vapour = mass_text(plan.course.vapour_kg) if math.isfinite(plan.course.vapour_kg) else "some"
    water = mass_text(plan.machine.water_kg)
    yield f"{water} of water; about {vapour} evaporate until it is ready."
    for cold in plan.cold:
        yield _cold(cold, plan, shown)
    yield (
        f"Topping up: at most {mass_text(plan.top_up_kg)} of melt at {shown(TOP_UP_C)} at a time, "
        "in a full bowl."
    )


def _cold(cold: ColdWater, plan: Plan, shown: Callable[[float], str]) -> str:
    tap_c, swap = plan.wish.tap_c, cold.swap
    about = "about " if swap.is_computed else ""
    text = (
        f"For {cold.phase} swap {about}{mass_text(swap.swap_kg)} for water at "
        f"{shown(swap.water_c)} (bath {shown(swap.bath_from_c)} to {shown(swap.bath_to_c)})"
    )
    if tap_c > swap.water_c + ALIKE_K:
        text += (
            f": {mass_text(swap.swap_kg - cold.ice_kg)} from the tap at {shown(tap_c)} and "
            f"{mass_text(cold.ice_kg)} of ice"
        )
    elif cold.by_tap_kg < (1.0 - ALIKE_SHARE) * swap.swap_kg:
        text += f"; {mass_text(cold.by_tap_kg)} of tap water at {shown(tap_c)} do the same"
    return f"{text}. The run works it out again as it asks." if swap.is_computed else f"{text}."


def _hours(plan: Plan, hours: Hours | None, *, fahrenheit: bool) -> Iterator[str]:
    course = plan.course
    if not math.isfinite(course.ready_s):
        why = obstacle_text(course.outlook, fahrenheit=fahrenheit)
        yield f"None can be told. {why}" if why else f"More than {LIMIT_S / 3600.0:.0f} h."
        return
    if hours is not None and hours.late:
        yield hours.late
    elif hours is not None:
        yield (
            f"Begin at {hours.sure} to be {hours.wish} nine times in ten (at {hours.even} it would "
            "be as often as not)."
        )
    reached = ", ".join(
        f"{leg.name} {_when(leg.reached_s, hours)}" for leg in course.legs if leg.bowl_to_c
    )
    yield f"Targets reached, likely: {reached}."
    yield (
        f"Ready after {_span(course.ready_s)}, nine times in ten within "
        f"{_span(course.ready_p90_s)}, each question answered within a minute or a few."
    )
    if plan.work_s:
        yield (
            f"Then {_span(plan.work_s)} of work and setting ({_hands(plan)}, "
            f"{SET_S / S_PER_MIN:.0f} min to set): done after {_span(plan.done_s)}."
        )
        if plan.work_s - SET_S > plan.profile.phases[-1].dwell_s:
            yield "That outlasts the profile's working time: have it longer when the run asks."


def _hands(plan: Plan) -> str:
    if plan.wish.work_s is not None:
        return f"{_span(plan.wish.work_s)} by your hands"
    dips = sum(use.count for use in plan.wish.uses if not use.is_shell)
    pours = sum(use.count for use in plan.wish.uses if use.is_shell)
    hands = [f"{dips} at {DIP_S:.0f} s"] * bool(dips)
    hands += [f"{pours} at {SHELL_S / S_PER_MIN:.0f} min"] * bool(pours)
    return " and ".join(hands)


def _when(run_s: float, hours: Hours | None) -> str:
    return f"after {_span(run_s)}" if hours is None else hours.at(run_s)


def _heat(plan: Plan) -> Iterator[str]:
    course = plan.course
    if not math.isfinite(course.ready_s):
        yield "Unknown, as the hours are."
        return
    all_j = course.heat_j + course.hold_w * plan.work_s
    yield (
        f"{course.heat_j / J_PER_KWH:.2f} kWh until it is ready, give or take a quarter, then "
        f"{course.hold_w:.0f} W"
        + (f": {all_j / J_PER_KWH:.2f} kWh in all." if plan.work_s else ".")
    )


def _room(plan: Plan, shown: Callable[[float], str]) -> Iterator[str]:
    wish, air = plan.wish, plan.air
    where = f" at {wish.altitude_m:.0f} m" if wish.altitude_m is not None else ""
    yield (
        f"{shown(wish.room_c)} and {100.0 * wish.humidity:.0f} %{where}: dew point "
        f"{shown(air.dew_c)}. Water boils at {shown(air.boils_c)}, for a two-point calibration."
    )
    if wish.assumed:
        yield f"Assumed, as it was not told: {', '.join(wish.assumed)}."
    cool_c, work_c = (
        min(phase.bowl_target_c for phase in plan.profile.phases),
        plan.profile.phases[-1].bowl_target_c,
    )
    words = {
        Remark.NOTHING_SETS: f"Not in this room: it is as warm as working temperature "
        f"({shown(work_c)}), where nothing can be held or set.",
        Remark.NEEDS_COLD_WATER: f"It won't cool to {shown(cool_c)} by waiting: cold water is a "
        "must.",
        Remark.TOO_WARM_TO_SET: f"Too warm to set well, which wants {shown(SETS_LEAST_C)} to "
        f"{shown(SETS_MOST_C)}: find a cooler place.",
        Remark.TOO_COLD_TO_WORK: f"Below {shown(SETS_LEAST_C)} chocolate sets on the tools: work "
        "fast, warm the moulds a little.",
        Remark.DAMP: "Damp: keep lids on and cover what has set, or it grows sticky.",
        Remark.MOULDS_SWEAT: f"Moulds, and a setting place, cooler than {shown(air.dry_from_c)} "
        "sweat in this air: warm moulds up and wipe them dry, set in drier air.",
        Remark.BATH_SWEATS: "After the swap pot and bowl's rim sweat: dry them, no drop may fall "
        "into the bowl.",
        Remark.TAP_SWEATS: "A jug of tap water sweats: don't carry it over the bowl.",
        Remark.FRIDGE_SWEATS: f"Out of the fridge ({shown(wish.fridge_c)}) pieces sweat: pack them "
        f"airtight in there, and open only when they have come to {shown(air.dry_from_c)}.",
        Remark.FIT: "Fit for the work.",
    }
    for remark in air.remarks:
        mark = "NO: " if air.weight(remark) is Weight.NO else ""
        yield mark + words[remark]


def _run(plan: Plan, profile: str) -> Iterator[str]:
    told = [f'batch = "{plan.batch_kg:.2f} kg"', f'room = "{plan.wish.room_c:.1f} C"']
    told.append(f'cold_water = "{plan.machine.cold_water_c:.1f} C"')
    lines = ", ".join(told).replace(" = ", f"{FIXED}={FIXED}")
    damp = f'--humidity{FIXED}"{100.0 * plan.wish.humidity:.0f}{FIXED}%"'
    yield (
        f"bainward run {profile or plan.profile.name} --machine FILE {damp}, with {lines} in that "
        f"file (machine {plan.machine.name})."
    )
