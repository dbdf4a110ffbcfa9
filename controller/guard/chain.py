"""The safety chain as a table, from which the documents draw it.

Responsible for what stands between a mistake and the heat; not for any of it.
"""

from typing import NamedTuple


class Link(NamedTuple):
    """One wall of the chain: who holds it, what it does, what it may open."""

    node: str
    holds: str
    opens: str


CHAIN: tuple[Link, ...] = (
    Link("controller", "interlocks, each tick", "asks for no heat"),
    Link("guard", "lease, own thermometer, caps, latch", "drops both switches"),
    Link("service manager", "watchdog on guard and controller", "kills, drives the line off"),
    Link("hardware watchdog", "resets a board that hangs", "line falls to its pull"),
    Link("thermal cut-out", "on the tank, reset by hand", "cuts the mains"),
    Link("thermal fuse", "on the element", "cuts the mains for good"),
    Link("residual-current device", "30 mA or less", "cuts the mains"),
)
SOFTWARE = 3  # the first links are software; from there on it must be hardware


def diagram() -> str:
    """The chain as a Mermaid flow chart, heat passing from the top to the element."""
    lines = ["flowchart TD", "    person([a person starts the run]) --> n0"]
    for index, link in enumerate(CHAIN):
        kind = "software" if index < SOFTWARE else "hardware"
        lines.append(f'    n{index}["{link.node} ({kind}): {link.holds}"]')
        after = f"n{index + 1}" if index + 1 < len(CHAIN) else "element([heating element])"
        lines.append(f"    n{index} -->|or else: {link.opens}| {after}")
    return "\n".join(lines)
