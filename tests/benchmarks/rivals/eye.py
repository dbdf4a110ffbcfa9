"""How a benchmark judges a temperature, whoever controls it.

Responsible for what a run is measured by; not for runs. Accuracy is relative to the bowl's
thermometer: its offset is not the controller's, nor that it sees a little of the film at the wall.
So the judge is `seen_c`: what it would show without lag, noise and steps. `true_c` is the well
mixed content with the same offset; the two differ by the place of the thermometer alone.
"""

import copy
from dataclasses import dataclass

from hardware.bench.plant import Plant
from hardware.bench.probes import fits_of


class Eye:
    """Looks at one plant."""

    def __init__(self, plant: Plant) -> None:
        """Look at `plant`."""
        parameters = plant.parameters
        fit = fits_of(parameters).bowl
        self._plant = plant
        self._off_k, self._gain = fit.off_k, 1.0 + fit.off_per_c
        self._at_film = parameters.bowl_probe_at_film

    def seen_c(self) -> float:
        """What the bowl's thermometer would show without lag, noise and steps, °C."""
        content_c = self._plant.content_c
        if self._at_film:
            content_c += self._at_film * (self._plant.film_c - content_c)
        return self._off_k + self._gain * content_c

    def true_c(self) -> float:
        """The well mixed content with the thermometer's offset, °C."""
        return self._off_k + self._gain * self._plant.content_c


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """A plant at a moment, from which anybody may go on."""

    plant: Plant  # nobody's: copy it
    now_s: float

    @staticmethod
    def of(plant: Plant, now_s: float) -> "Start":
        """The plant as it is at `now_s`."""
        return Start(plant=copy.deepcopy(plant), now_s=now_s)

    def again(self) -> Plant:
        """The plant as it was."""
        return copy.deepcopy(self.plant)
