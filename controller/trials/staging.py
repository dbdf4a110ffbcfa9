"""A run with faults: what is really in the bowl, and what stands around the run.

Responsible for putting script, clock, disk, memory and broker around an order; not for what any of
them does (bent), nor for how faults are written (faults).
"""

from collections.abc import Sequence
from dataclasses import replace

from controller.core.profile import Kind, Profile
from controller.core.records import replace as replaced
from controller.ports import Teller
from controller.trials.bent import (
    BentClock,
    BrokerSwitch,
    Disk,
    Flood,
    Memory,
    OnTrueTime,
    Stoppable,
)
from controller.trials.faults import FaultPlan, FaultScript
from controller.wiring import Bench, Order, Part, guarded

MISTAKEN_FOR = {
    Kind.DARK: Kind.MILK,
    Kind.MILK: Kind.DARK,
    Kind.WHITE: Kind.DARK,
    Kind.COMPOUND: Kind.DARK,
    Kind.WATER: Kind.DARK,
}
TIMES = {Part.CLOCK, Part.SLEEP}
OF_THE_CLOCK = TIMES | {Part.TICK, Part.COMPUTER}


def really_in_bowl(plans: Sequence[FaultPlan], profile: Profile) -> tuple[Profile, float]:
    """What the cook's mistakes in filling make of it: what to tell a bench, and how much is in.

    The profile with what is really in the bowl, and its amount as a share of what should be.
    """
    filled = 1.0
    for plan in plans:
        if Part.BATCH in plan.fault.acts:
            filled *= plan.by
    if any(Part.FILLING in plan.fault.acts for plan in plans):
        profile = replaced(profile, kind=MISTAKEN_FOR[profile.kind])
    return profile, filled


def staged(
    order: Order, bench: Bench, plans: Sequence[FaultPlan], *, broker: Stoppable | None = None
) -> Order:
    """The same order with these faults in it; without any it is `order` itself.

    Args:
        order: a run on `bench`.
        bench: the bench itself.
        plans: the faults.
        broker: the broker that the run publishes at, if it may be stopped.
    """
    if not plans:
        return order
    parts = {part for plan in plans for part in plan.fault.acts}
    order = _telling(order, FaultScript(plans, bench))
    if parts & OF_THE_CLOCK:
        order = _at_a_bent_clock(order, bench, plans, is_off=bool(parts & TIMES))
    if Part.DISK in parts:
        disk = Disk(bench)
        order = replace(_telling(order, disk), keeper=disk.open)
    if Part.MEMORY in parts:
        machine = replaced(order.machine)
        order = replace(_telling(order, Memory(bench, machine)), machine=machine)
    if Part.BROKER in parts and broker is not None:
        order = _telling(order, BrokerSwitch(bench, broker))
    if Part.INBOX in parts:
        order = replace(order, panels=(*order.panels, Flood(bench)))
    return order


def _telling(order: Order, teller: Teller) -> Order:
    return replace(order, tellers=(*order.tellers, teller))


def _at_a_bent_clock(
    order: Order, bench: Bench, plans: Sequence[FaultPlan], *, is_off: bool
) -> Order:
    """At a clock that does as the bench says; one that is off must not move the bench."""
    dark_s = max(
        (plan.lasts_s or 0.0 for plan in plans if Part.COMPUTER in plan.fault.acts), default=0.0
    )
    clock = BentClock(order.clock, bench, dark_s=dark_s)
    attached = order.attached
    if is_off:
        attached = guarded(OnTrueTime(bench, clock.other_s), order.machine)
        if not order.attached.panels:  # a person answers instead of the bench's cook
            attached = replace(attached, panels=())
    return replace(order, clock=clock, attached=attached)
