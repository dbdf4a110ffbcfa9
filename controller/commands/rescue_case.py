"""What a rescue goes by: a batch, its chocolate's temperatures and the machine, put together.

Responsible for the shape and for a machine that nothing is known of but its file; not for what is
the matter (rescuing, rescue_record).
"""

from typing import NamedTuple

from controller.core.ahead import Batch, Kitchen, kitchen_of
from controller.core.batches import EVEN
from controller.core.chocolate import content_of
from controller.core.machine import Machine
from controller.core.mishaps import Window, melted, window_of
from controller.core.profile import Kind
from controller.core.thermal import begin, prior_of
from controller.files.profile_file import load_profile


class Case(NamedTuple):
    """All that a rescue goes by."""

    batch: Batch
    window: Window
    kitchen: Kitchen
    weights: tuple[float, ...]
    head: str  # what is the matter


def case_of(kind: Kind, machine: Machine) -> Case:
    """A melted batch at its working temperature, by the profile that ships for its kind.

    Raises:
        ProfileError: that profile can't be used on this machine.
    """
    profile = load_profile(str(kind), machine)
    window = window_of(profile, content_of(kind).softer_k)
    at_c = window.work_c
    belief = begin(prior_of(machine, kind, 1.0), at_c, at_c, has_melted=True)
    kitchen = kitchen_of(belief, machine, at_c)
    return Case(Batch(at_c, at_c, melted()), window, kitchen, EVEN, "")
