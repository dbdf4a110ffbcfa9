"""A look of the interlocks at one tick's evidence, on a machine that has everything fitted."""

from controller.core.evidence import Evidence
from controller.core.interlocks import Judgement, judge
from controller.core.machine import Machine
from controller.core.profile import Profile
from tests.helpers.scene import machine, profile

FULL = machine(has_level=True, has_shaft=True, has_load=True, has_guard=True)
BARE = machine()
OWN = profile()  # waits 10 s for a lost probe


def look(
    given: Evidence,
    before: tuple[float, ...] = (),
    *,
    on: Machine = FULL,
    of: Profile = OWN,
    latched: frozenset[str] = frozenset(),
    dt_s: float = 1.0,
) -> Judgement:
    return judge(before, given, machine=on, profile=of, latched=latched, now_s=123.0, dt_s=dt_s)
