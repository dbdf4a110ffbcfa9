"""The ways to attach a bench: the one door to the simulator.

Responsible for putting plant, parts, faults and cook together; not for any of them.
"""

from controller.ports import Devices, Kind, Panel, Sensor, Truth, Verdict
from hardware.bench.cook import Cook
from hardware.bench.draws import drawn_named
from hardware.bench.faults import BenchFault, Faults
from hardware.bench.laws import FIRST, law_named
from hardware.bench.machines import machine_named
from hardware.bench.parameters import Parameters
from hardware.bench.parts import (
    Bed,
    Cooler,
    Current,
    Indicator,
    Level,
    LidSwitch,
    Load,
    MainsLive,
    Motor,
    Probe,
    Relay,
    Shaft,
    StopButton,
)
from hardware.bench.plant import HeatBalance, MassBalance, Plant
from hardware.bench.probes import fits_of
from hardware.bench.upsets import Part, Scene

__all__ = ["FITTABLE", "Bench", "BenchFault", "HeatBalance", "MassBalance", "attach"]

FITTABLE = frozenset(
    {
        *("level", "shaft", "load", "second-switch", "mains-live", "current"),
        *("pump", "fan", "buzzer", "lamp", "lid", "stop"),
    }
)
COOLERS = frozenset({"pump", "fan"})
LEAST_KG = 0.05  # less would warm faster than the plant's step can follow
MOST_KG = 100.0  # own engineering value: far more than any kitchen pot
ROOM_C = (0.0, 45.0)  # own engineering value: rooms that people work in
# In temper on the bench: own engineering values, from the 0.5 to 4 % of the fat that the
# literature spans (from memory, not checked).
IN_TEMPER_V = (0.005, 0.04)
IN_TEMPER_UNSTABLE = 0.002


class Bench:
    """A simulated machine behind the ports of a real one, and what only a simulator can do."""

    devices: Devices
    operator: Panel
    guard_probe: Sensor  # a second bath thermometer, the guard's own
    mains_live: Sensor | None  # the guard's, where it is fitted
    stop_button: StopButton | None  # to be pressed, where it is fitted

    def __init__(
        self,
        bed: Bed,
        *,
        kind: Kind,
        batch_kg: float,
        fitted: frozenset[str],
        answer_after_s: float,
    ) -> None:
        """Fit the parts to the bed."""
        plant = bed.plant
        self._plant = plant
        self._faults = bed.faults
        self._relay = Relay(bed, has_second="second-switch" in fitted)
        self._motor = Motor(bed)
        self.stop_button = StopButton(bed) if "stop" in fitted else None
        self._probes = _probes(bed)
        self.devices = Devices(
            bath=self._probes["bath"],
            bowl=self._probes["bowl"],
            heater=self._relay,
            stirrer=self._motor,
            level=Level(bed) if "level" in fitted else None,
            shaft=Shaft(bed) if "shaft" in fitted else None,
            load=Load(bed) if "load" in fitted else None,
            current=Current(bed, self._relay) if "current" in fitted else None,
            lid=LidSwitch(bed) if "lid" in fitted else None,
            stop=self.stop_button,
            cooler=Cooler(bed, is_fan="fan" in fitted) if fitted & COOLERS else None,
            buzzer=Indicator() if "buzzer" in fitted else None,
            lamp=Indicator() if "lamp" in fitted else None,
        )
        self.guard_probe = self._probes["guard"]
        self.mains_live = MainsLive(bed, self._relay) if "mains-live" in fitted else None
        self.operator = Cook(
            plant=plant,
            batch_kg=batch_kg,
            answer_after_s=answer_after_s,
            judge=self._verdict,
            faults=bed.faults,
            kind=kind,
        )

    @property
    def plant(self) -> Plant:
        """The physics, to be looked at."""
        return self._plant

    def inject(self, fault: BenchFault, size: float | None = None) -> None:
        """Break something, from the last call's moment on; None means by its usual size."""
        self._faults.inject(fault, size)
        self._settle()

    def clear(self, fault: BenchFault) -> None:
        """Mend it again."""
        self._faults.clear(fault)
        self._settle()

    def altered(self, part: Part, would: float, now_s: float = 0.0) -> float:
        """The state of a part by the faults that are in, where otherwise it `would` be in another.

        For what surrounds a bench, like its clock: the bench's own parts ask for themselves.
        """
        return self._faults.altered(part, would, now_s)

    def swap_water(self, *, share: float, water_c: float) -> None:
        """Replace `share` (0 to 1) of the bath by water at `water_c`, without a word to anybody."""
        self._plant.swap_water(share=share, water_c=water_c)

    @property
    def has_second(self) -> bool:
        """Whether another switch stands in series with the heater's relay."""
        return self._relay.has_second

    def hold_probe(self, name: str, at_c: float | None) -> None:
        """Put the thermometer "bath", "bowl" or "guard" into something of that temperature, °C.

        None puts it back into its own place.
        """
        self._probes[name].hold(at_c)

    def cut_heater(self, *, off: bool, now_s: float) -> None:
        """Let the cut-out trip or somebody press the stop button, or undo it."""
        self._relay.cut(off=off, now_s=now_s)

    def truth(self) -> Truth:
        """How things really are at the moment of the last call."""
        plant = self._plant
        return Truth(
            form_v=plant.form_v,
            unstable=plant.unstable,
            bowl_c=plant.content_c,
            bath_c=plant.bath_c,
            energy_j=plant.element_on_j,
            verdict=self._verdict(),
        )

    def heat_balance(self) -> HeatBalance:
        """Where the heat went since the first call; closes to rounding."""
        return self._plant.balance()

    def mass_balance(self) -> MassBalance:
        """Where water and content went since the first call; closes to rounding."""
        return self._plant.mass()

    def _settle(self) -> None:
        """Let the drives follow a change of faults at once."""
        self._relay.settle()
        self._motor.settle()

    def _verdict(self) -> Verdict:
        """What a set test would show."""
        plant = self._plant
        if not plant.filling.tempers:
            return Verdict.NONE
        low, high = IN_TEMPER_V
        if low <= plant.form_v <= high and plant.unstable <= IN_TEMPER_UNSTABLE:
            return Verdict.IN_TEMPER
        return Verdict.NOT_IN_TEMPER


def _probes(bed: Bed) -> dict[str, Probe]:
    """The three thermometers of a machine, by the words of `Bench.hold_probe`."""
    plant, fits = bed.plant, fits_of(bed.plant.parameters)
    return {
        "bath": Probe(bed, Part.BATH_PROBE, plant.bath_probe_c, fits.bath),
        "bowl": Probe(bed, Part.BOWL_PROBE, plant.bowl_probe_c, fits.bowl),
        "guard": Probe(bed, Part.GUARD_PROBE, plant.guard_probe_c, fits.guard),
    }


def attach(  # noqa: PLR0913 - the one door: each may be said, by its name
    *,
    machine: str | Parameters,
    seed: int,
    kind: Kind,
    batch_kg: float,
    seed_share: float,
    fitted: frozenset[str],
    answer_after_s: float = 60.0,
    room_c: float | None = None,
    law: str = FIRST,
    filled: float = 1.0,
) -> Bench:
    """A bench at room temperature, its chocolate solid and tempered, its heater off.

    Args:
        machine: A name of `machines.MACHINES`, one like "drawn-1-17", or parameters of your own.
        seed: Of all noise; the same seed and calls give the same readings.
        kind: What is in the bowl.
        batch_kg: The whole batch, later seed included. A drawn machine has a batch of its own,
            and this is what the cook believes it to be.
        seed_share: Fraction of the batch that the cook adds later, 0 to less than 1.
        fitted: Which of `FITTABLE` the machine has.
        answer_after_s: How long the cook takes over a question.
        room_c: Room temperature, °C; None means the machine's own.
        law: The crystal law: a name of `laws.LAWS`.
        filled: What is really weighed in, as a share of what should be.

    Raises:
        ValueError: One of the arguments can't be; the sentence says which and what to write.
    """
    parameters = machine if isinstance(machine, Parameters) else machine_named(machine)
    _check_fitted(fitted)
    weighed_kg = _true_batch_kg(machine, batch_kg) * filled
    plant = Plant(
        parameters=parameters,
        kind=kind,
        mass_kg=_at_first_kg(weighed_kg, seed_share),
        room_c=_air_c(parameters.room_c if room_c is None else room_c),
        law=law_named(law),
    )
    faults = Faults(Scene(plant=plant, batch_kg=batch_kg, seed=seed))
    bed = Bed(plant=plant, faults=faults, seed=seed)
    return Bench(bed, kind=kind, batch_kg=batch_kg, fitted=fitted, answer_after_s=answer_after_s)


def _check_fitted(fitted: frozenset[str]) -> None:
    if not fitted <= FITTABLE:
        unknown = ", ".join(sorted(fitted - FITTABLE))
        known = ", ".join(sorted(FITTABLE))
        raise ValueError(f"The bench can't be fitted with {unknown}; it has {known}.")


def _at_first_kg(weighed_kg: float, seed_share: float) -> float:
    """What the bowl holds at first, without the seed to come, if a bowl can."""
    if not 0.0 <= seed_share < 1.0:
        raise ValueError(f"The bench's seed share is {seed_share}; write 0 to less than 1.")
    mass_kg = weighed_kg * (1.0 - seed_share)
    if not LEAST_KG <= mass_kg <= MOST_KG:
        raise ValueError(
            f"The bench's bowl would hold {mass_kg} kg at first; write {LEAST_KG} to {MOST_KG} kg."
        )
    return mass_kg


def _air_c(air_c: float) -> float:
    """The room's temperature, if people can work in it, °C."""
    if not ROOM_C[0] <= air_c <= ROOM_C[1]:
        raise ValueError(f"The bench's room is at {air_c} °C; write {ROOM_C[0]} to {ROOM_C[1]} °C.")
    return air_c


def _true_batch_kg(machine: str | Parameters, told_kg: float) -> float:
    """What is really weighed in, kg: a drawn machine's own batch, or as told."""
    drawn = drawn_named(machine) if isinstance(machine, str) else None
    return told_kg if drawn is None else drawn.batch_kg
