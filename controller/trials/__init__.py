"""Trials: a profile run on a machine of the bench, with faults, in simulated time, for tests.

Responsible for the public names of whoever tests a profile; profiles/README.md shows their use.
"""

from controller.trials.outcome import Outcome, PhaseTime, TripTime
from controller.trials.trial import Trial, run_trial

__all__ = ["Outcome", "PhaseTime", "Trial", "TripTime", "run_trial"]
