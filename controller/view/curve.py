"""The temperatures of a run so far, as far as somebody was there to hear them.

Responsible for bounded memory; not for drawing.
"""

from dataclasses import dataclass

from controller.view.facts import Facts

# Own engineering values, not published: what a small screen can show, and no more.
MOST = 480  # samples; when full, every second one goes and the next come half as often
FIRST_GAP_S = 5.0  # of the run, between two samples


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """The temperatures at one moment of a run; None where there is no value."""

    run_s: float
    phase: str
    bowl_c: float | None
    bath_c: float | None
    target_c: float | None  # the bowl's


class Curve:
    """Samples of one run, evenly thinned."""

    def __init__(self) -> None:
        """Nothing heard yet."""
        self._run_id: str | None = None
        self._gap_s = FIRST_GAP_S
        self._samples: list[Sample] = []

    @property
    def samples(self) -> tuple[Sample, ...]:
        """Oldest first."""
        return tuple(self._samples)

    def add(self, facts: Facts) -> None:
        """Take a sample where it is time for one; another run begins anew."""
        run_s = facts.elapsed_s
        if run_s is None or facts.phase is None or facts.run_id is None:
            return
        if facts.run_id != self._run_id:
            self._run_id, self._gap_s, self._samples = facts.run_id, FIRST_GAP_S, []
        if self._samples and run_s - self._samples[-1].run_s < self._gap_s:
            return
        self._samples.append(
            Sample(
                run_s=run_s,
                phase=facts.phase,
                bowl_c=facts.bowl_c,
                bath_c=facts.bath_c,
                target_c=facts.bowl_setpoint_c,
            )
        )
        if len(self._samples) > MOST:
            self._samples, self._gap_s = self._samples[::2], 2.0 * self._gap_s
