"""Mishaps on random machines for the benchmark of the rescue, and whether what it proposes helps.

Responsible for one mishap done to the bench's plant, whose chocolate follows another law than the
estimate's, for the proposal carried out on it, and for the truth; not for what is counted (rescue).
Ranges are own engineering values, not published.
"""

import math
from collections.abc import Callable, Iterator
from copy import deepcopy
from random import Random
from typing import NamedTuple

from controller.core.actions import Do, Ending, Move
from controller.core.ahead import Batch, kitchen_of
from controller.core.chocolate import content_of
from controller.core.machine import Machine
from controller.core.mishaps import BY_WORD, Told, Window, window_of
from controller.core.profile import Kind
from controller.core.rescuing import cheapest, endings
from controller.core.thermal import begin, prior_of
from controller.files.profile_file import load_profile
from controller.wiring import machine_meant
from hardware.bench.draws import draw
from hardware.bench.laws import LAWS
from hardware.bench.plant import Plant
from tests.benchmarks.temper_cases import LEAST_V, MOST_UNSTABLE, MOST_V, varied

TICK_S = 5.0
NEAR_K = 0.3
LEAD_K, LEAD_MOST_K = 2.0, 10.0
MELT_LEAD_K, MELT_FROM_C = 6.0, 38.0
SWAP_FROM_K = 0.6
RPM = 30.0
LONGEST_S = 4 * 3600.0
PROBE_SD_K = 0.15
MINUTE_S = 60.0
ROUND_S = 300.0  # people say five minutes, ten, a quarter of an hour
SEEDS = (0.01, 0.014, 0.02, 0.028, 0.04)


class Tried(NamedTuple):
    """One case: what was proposed, and what came of it."""

    mishap: str
    machine: str
    kind: str
    proposed: str  # a word of `Act`, or "none"
    chance: float
    ends: bool  # in temper
    could: bool  # some action would have
    form_v: float  # in the end
    unstable: float
    before_v: float  # after the mishap
    takes_s: float
    believed_v: float


class Cook:
    """Hands, a heater's switch and a thermometer that is a little off, on a plant."""

    def __init__(self, plant: Plant, water_c: float, off_k: float) -> None:
        """Stand at the machine."""
        self.plant, self.water_c, self.off_k = plant, water_c, off_k
        self.now_s = 0.0
        plant.advance(0.0)

    @property
    def bowl_c(self) -> float:
        """What the thermometer says."""
        return self.plant.content_c + self.off_k

    def lead(self, to_c: float) -> None:
        """Bring the bowl to a temperature."""
        if to_c < self.bowl_c - SWAP_FROM_K:
            self._swap(to_c)
        self.go(to_c)

    def go(self, to_c: float) -> None:
        """The same without colder water."""
        end_s = self.now_s + LONGEST_S
        while abs(self.bowl_c - to_c) > NEAR_K and self.now_s < end_s:
            self._tick(to_c)

    def keep(self, span_s: float, at_c: float) -> None:
        """Keep the bowl at a temperature."""
        for _ in range(round(span_s / TICK_S)):
            self._tick(at_c)

    def stand(self, span_s: float) -> None:
        """Without heat and stirrer."""
        self.plant.heat(0.0)
        self.plant.stir(0.0)
        self.now_s += span_s
        self.plant.advance(self.now_s)

    def seed(self, share: float) -> None:
        """Seed, over what is in the bowl."""
        self.plant.add_seed(share * self.plant.mass_kg)

    def carry_out(self, ending: Ending, work_c: float) -> None:
        """Do as it was told, in amounts as they were told."""
        target_c = work_c
        for step in ending.steps:
            move = step.move
            target_c = move.temp_c if move.do is Do.LEAD else target_c
            if step.swapped_kg:
                share = min(1.0, step.swapped_kg / self.plant.water_kg)
                self.plant.swap_water(share=share, water_c=self.water_c)
            self._carry_out(move, target_c)

    def _carry_out(self, move: Move, target_c: float) -> None:
        match move.do:
            case Do.LEAD:
                self.go(move.temp_c)
            case Do.KEEP:
                self.keep(move.span_s, target_c)
            case Do.SEED:
                self.seed(move.share)
            case Do.POUR:
                mass_kg = move.share * self.plant.mass_kg
                self.plant.top_up(mass_kg=mass_kg, content_c=move.temp_c)

    def _swap(self, to_c: float) -> None:
        bath_c = self.plant.bath_c
        wanted_c = max(to_c - LEAD_MOST_K, self.water_c)
        if bath_c > wanted_c and bath_c > self.water_c:
            share = min(1.0, (bath_c - wanted_c) / (bath_c - self.water_c))
            self.plant.swap_water(share=share, water_c=self.water_c)

    def _tick(self, to_c: float) -> None:
        lead_k = MELT_LEAD_K if to_c >= MELT_FROM_C else LEAD_K
        way_k = 2.0 * (to_c - self.bowl_c)
        wanted_c = to_c + max(-LEAD_MOST_K, min(lead_k, way_k))
        plant = self.plant
        plant.heat(plant.parameters.heater_w if plant.bath_c < wanted_c else 0.0)
        plant.stir(RPM if self.bowl_c > STIR_FROM_C else 0.0)
        self.now_s += TICK_S
        plant.advance(self.now_s)


STIR_FROM_C = 24.0


class Scene(NamedTuple):
    """What a mishap needs to be done."""

    cook: Cook
    window: Window
    chance: Random


def _draw(scene: Scene, low: float, high: float) -> float:
    return scene.chance.uniform(low, high)


def _melted(scene: Scene) -> None:
    scene.cook.lead(scene.window.melt_c)
    scene.cook.keep(600.0, scene.window.melt_c)


def _tempered(scene: Scene) -> None:
    """In temper, as only the bench knows: with so much seed that it is."""
    cook, window = scene.cook, scene.window
    _melted(scene)
    cook.lead(window.seed_c)
    for share in SEEDS:
        tried = deepcopy(cook)
        tried.seed(share)
        tried.lead(window.work_c)
        tried.keep(600.0, window.work_c)
        cook.plant, cook.now_s = tried.plant, tried.now_s
        if tried.plant.form_v >= 1.2 * LEAST_V:
            return


def _warm(scene: Scene, low_c: float, high_c: float) -> Told:
    _tempered(scene)
    at_c, for_s = _draw(scene, low_c, high_c) - scene.window.softer_k, _draw(scene, 120.0, 1500.0)
    scene.cook.lead(at_c)
    scene.cook.keep(for_s, at_c)
    return Told(at_c=at_c, for_s=for_s)


def _thick(scene: Scene) -> Told:
    cook = scene.cook
    _tempered(scene)
    at_c, most = scene.window.work_c - 1.0, _draw(scene, MOST_V, 0.10)
    for _ in range(60):
        if cook.plant.form_v >= most:
            break
        cook.keep(120.0, at_c)
    cook.lead(scene.window.work_c)
    return Told()


def _cool_held(scene: Scene) -> Told:
    _tempered(scene)
    at_c, for_s = scene.window.work_c - _draw(scene, 1.0, 3.5), _draw(scene, 600.0, 2400.0)
    scene.cook.lead(at_c)
    scene.cook.keep(for_s, at_c)
    return Told(at_c=at_c, for_s=for_s)


def _forgotten(scene: Scene) -> Told:
    for_s = _draw(scene, 120.0, 1500.0)
    _melted(scene)
    scene.cook.lead(scene.window.work_c)
    scene.cook.keep(for_s, scene.window.work_c)
    return Told(for_s=for_s)


def _seeded(scene: Scene, low_c: float, high_c: float, shares: tuple[float, float]) -> Told:
    cook, work_c = scene.cook, scene.window.work_c
    at_c, share = _draw(scene, low_c, high_c) - scene.window.softer_k, _draw(scene, *shares)
    _melted(scene)
    cook.lead(at_c)
    cook.seed(share)
    cook.lead(work_c)
    cook.keep(300.0, work_c)
    return Told(at_c=at_c, share=share)


def _cooled(scene: Scene, above_k: tuple[float, float], for_s: tuple[float, float]) -> Told:
    cook, work_c = scene.cook, scene.window.work_c
    at_c = min(scene.window.cool_c + _draw(scene, *above_k), work_c - 0.5)
    span_s = _draw(scene, *for_s)
    _melted(scene)
    cook.lead(at_c)
    cook.keep(span_s, at_c)
    cook.lead(work_c)
    return Told(at_c=at_c, for_s=span_s)


def _cut(scene: Scene) -> Told:
    for_s = _draw(scene, 600.0, 3600.0)
    _tempered(scene)
    scene.cook.stand(for_s)
    return Told(at_c=scene.cook.bowl_c, for_s=for_s)


def _stood(scene: Scene) -> Told:
    """Kept warm by the bath, and not stirred."""
    cook, work_c = scene.cook, scene.window.work_c
    _tempered(scene)
    for_s = _draw(scene, 600.0, 2400.0)
    plant = cook.plant
    plant.stir(0.0)
    for _ in range(round(for_s / TICK_S)):
        plant.heat(plant.parameters.heater_w if plant.bath_c < work_c + 0.3 else 0.0)
        cook.now_s += TICK_S
        plant.advance(cook.now_s)
    return Told(for_s=for_s)


def _thinned(scene: Scene) -> Told:
    cook, share = scene.cook, _draw(scene, 0.3, 1.5)
    _tempered(scene)
    cook.plant.top_up(mass_kg=share * cook.plant.mass_kg, content_c=_draw(scene, 34.0, 42.0))
    at_c = cook.bowl_c
    cook.keep(600.0, scene.window.work_c)
    return Told(at_c=at_c, share=share)


def _set(scene: Scene) -> Told:
    return Told(at_c=scene.cook.bowl_c)


DONE: dict[str, Callable[[Scene], Told]] = {
    "too-warm": lambda scene: _warm(scene, 33.0, 36.0),
    "temper-lost": lambda scene: _warm(scene, 36.5, 42.0),
    "too-thick": _thick,
    "too-cool": _cool_held,
    "seed-forgotten": _forgotten,
    "seed-early": lambda scene: _seeded(scene, 36.0, 44.0, (0.05, 0.12)),
    "seed-much": lambda scene: _seeded(scene, 31.0, 33.8, (0.08, 0.20)),
    "cooled-too-far": lambda scene: _cooled(scene, (-4.0, -1.0), (300.0, 1200.0)),
    "cooled-too-little": lambda scene: _cooled(scene, (1.5, 4.0), (60.0, 600.0)),
    "cooled-too-briefly": lambda scene: _cooled(scene, (-0.3, 0.3), (0.0, 60.0)),
    "power-gone": _cut,
    "stirrer-stood": _stood,
    "topped-up-much": _thinned,
    "set-in-bowl": _set,
}


def _rounded(told: Told) -> Told:
    """As people say it: times to five minutes. Temperatures are as the thermometer had them."""
    for_s = told.for_s
    if math.isfinite(for_s):
        for_s = max(MINUTE_S, ROUND_S * round(for_s / ROUND_S))
    return Told(at_c=told.at_c, for_s=for_s, share=told.share)


def run_case(seed: int, number: int, mishap: str) -> Tried:
    """One mishap on one random machine, its chocolate by a law with random constants."""
    chance = Random(f"rescue/{seed}/{number}/{mishap}")  # noqa: S311 - no cryptography
    kind = chance.choice((Kind.DARK, Kind.MILK, Kind.WHITE))
    name = f"drawn-{seed}-{number}"
    drawn, machine = draw(seed, number), machine_meant(name).machine
    window = window_of(load_profile(str(kind), machine), content_of(kind).softer_k)
    plant = Plant(
        parameters=drawn.parameters,
        kind=kind,
        mass_kg=drawn.batch_kg,
        room_c=drawn.parameters.room_c,
        law=varied(LAWS["nuclei"], chance),
    )
    off_k = chance.gauss(0.0, PROBE_SD_K)
    cook = Cook(plant, machine.cold_water_c, off_k)
    told = DONE[mishap](Scene(cook, window, chance))
    before = cook.plant.form_v
    found = thought_of(mishap, _rounded(told), window, machine, kind, cook)
    ending = cheapest(found)
    results = _outcomes(cook, window, ending, found)
    ends, form_v, unstable = next(results)
    could = ends or any(one for one, *_ in results)
    return Tried(
        mishap=mishap,
        machine=name,
        kind=str(kind),
        proposed="none" if ending is None else ending.action.act.value,
        chance=math.nan if ending is None else ending.confidence,
        ends=ends,
        could=could,
        form_v=form_v,
        unstable=unstable,
        before_v=before,
        takes_s=math.nan if ending is None else ending.takes_s,
        believed_v=math.nan if ending is None else ending.form_v[1],
    )


def thought_of(
    mishap: str, told: Told, window: Window, machine: Machine, kind: Kind, cook: Cook
) -> tuple[Ending, ...]:
    """Every action that is thought about by what was told, and what is expected of it."""
    row = BY_WORD[mishap]
    full = row.filled(told, window)
    bowl_c, bath_c = cook.bowl_c, cook.plant.bath_c
    belief = begin(prior_of(machine, kind, 1.0), bath_c, bowl_c, has_melted=True)
    kitchen = kitchen_of(belief, machine, window.work_c)
    batch = Batch(bath_c, bowl_c, row.made(full, window), is_set=row.is_set)
    return endings(batch, window, kitchen)


def _outcomes(
    cook: Cook, window: Window, ending: Ending | None, found: tuple[Ending, ...]
) -> Iterator[tuple[bool, float, float]]:
    """In temper or not, form V and unstable forms: after what was proposed, then after all else."""
    if ending is None:
        yield False, math.nan, math.nan
    for one in found if ending is None else (ending, *found):
        tried = deepcopy(cook)
        tried.carry_out(one, window.work_c)
        form_v, unstable = tried.plant.form_v, tried.plant.unstable
        is_good = LEAST_V <= form_v <= MOST_V and unstable <= MOST_UNSTABLE
        yield is_good, form_v, unstable
