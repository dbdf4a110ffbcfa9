"""The crystal laws that a bench can follow, by name.

Responsible for the choice only; not for any law.
"""

from collections.abc import Callable

from hardware.bench.crystals import Law, two_pools
from hardware.bench.nuclei import counted_nuclei

FIRST = "pools"
# Each from the shift in K by which the fat melts lower than dark chocolate's.
LAWS: dict[str, Callable[[float], Law]] = {FIRST: two_pools, "nuclei": counted_nuclei}


def law_named(name: str) -> Callable[[float], Law]:
    """The crystal law with this name.

    Raises:
        ValueError: No law has this name; the sentence lists those that there are.
    """
    if name not in LAWS:
        known = ", ".join(f'"{each}"' for each in LAWS)
        raise ValueError(f'The bench has no crystal law "{name}"; write one of {known}.')
    return LAWS[name]
