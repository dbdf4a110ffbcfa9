"""Random batches for the benchmark of the temper estimate: mishaps, chocolates, and the truth.

Responsible for one run with what was said and what was so at the moments that matter; not for what
is counted (temper). Ranges are own engineering values, not published.
"""

import json
import math
import os
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from dataclasses import replace as replaced
from random import Random
from typing import Any, NamedTuple

from controller.core.announcement import Announcement, Deed
from controller.core.batches import UNJUDGED, TemperState
from controller.core.machine import Machine
from controller.core.profile import Action, Profile, Question, When
from controller.core.records import replace
from controller.core.signals import Reading, Readings, Request, Verb
from controller.core.state import Mode
from controller.core.temper import judge_temper
from controller.core.tempering import Temper, has_arrived
from controller.errors import BainwardError
from controller.files.profile_file import load_profile
from controller.ports import Moment, Sensor
from controller.trials.staging import staged
from controller.trials.trial import Stage, Trial, set_up
from controller.wiring import Order, execute, machine_meant
from hardware.bench import flow
from hardware.bench.crystals import Law, Rates, Shear
from hardware.bench.laws import LAWS
from hardware.bench.plant import Plant
from tests.benchmarks.temper_copies import AFTER_S, Copier, EnoughError

VARIED = "varied"
RATES_LN = 0.5  # each rate of the law, up to so much in its logarithm
ACTIVATION_J_PER_MOL = (20_000.0, 40_000.0)
THICKEN = (20.0, 40.0)
HOLD_S = 5700.0
EACH_S = 1800.0
GIVE_UP_S = 6 * 3600.0
LEAST_V, MOST_V, MOST_UNSTABLE = 0.005, 0.04, 0.002  # as the bench's set test has it
SEED_V = 0.78
UNLOADED = Readings(bath=Reading(math.nan), bowl=Reading(math.nan))  # of which only a load counts

MISHAPS = (
    "none",
    "cool too warm",
    "cool too cold",
    "slip",
    "held too cool",
    "seeded",
    "seed forgotten",
    "seed early",
    "topped up",
    "cool too short",
)


class Said(NamedTuple):
    """One moment: what was said of it, and what was so."""

    mishap: str
    moment: str
    verdict: str
    confidence: float
    truth: str
    form_v: float
    unstable: float
    believed_v: float
    has_load: bool


@dataclass(slots=True)
class Listener:
    """Notes verdict and truth at the moments that matter.

    The same run is judged a second time as if no load were fitted: nothing is steered by verdicts
    where the profile warms nothing, so that both saw the same batch.
    """

    plant: Plant
    profile: Profile
    machine: Machine
    mishap: str
    copier: Copier | None = None
    without: TemperState = UNJUDGED
    said: list[Said] = field(default_factory=list)
    phase: int = 0
    most: float = 0.0
    held_s: float = math.nan
    due_s: float = EACH_S
    touched_s: float = math.nan
    last: Moment | None = None

    def tell(self, moment: Moment) -> None:
        """Look at one tick."""
        state, before = moment.state, self.last
        self.last = moment
        shadow = replace(state, temper=self.without)
        self.without = judge_temper(shadow, self.profile, self.machine, UNLOADED)
        if state.mode is not Mode.RUNNING or before is None:
            return
        phase = state.progress.phase
        if phase:
            lumps = SEED_V * self.plant.solid_kg / max(self.plant.mass_kg, 1e-6)
            self.most = max(self.most, self.plant.form_v + lumps)
        if phase != self.phase and self.phase > 0:  # judged as the tick before saw it
            self._note(f"end of {self.profile.phases[self.phase].name}", before)
        self.phase = phase
        if phase == len(self.profile.phases) - 1:
            if math.isnan(self.held_s):
                self.held_s = state.run_s
            if state.run_s - self.held_s >= self.due_s:
                self._note("hold", moment)
                self.due_s += EACH_S
            if state.run_s - self.touched_s >= AFTER_S:
                self._note("after a top-up", moment)
                self.touched_s = math.nan
        if self.copier is not None and self.copier.is_copy and self.copier.due(moment):
            self.said.clear()
            self.copier.is_asked = True
            self._note(f"after {self.copier.upset}", moment)
            raise EnoughError

    def _note(self, name: str, moment: Moment) -> None:
        progress = moment.state.progress
        arrived = has_arrived(
            self.profile, progress.phase, is_there=progress.reached or progress.settled_s > 0.0
        )
        truth = self._truth(arrived=arrived).value
        for temper in (moment.state.temper, self.without):
            self.said.append(
                Said(
                    self.mishap,
                    name,
                    temper.verdict.value,
                    temper.confidence,
                    truth,
                    self.plant.form_v,
                    self.plant.unstable,
                    temper.form_v[1],
                    temper is not self.without,
                )
            )

    def _truth(self, *, arrived: bool) -> Temper:
        form_v = self.plant.form_v
        if form_v > MOST_V:
            return Temper.OVER
        if form_v >= LEAST_V and self.plant.unstable <= MOST_UNSTABLE:
            return Temper.IN_TEMPER
        if not arrived:
            return Temper.NOT_YET
        is_out = form_v < LEAST_V <= self.most
        return Temper.MELTED_OUT if is_out else Temper.UNDER


class Pourer:
    """A cook who tops up with untempered melt in the hold, and says so."""

    def __init__(self, listener: Listener, after_s: float, mass_kg: float, at_c: float) -> None:
        """Wait for the hold to be so old."""
        self._listener, self._after_s = listener, after_s
        self._mass_kg, self._at_c = mass_kg, at_c

    def take(self, now_s: float, ask: Question | None) -> tuple[Request, ...]:  # noqa: ARG002 - the Panel's contract
        """The announcement, once."""
        listener = self._listener
        if listener.last is None or math.isnan(listener.held_s):
            return ()
        run_s = listener.last.state.run_s
        if run_s - listener.held_s < self._after_s:
            return ()
        self._after_s = math.inf
        listener.touched_s = run_s
        listener.plant.advance(now_s)
        listener.plant.top_up(mass_kg=self._mass_kg, content_c=self._at_c)
        said = Announcement(deed=Deed.TOPPED_UP, mass_kg=self._mass_kg, temp_c=self._at_c)
        return (Request(verb=Verb.ANNOUNCE, announcement=said),)


@dataclass(slots=True)
class OtherFlow:
    """A stirrer's load as a chocolate of another viscosity law would give it."""

    inner: Sensor
    plant: Plant
    activation_j_per_mol: float
    thicken: float

    def read(self, now_s: float) -> Reading:
        """The load in W."""
        reading, plant = self.inner.read(now_s), self.plant
        extra = (self.activation_j_per_mol - flow.ACTIVATION_J_PER_MOL) / flow.GAS_J_PER_MOL_K
        extra *= 1.0 / (plant.content_c + flow.ZERO_C_IN_K) - 1.0 / flow.MELTED_K
        solid = min(plant.form_v + plant.unstable, flow.MOST_CRYSTALS)
        extra += (self.thicken - flow.CRYSTALS_THICKEN) * solid
        return Reading(reading.value * math.exp(extra), reading.age_s, reading.fault)


def varied(law: Callable[[float], Law], chance: Random) -> Callable[[float], Law]:
    """The same law with other constants: each of its rates faster or slower, up and down alike."""
    (up_u, down_u), (up_v, down_v), (up_m, down_m) = (
        (
            math.exp(chance.uniform(-RATES_LN, RATES_LN)),
            math.exp(chance.uniform(-RATES_LN, RATES_LN)),
        )
        for _ in range(3)
    )

    def made(shift_k: float) -> Law:
        inner = law(shift_k)

        def rates(
            temp_c: float, unstable: float, form_v: float, memory: float, sheared: Shear
        ) -> Rates:
            d_u, d_v, d_m = inner.rates(temp_c, unstable, form_v, memory, sheared)
            return (
                d_u * (up_u if d_u > 0.0 else down_u),
                d_v * (up_v if d_v > 0.0 else down_v),
                d_m * (up_m if d_m > 0.0 else down_m),
            )

        return inner._replace(rates=rates)

    return made


def _of_phase(profile: Profile, name: str, **changes: Any) -> Profile:  # noqa: ANN401 - any field
    phases = tuple(replace(one, **changes) if one.name == name else one for one in profile.phases)
    return replace(profile, phases=phases)


def _shaped(profile: Profile, mishap: str, chance: Random) -> Profile:
    """The profile as this mishap has it followed."""
    cool_c = {one.name: one.bowl_target_c for one in profile.phases}.get("cool", math.nan)
    work_c = profile.phases[-1].bowl_target_c
    dwell_s = chance.uniform(180.0, 600.0)
    if mishap == "cool too warm":
        warm_c = min(cool_c + chance.uniform(1.0, 3.0), work_c - 0.5)
        profile = _of_phase(profile, "cool", bowl_target_c=warm_c, dwell_s=dwell_s)
    elif mishap == "cool too cold":
        cold_c = cool_c - chance.uniform(1.0, 3.0)
        cold = {"stir_from_c": cold_c - 2.0}
        profile = _of_phase(profile, "cool", bowl_target_c=cold_c, dwell_s=3.0 * dwell_s, **cold)
    elif mishap == "cool too short":
        profile = _of_phase(profile, "cool", dwell_s=0.0, settle_s=10.0)
    elif mishap == "held too cool":
        cool_k = chance.uniform(1.0, 2.5)
        for name in ("rewarm", "hold"):
            profile = _of_phase(profile, name, bowl_target_c=work_c - cool_k)
    elif "cool" in {one.name for one in profile.phases}:
        profile = _of_phase(profile, "cool", dwell_s=dwell_s)
    if mishap == "slip":
        profile = _slipped(profile, chance)
    return profile


def _slipped(profile: Profile, chance: Random) -> Profile:
    """The bowl gets too warm for a while before the hold, and comes back."""
    hold = profile.phases[-1]
    slip_c = hold.bowl_target_c + chance.uniform(2.0, 6.0)
    bare = replace(hold, questions=(), bath_cut_c=58.0)
    slip = replace(
        bare,
        name="slip",
        bowl_target_c=slip_c,
        bath_ceiling_c=slip_c + 4.0,
        settle_s=10.0,
        dwell_s=chance.uniform(30.0, 600.0),
    )
    cool = next(one for one in profile.phases if one.name == "cool")
    swaps = tuple(one for one in cool.questions if one.action is Action.SWAP_WATER)
    back = replace(bare, name="back", dwell_s=240.0, questions=swaps)
    return replace(
        profile, phases=(*profile.phases[:-1], slip, back, replace(hold, bath_cut_c=58.0))
    )


def _held_long(profile: Profile, hold_s: float) -> Profile:
    """A long hold, the set test put off to its end so that it teaches nothing before.

    Nothing is warmed for thickening: both estimates are to see the batch that neither steered.
    """
    *rest, hold = profile.phases
    questions = tuple(
        replace(one, when=When.DWELLED) if one.when is When.REACHED else one
        for one in hold.questions
    )
    hold = replace(hold, dwell_s=hold_s, questions=questions, warm_to_c=None)
    return replace(profile, phases=(*rest, hold))


def run_case(
    seed: int, number: int, law: str, *, hold_s: float = HOLD_S, is_copied: bool = False
) -> list[Said]:
    """One random machine with one mishap, its chocolate by a law with random constants.

    `is_copied` says whether copies of it are disturbed besides, and asked.
    """
    chance = Random(f"temper/{seed}/{number}")  # noqa: S311 - no cryptography
    mishap = MISHAPS[number % len(MISHAPS)]
    seeded = mishap.startswith("seed")
    name = "dark-seeded" if seeded else chance.choice(("dark", "milk", "white"))
    machine = f"drawn-{seed}-{number}"
    try:
        plain = load_profile(name, machine_meant(machine).machine)
    except BainwardError:
        return []
    profile = _held_long(_shaped(plain, mishap, chance), hold_s)
    LAWS[VARIED] = varied(LAWS[law], chance)
    faults: tuple[str, ...] = ()
    if mishap == "seed forgotten":
        faults = ("seed-forgotten@seed",)
    elif mishap == "seed early":
        faults = ("seed-early:10%@seed",)
    trial = Trial(
        profile=profile,
        machine=machine,
        seed=number,
        law=VARIED,
        faults=faults,
        fitted=("level", "shaft", "load"),
        answer_after_s=chance.uniform(15.0, 90.0),
        give_up_after_s=GIVE_UP_S,
    )
    try:
        return _played(set_up(trial), mishap, chance, is_copied=is_copied)
    finally:
        del LAWS[VARIED]  # the table is everybody's


def _played(stage: Stage, mishap: str, chance: Random, *, is_copied: bool) -> list[Said]:
    """Run it, and what was said of it and of its copies."""
    order, plant = stage.order, stage.bench.plant
    listener = Listener(plant, order.profile, order.machine, mishap)
    devices = order.attached.devices
    activation, thicken = chance.uniform(*ACTIVATION_J_PER_MOL), chance.uniform(*THICKEN)
    if devices.load is not None:
        other = OtherFlow(devices.load, plant, activation, thicken)
        devices = replaced(devices, load=other)
    order = replaced(
        order,
        attached=replaced(order.attached, devices=devices),
        tellers=(listener,),
    )
    if mishap == "topped up":
        mass_kg = order.machine.batch_kg * chance.uniform(0.1, 0.5)
        pourer = Pourer(
            listener, chance.uniform(600.0, 3000.0), mass_kg, chance.uniform(33.0, 40.0)
        )
        order = replaced(order, panels=(*order.panels, pourer))
    if is_copied:
        copier = Copier(plant, order.machine.batch_kg, chance, len(order.profile.phases) - 1)
        listener.copier = copier
        order = replaced(order, tellers=(*order.tellers, copier), panels=(*order.panels, copier))
    _followed(staged(order, stage.bench, stage.plans), listener)
    copies = listener.copier.told if listener.copier is not None else []
    return listener.said + [Said(*row) for told in copies for row in json.loads(told)]


def _followed(order: Order, listener: Listener) -> None:
    """Run it to its end; a copy ends here, and hands over what was said of it."""
    copier = listener.copier
    try:
        with suppress(EnoughError):
            execute(order)
        if copier is not None and copier.is_copy:
            copier.hand_over(listener.said if copier.is_asked else [])
    finally:
        if copier is not None and copier.is_copy:  # it must not unwind into the other run
            os._exit(1)
