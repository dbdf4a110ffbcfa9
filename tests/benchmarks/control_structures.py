"""Machines whose structure differs from what control believes of any machine.

Responsible for in what they differ; not for running or judging them. They are drawn machines like
all others, with one thing more that no estimate of control's has a place for.
"""

from collections.abc import Callable, Mapping
from dataclasses import replace

from tests.benchmarks.control_runs import Subject

# Own engineering value, not published: a paddle that leaves the wall alone, and a millimetre of
# chocolate on it (as the bench's machine `small` has it, more of it).
FILM_SHARE = 0.05
# The same: a quarter of the water below the element, which mixes with the rest within minutes.
QUIET_SHARE = 0.25


def _film(one: Subject) -> Subject:
    """A film of chocolate on the bowl's wall that nothing scrapes off."""
    return replace(one, parameters=replace(one.parameters, scraped=0.0, film_share=FILM_SHARE))


def _layers(one: Subject) -> Subject:
    """A bath in two layers: part of the water lies below the element and hardly mixes."""
    return replace(one, parameters=replace(one.parameters, quiet_share=QUIET_SHARE))


def _nuclei(one: Subject) -> Subject:
    """Chocolate that crystallises by the bench's other law."""
    return replace(one, law="nuclei")


STRUCTURES: Mapping[str, Callable[[Subject], Subject]] = {
    "film": _film,
    "layers": _layers,
    "nuclei": _nuclei,
}
TITLES = {
    "film": "a wall film that nothing scrapes off",
    "layers": "a bath in two layers",
    "nuclei": "the other crystal law",
}


def structured(one: Subject, name: str) -> Subject:
    """The machine, built differently."""
    return STRUCTURES[name](one)
