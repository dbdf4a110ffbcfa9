"""Known truths of a bench machine, and what calibration and fit find of them.

Responsible for one machine at a time: its owner's slips, the readings, the errors; not for many.
"""

import random
from dataclasses import dataclass, replace
from pathlib import Path

from controller.commissioning import fitting
from controller.commissioning.calibration import (
    BAROMETER_SD_HPA,
    BOIL_SD_K,
    ICE_SD_K,
    WORKING_C,
    boiling_point,
    calibrated,
    ice_point,
)
from controller.commissioning.fitting import Fit, Known, Samples, fitted, samples_of
from controller.commissioning.steady import watched
from controller.commissioning.step_test import PROFILE
from controller.errors import Exit
from controller.journal.reader import read_run
from controller.planning.air import boiling_c
from controller.ports import Kind, Moment
from controller.trials.trial import Trial, set_up
from controller.wiring import Bench, execute
from hardware.bench.attach import attach
from hardware.bench.draws import Drawn
from hardware.bench.parameters import FILLINGS, WATER_J_PER_KG_K
from hardware.bench.probes import PROBES, fits_of
from hardware.bench.probes import Fit as ProbeFit
from tests.helpers.commissioned import Minutes

HPA = (850.0, 1030.0)  # from a mountain village to the sea, with the weather: own values


@dataclass(frozen=True, slots=True, kw_only=True)
class Error:
    """One number that was found, against the truth."""

    machine: str
    what: str
    found: float
    true: float
    sure: float  # half the band that is stated for 95 %

    @property
    def off(self) -> float:
        """By how much it is wrong."""
        return self.found - self.true

    @property
    def holds(self) -> bool:
        """Whether the truth lies in the band."""
        return abs(self.off) <= self.sure


def offset_k(fit: ProbeFit) -> float:
    """What must be added to a thermometer of the bench at the working temperature."""
    return -(fit.off_k + fit.off_per_c * WORKING_C)


def calibration_errors(drawn: Drawn, seed: int = 1) -> list[Error]:
    """Both thermometers of a machine through ice and boiling water, both a little imperfect."""
    chance = random.Random(f"calibrate/{drawn.name}")  # noqa: S311 - no cryptography
    bench = attach(
        machine=drawn.name,
        seed=seed,
        kind=Kind.WATER,
        batch_kg=drawn.told.batch_kg,
        seed_share=0.0,
        fitted=frozenset(),
    )
    fits = fits_of(drawn.parameters)
    clock = Minutes()
    errors = []
    for name, sensor, fit in (
        ("bath", bench.devices.bath, fits.bath),
        ("bowl", bench.devices.bowl, fits.bowl),
    ):
        shown_hpa = chance.uniform(*HPA)
        true_hpa = shown_hpa + chance.gauss(0.0, BAROMETER_SD_HPA)
        bench.hold_probe(name, chance.gauss(0.0, ICE_SD_K))
        ice = watched(sensor, clock, in_ice=True)
        bench.hold_probe(name, boiling_c(true_hpa) + chance.gauss(0.0, BOIL_SD_K))
        boil = watched(sensor, clock)
        found = calibrated(
            (
                ice_point(ice.mean_c, ice.sd_k),
                boiling_point(boil.mean_c, boil.sd_k, pressure_hpa=shown_hpa, altitude_m=None),
            )
        )
        errors.append(
            Error(
                machine=f"{drawn.name} {name}",
                what="offset",
                found=found.offset_k,
                true=offset_k(fit),
                sure=found.sure_k,
            )
        )
    return errors


def fit_errors(drawn: Drawn, folder: Path, seed: int = 1) -> list[Error]:
    """The step test through the real loop, and what the fit finds in its record.

    Nothing where the run did not end by itself.
    """
    chance = random.Random(f"fit/{drawn.name}")  # noqa: S311 - no cryptography
    record = folder / f"{drawn.name}.jsonl"
    stage = set_up(Trial(profile=PROFILE, machine=drawn.name, seed=seed), journal=record)
    books = Books(stage.bench, drawn)
    result = execute(replace(stage.order, tellers=(books,)))
    fits = fits_of(drawn.parameters)
    samples = _corrected(samples_of(read_run(record)), offset_k(fits.bath), offset_k(fits.bowl))
    record.unlink()
    if result.outcome is not Exit.DONE:
        return []
    known = Known(
        power_w=drawn.parameters.heater_w * (1.0 + chance.gauss(0.0, fitting.METER_SD)),
        power_sd=fitting.METER_SD,
        room_c=books.room_c(samples.at_s) + chance.gauss(0.0, fitting.ROOM_SD_K),
        room_sd_k=fitting.ROOM_SD_K,
    )
    return books.errors(fitted(samples, known, stage.order.machine), samples)


def _corrected(samples: Samples, bath_k: float, bowl_k: float) -> Samples:
    """As the run of a calibrated machine writes them down."""
    return samples._replace(
        bath_c=tuple(one + bath_k for one in samples.bath_c),
        bowl_c=tuple(one + bowl_k for one in samples.bowl_c),
    )


class Books:
    """What only the bench knows, kept at each tick."""

    def __init__(self, bench: Bench, drawn: Drawn) -> None:
        """Before the run: no water has evaporated yet."""
        self._bench, self._drawn = bench, drawn
        plant, parameters = bench.plant, drawn.parameters
        water_j_per_k = (plant.water_kg + plant.mass_kg) * WATER_J_PER_KG_K
        self._capacity_j_per_k = water_j_per_k + parameters.pot_j_per_k + parameters.bowl_j_per_k
        self._rows: list[tuple[float, float, float, float]] = []

    def tell(self, moment: Moment) -> None:
        """What is lost so far, without the warmth that leaves with its own water; and the room."""
        plant = self._bench.plant
        carried_j = plant.mass().evaporated_kg * WATER_J_PER_KG_K * plant.bath_c
        lost_j = plant.balance().lost_j - carried_j
        self._rows.append((moment.state.run_s, lost_j, plant.room_c, plant.bath_c))

    def _last_third(self, at_s: tuple[float, ...]) -> list[tuple[float, float, float, float]]:
        from_s = at_s[-max(1, len(at_s) // 3)]
        return [row for row in self._rows if row[0] >= from_s]

    def room_c(self, at_s: tuple[float, ...]) -> float:
        """The room while the test held, on the mean."""
        rows = self._last_third(at_s)
        return sum(row[2] for row in rows) / len(rows)

    def errors(self, found: Fit, samples: Samples) -> list[Error]:
        """Each number against its truth."""
        parameters, rows = self._drawn.parameters, self._last_third(samples.at_s)
        loss_w = (rows[-1][1] - rows[0][1]) / (rows[-1][0] - rows[0][0])
        over_k = sum(row[3] - row[2] for row in rows) / len(rows)
        kind = PROBES[parameters.bath_probe]
        bath_s = parameters.heater_lag_s + parameters.bath_probe_lag_s * kind.lag_ratio
        pairs = (
            ("capacity", found.capacity_j_per_k, self._capacity_j_per_k),
            ("loss", found.loss_w_per_k, loss_w / over_k),
            ("bath delay", found.bath_delay_s, bath_s + kind.conversion_s - self._ahead_s()),
            ("bowl delay", found.bowl_delay_s, self._bowl_follows_s() + kind.conversion_s),
        )
        return [
            Error(
                machine=self._drawn.name, what=what, found=value.value, true=true, sure=value.sure
            )
            for what, value, true in pairs
        ]

    def _ahead_s(self) -> float:
        """By how much a thermometer near the element runs ahead of a bath that warms steadily."""
        parameters = self._drawn.parameters
        held_j_per_w = parameters.heater_lag_s  # what the element holds over the bath's warmth
        sees_k_per_w = parameters.bath_probe_at_element * held_j_per_w / parameters.element_j_per_k
        bath_j = parameters.water_kg * WATER_J_PER_KG_K + parameters.pot_j_per_k
        return sees_k_per_w * bath_j

    def _bowl_follows_s(self) -> float:
        """By how much the bowl's reading lags a bath that warms steadily: sums of lags."""
        motion = self._bench.plant._motion  # noqa: SLF001 - a truth that no part shows
        parameters = self._drawn.parameters
        content_j = motion.cool_j_per_k
        wall_s = (content_j + parameters.bowl_j_per_k) / motion.bath_bowl_w_per_k
        lag = FILLINGS[Kind.WATER].probe_lag_s * parameters.bowl_probe_lag
        probe_s = lag * PROBES[parameters.bowl_probe].lag_ratio
        return wall_s + content_j / motion.content_w_per_k + probe_s
