"""Advice on parts, from what a machine is to do: put together from heater, relay, probe, cut-out.

Responsible for what is told, what is assumed, and the figures; not for their words (parts_sheet).
"""

from collections.abc import Mapping

from msgspec import Struct

from controller.core.hold import WEARS_FROM_S
from controller.core.machine import MAINS_V, Machine
from controller.core.profile import Kind, Profile
from controller.core.records import replace
from controller.planning.air import boiling_c, standard_hpa
from controller.planning.cut_out import CUT_OUT_K, cut_out_c, scald_s
from controller.planning.heater import SIZES_W, Heater, chosen, heater, pot_for
from controller.planning.probe_budget import Budget, ProbeKind, budget_at, probe_kind
from controller.planning.quantities import ALTITUDE, BATCH, ROOM, Quantity, quoted, read
from controller.planning.relay_life import ENDURANCE_CYCLES, batch_cycles

SCALARS = (
    *("chocolate", "batch", "mains", "heater", "water", "probe", "relay", "shortest"),
    *("endurance", "hold", "room", "altitude"),
)
SOLID_STATE, MECHANICAL = "solid-state", "mechanical"
# Shortest times as a machine file takes them where it says nothing (files/machine_shape.py).
SHORTEST_S = {SOLID_STATE: 2.0, MECHANICAL: 8.0}
# What is sane: own engineering values, not published.
_VOLTS = {"V": (0.0, 1.0)}
_WATTS = {"W": (0.0, 1.0), "kW": (0.0, 1000.0)}
_SECONDS = {"s": (0.0, 1.0), "min": (0.0, 60.0)}
_HOURS = {"h": (0.0, 3600.0), "min": (0.0, 60.0)}
MAINS = Quantity(
    units=_VOLTS,
    low=100.0,
    high=250.0,
    example="230 V",
    bare="V",
    advice="this page is about mains, and for another supply ask whoever plans it",
)
POWER = Quantity(units=_WATTS, low=50.0, high=3500.0, example="500 W", bare="W")
WATER = Quantity(
    units={"kg": (0.0, 1.0), "l": (0.0, 1.0), "g": (0.0, 1e-3)}, low=0.3, high=50.0, example="3 kg"
)
SHORTEST = Quantity(units=_SECONDS, low=0.5, high=60.0, example="8 s")
HOLD = Quantity(units=_HOURS, low=0.1, high=24.0, example="2 h")
ENDURANCE = Quantity(
    units={"": (0.0, 1.0)}, low=1000.0, high=1e8, example=str(ENDURANCE_CYCLES), bare=""
)
HOLD_S = 2.0 * 3600.0  # a batch is held so long unless told otherwise: own engineering value


class Order(Struct, frozen=True, kw_only=True):
    """What the machine is to do, every word read."""

    kind: Kind
    machine: Machine  # with this batch, pot, mains and relay
    asked_w: float | None  # a heater that is there already
    probe: ProbeKind
    relay: str
    endurance: float
    hold_s: float
    altitude_m: float
    assumed: tuple[str, ...]


class Parts(Struct, frozen=True, kw_only=True):
    """All figures."""

    order: Order
    sizes: tuple[Heater, ...]
    heater: Heater | None  # None: none of the usual sizes will do
    cycles: float  # of the first switch, in one batch
    budget: Budget
    work_c: float
    boils_c: float
    cut_out_c: float
    cut_out_most_c: float
    scald_bath_s: float  # water at the machine's limit
    scald_cut_out_s: float  # and at the most that the cut-out lets through


def order_of(told: Mapping[str, str], machine: Machine, *, is_own: bool) -> Order:
    """Read every word; `machine` is the base, and `is_own` that its file is the maker's.

    Raises:
        ValueError: a word makes no sense; the sentence begins with its key.
    """
    kind = _kind(told.get("chocolate", str(Kind.DARK)))
    assumed = list[str]()
    relay = _relay(
        told.get("relay", SOLID_STATE if machine.min_on_s < WEARS_FROM_S else MECHANICAL)
    )
    if "batch" in told or not is_own:
        if "batch" not in told:
            raise ValueError('batch: how much chocolate is it to hold? Write --batch "1.5 kg"')
        batch_kg = _value("batch", told["batch"], BATCH)
        machine = replace(machine, batch_kg=batch_kg)
        if not is_own:
            water_kg, vessel, loss = pot_for(batch_kg)
            machine = replace(machine, water_kg=water_kg, vessel_j_per_k=vessel, loss_w_per_k=loss)
            assumed.append("a usual pot for it")
    if "water" in told:
        machine = replace(machine, water_kg=_value("water", told["water"], WATER))
    if "room" in told:
        machine = replace(machine, room_c=_value("room", told["room"], ROOM))
    shortest_s = _shortest_s(told, machine, relay, is_own=is_own)
    mains_v = _mains_v(told, machine, assumed, is_own=is_own)
    machine = replace(machine, mains_v=mains_v, min_on_s=shortest_s, min_off_s=shortest_s)
    asked_w = machine.heater_w if is_own else None
    if "heater" in told:
        asked_w = _value("heater", told["heater"], POWER)
    return Order(
        kind=kind,
        machine=machine,
        asked_w=asked_w,
        probe=_probe(told, assumed),
        relay=relay,
        endurance=_value("endurance", told.get("endurance", str(ENDURANCE_CYCLES)), ENDURANCE),
        hold_s=_value("hold", told["hold"], HOLD) if "hold" in told else HOLD_S,
        altitude_m=_value("altitude", told.get("altitude", "0 m"), ALTITUDE),
        assumed=tuple(assumed),
    )


def parts_for(order: Order, profile: Profile) -> Parts:
    """Everything; the profile is the kind's own."""
    machine = order.machine
    boils_c = boiling_c(standard_hpa(order.altitude_m))
    sizes = tuple(heater(power_w, machine, profile, boils_c) for power_w in SIZES_W)
    best = chosen(sizes)
    if order.asked_w is not None:
        best = heater(order.asked_w, machine, profile, boils_c)
    work_c = profile.phases[-1].bowl_target_c
    nominal_c = cut_out_c(machine.bath_max_c)
    shortest_s = max(machine.min_on_s, machine.period_s)
    return Parts(
        order=order,
        sizes=sizes,
        heater=best,
        cycles=0.0 if best is None else batch_cycles(best, profile, shortest_s, order.hold_s),
        budget=budget_at(order.probe, work_c),
        work_c=work_c,
        boils_c=boils_c,
        cut_out_c=nominal_c,
        cut_out_most_c=nominal_c + CUT_OUT_K,
        scald_bath_s=scald_s(machine.bath_max_c),
        scald_cut_out_s=scald_s(nominal_c + CUT_OUT_K),
    )


def _value(key: str, text: str, quantity: Quantity) -> float:
    try:
        return read(text, quantity)
    except ValueError as error:
        raise ValueError(f"{key}: {error}") from None


def _kind(text: str) -> Kind:
    known = {str(kind): kind for kind in (Kind.DARK, Kind.MILK, Kind.WHITE)}
    if text not in known:
        raise ValueError(f"chocolate: {quoted(text)} is no kind; write dark, milk or white")
    return known[text]


def _relay(text: str) -> str:
    if text not in SHORTEST_S:
        raise ValueError(f"relay: {quoted(text)} is no kind; write solid-state or mechanical")
    return text


def _shortest_s(told: Mapping[str, str], machine: Machine, relay: str, *, is_own: bool) -> float:
    if "shortest" in told:
        return _value("shortest", told["shortest"], SHORTEST)
    if is_own and "relay" not in told:
        return max(machine.min_on_s, machine.min_off_s)
    return SHORTEST_S[relay]


def _mains_v(
    told: Mapping[str, str], machine: Machine, assumed: list[str], *, is_own: bool
) -> float:
    if "mains" in told:
        return _value("mains", told["mains"], MAINS)
    if is_own:
        return machine.mains_v
    assumed.append(f"mains of {MAINS_V:g} V")
    return MAINS_V


def _probe(told: Mapping[str, str], assumed: list[str]) -> ProbeKind:
    if "probe" not in told:
        assumed.append("1-wire thermometers")
    try:
        return probe_kind(told.get("probe", "1-wire"))
    except ValueError as error:
        raise ValueError(f"probe: {error}") from None
