"""Putting a run together: machine to devices, daemon, journal and link.

Responsible for the door to its rooms: machines (which one is meant), attaching (its devices) and
running (the run itself). The only package that imports hardware.
"""

from controller.wiring.attaching import (
    Attached,
    Bench,
    attach,
    attach_bench,
    guarded,
    thermometers_of,
)
from controller.wiring.machines import machine_meant
from controller.wiring.running import (
    Order,
    Result,
    Starter,
    execute,
    identity,
    outcome_of,
)
from controller.wiring.self_watch import (
    SelfWatch,
    Sources,
    lateness_s,
    real_sources,
    refuse_unless_sound,
)
from hardware.bench.draws import NUMBER_MOST
from hardware.bench.faults import BY_WORD, BenchFault
from hardware.bench.faults import Size as FaultSize
from hardware.bench.upsets import Part
from hardware.linux.attach import persisting_outputs

__all__ = [
    "BY_WORD",
    "NUMBER_MOST",
    "Attached",
    "Bench",
    "BenchFault",
    "FaultSize",
    "Order",
    "Part",
    "Result",
    "SelfWatch",
    "Sources",
    "Starter",
    "attach",
    "attach_bench",
    "execute",
    "guarded",
    "identity",
    "lateness_s",
    "machine_meant",
    "outcome_of",
    "persisting_outputs",
    "real_sources",
    "refuse_unless_sound",
    "thermometers_of",
]
