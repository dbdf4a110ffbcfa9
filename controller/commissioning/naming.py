"""Which thermometer is which: one is warmed in the hand, and the one that rises is named.

Responsible for seeing which it was and for what the machine file should say; not for opening
thermometers. Nothing is energised.
"""

import math
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, field
from statistics import median

from controller.commissioning.proofs import Step
from controller.commissioning.site import Site
from controller.errors import UnprovenError
from controller.ports import Quality, Sensor

# Own engineering values, not published.
EVERY_S = 1.0
SETTLE_S = 5  # readings whose median is where a thermometer begins
RISE_K = 2.0  # a hand of 33 °C warms a sleeve of 21 °C by that within seconds
ALIKE = 0.6  # what rises by this part of the most is the same thermometer by another name
CLEAR = 0.4  # and another one of the machine's must stay under this part
PATIENCE_S = 180.0
HAND_C, OVER_K = (
    28.0,
    4.0,
)  # as warm, and so much warmer than the machine's others, is one in a hand
HELD_S = 15.0  # without a rise, until somebody is told that it was in the hand before
WHERE = {
    "bath": "the thermometer that hangs in the bath",
    "bowl": "the thermometer that stands in the bowl",
    "guard": "the guard's own thermometer in the bath",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """A thermometer that can be read."""

    roles: tuple[str, ...]  # whose it is by the machine file: bath, bowl or guard; or nobody's
    where: str  # in a few words
    lines: str  # for the machine file
    sensor: Sensor


@dataclass(slots=True)
class _Rise:
    """How far one has risen."""

    seen: Seen
    began_c: float = math.nan  # the lowest since its turn began
    value_c: float = math.nan
    values: deque[float] = field(default_factory=lambda: deque(maxlen=SETTLE_S))  # that came last

    @property
    def rise_k(self) -> float:
        """By how much; 0 where it can't be told."""
        rise_k = self.value_c - self.began_c
        return rise_k if math.isfinite(rise_k) else 0.0

    def take(self, value_c: float) -> None:
        """Note a reading; one that was in a hand before begins anew where it has cooled to."""
        self.value_c = value_c
        if not math.isfinite(value_c):
            return
        self.values.append(value_c)
        if len(self.values) == SETTLE_S:
            self.began_c = min(self.began_c, median(self.values))


def name_probes(site: Site, seen: Sequence[Seen]) -> None:
    """Have each of the machine's thermometers warmed, and date it once all are named.

    Raises:
        UnprovenError: none rose, several did, or another than the machine file says; the sentence
            says what to write.
    """
    roles = [role for role in WHERE if any(role in one.roles for one in seen)]
    named = site.parts(Step.PROBES)
    site.person.say(_table(seen, site))
    for role in roles:
        if role in named:
            site.person.say(f"{role}: named before, and kept.")
            continue
        site.person.say(
            f"Warm {WHERE[role]} in your hand, and leave all others alone: {role}'s turn."
        )
        risen = _risen(site, role, seen)
        site.part(Step.PROBES, role, {"where": risen.seen.where, "rose": f"{risen.rise_k:.1f} K"})
        site.person.say(
            f"{role}: named. It is {risen.seen.where}, and rose by {risen.rise_k:.1f} K. Put it "
            "back."
        )
    shown = site.parts(Step.PROBES)
    site.done(Step.PROBES, {role: shown[role].facts["where"] for role in roles})


def _table(seen: Sequence[Seen], site: Site) -> str:
    """All that is there, with what it says now, corrected where the machine file does."""
    now_s, machine = site.clock.now_s(), site.machine_file.machine
    offsets_k = {"bath": machine.bath_offset_k, "bowl": machine.bowl_offset_k}
    lines = []
    for one in seen:
        reading = one.sensor.read(now_s)
        is_good = reading.quality is Quality.GOOD
        value_c = reading.value + sum(offsets_k.get(role, 0.0) for role in one.roles)
        value = f"{value_c:.2f} °C" if is_good else f"no value ({reading.fault})"
        lines.append(f"  {' and '.join(one.roles) or '(nobody)':12} {value:>10}  {one.where}")
    return "Thermometers, and whose each is by the machine file:\n" + "\n".join(lines)


def _risen(site: Site, role: str, seen: Sequence[Seen]) -> _Rise:
    """The one that rose, if it is the role's."""
    rises = [_Rise(one) for one in seen]
    _begin(site, rises)
    due_s = began_s = site.clock.now_s()
    is_told = False
    while True:
        _read(site, rises)
        most = max(rises, key=lambda rise: rise.rise_k)
        site.person.show(_live(rises, site.clock.now_s() - began_s))
        if most.rise_k >= RISE_K and not _also_risen(rises, most):
            break
        past_s = site.clock.now_s() - began_s
        if past_s >= PATIENCE_S:
            raise UnprovenError(_nothing_clear(role, rises, most))
        if past_s >= HELD_S and not is_told and (held := _held_before(rises, role)) is not None:
            is_told = True
            site.person.say(f"{_held_text(held)}, and take it again.")
        due_s += EVERY_S
        site.clock.wait_until(due_s)
    same = [rise for rise in rises if rise.rise_k >= ALIKE * most.rise_k]
    right = next((rise for rise in same if role in rise.seen.roles), None)
    if right is None:
        raise UnprovenError(_wrong(site, role, same))
    return right


def _begin(site: Site, rises: Sequence[_Rise]) -> None:
    """Where each begins.

    Raises:
        UnprovenError: none gives a value.
    """
    due_s = site.clock.now_s()
    for _ in range(SETTLE_S):
        _read(site, rises)
        due_s += EVERY_S
        site.clock.wait_until(due_s)
    if not any(rise.values for rise in rises):
        raise UnprovenError(
            "No thermometer gives a value: see to plugs, wires and the computer's settings "
            "(hardware/README.md, Thermometers), and try again."
        )
    for rise in rises:
        rise.began_c = median(rise.values) if rise.values else math.nan


def _read(site: Site, rises: Sequence[_Rise]) -> None:
    now_s = site.clock.now_s()
    for rise in rises:
        reading = rise.seen.sensor.read(now_s)
        rise.take(reading.value if reading.quality is Quality.GOOD else math.nan)


def _also_risen(rises: Sequence[_Rise], most: _Rise) -> bool:
    """Whether two of the machine's own rise: then a hand is on more than one."""
    high = [rise for rise in rises if rise.seen.roles and rise.rise_k >= CLEAR * most.rise_k]
    return len(high) > 1


def _held_before(rises: Sequence[_Rise], role: str) -> _Rise | None:
    """The role's, if it was in a hand before its turn and so can't rise."""
    mine = [rise for rise in rises if rise.seen.roles and math.isfinite(rise.value_c)]
    others_c = [rise.value_c for rise in mine if role not in rise.seen.roles]
    own = next((rise for rise in mine if role in rise.seen.roles), None)
    if own is None or not others_c or own.rise_k >= RISE_K:
        return None
    return own if own.value_c >= max(HAND_C, max(others_c) + OVER_K) else None


def _held_text(held: _Rise) -> str:
    return (
        f"{held.seen.where} was at {held.value_c:.0f} °C before, as in a hand: let go of it until "
        "it is as cool as the others"
    )


def _live(rises: Sequence[_Rise], at_s: float) -> str:
    shown = [
        f"{'+'.join(rise.seen.roles) or rise.seen.where} {_value_text(rise)}"
        for rise in rises
        if rise.seen.roles or rise.rise_k >= RISE_K / 2.0
    ]
    return f"{'   '.join(shown)}   {at_s:.0f} s"


def _value_text(rise: _Rise) -> str:
    if not math.isfinite(rise.value_c):
        return "no value"
    return f"{rise.value_c:.1f} °C ({rise.rise_k:+.1f} K)"


def _nothing_clear(role: str, rises: Sequence[_Rise], most: _Rise) -> str:
    if most.rise_k < RISE_K:
        if (held := _held_before(rises, role)) is not None:
            return f"{_held_text(held)}, and give the same command again."
        silent = [
            rise.seen.where
            for rise in rises
            if role in rise.seen.roles and not math.isfinite(rise.value_c)
        ]
        why = f"; {silent[0]} gives no value" if silent else ""
        return (
            f"No thermometer rose by {RISE_K:g} K in {PATIENCE_S / 60.0:g} minutes{why}: see that "
            "it is plugged in, hold it in a warm hand or in a cup of warm water, and try again."
        )
    return (
        "Several of the machine's thermometers rose together, so none is named: leave the others "
        "alone, let them rest for some minutes, and try again."
    )


def _wrong(site: Site, role: str, same: Sequence[_Rise]) -> str:
    """What to write, where another one rose than the machine file says."""
    owned = next((rise for rise in same if rise.seen.roles), None)
    best = owned or same[0]
    table = "guard.probe" if role == "guard" else f"attach.{role}"
    whose = f", which is {owned.seen.roles[0]}'s by the machine file" if owned else ""
    return (
        f"What rose is {best.seen.where}{whose}, and not what {site.path.name} has for {role}: "
        f"write under [{table}] {best.seen.lines}, and give the same command again."
    )
