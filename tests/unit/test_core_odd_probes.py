"""Whatever a thermometer says, finite or not, old or broken: believed, or heat is withheld."""

import math
from itertools import product

import pytest

from controller.core.evidence import Evidence, ProbeEvidence, ProbeMemory, probe_evidence
from controller.core.interlocks import judge
from controller.core.signals import Fault, Reading
from tests.helpers.scene import evidence, machine, profile

NAN = math.nan
ODD_VALUES = (-math.inf, -300.0, -5.01, -5.0, 20.0, 40.0, 84.9, 85.0, 127.0, math.inf, NAN)
ODD_AGES = (0.0, 5.0, 5.01, 600.0, math.inf, NAN)


@pytest.mark.parametrize(
    ("value", "age_s", "fault"), list(product(ODD_VALUES, ODD_AGES, (Fault.NONE, Fault.CHECKSUM)))
)
@pytest.mark.parametrize("name", ["bath", "bowl"])
def test_whatever_a_probe_says_it_is_either_believed_or_withholds_heat(
    name: str, value: float, age_s: float, fault: Fault
) -> None:
    memory = ProbeMemory(value_c=40.0, code_c=40.0)
    _, seen = probe_evidence(memory, Reading(value, age_s, fault), 0.0, 10.0, 1.0)
    withheld = judge(
        (),
        evidence_of(name, seen),
        machine=machine(),
        profile=profile(),
        latched=frozenset(),
        now_s=10.0,
        dt_s=1.0,
    ).withheld
    is_sound = value == 40.0 and age_s <= 5.0 and fault is Fault.NONE
    assert math.isfinite(seen.value_c) == is_sound
    assert bool(withheld) != is_sound
    assert all(cause.startswith(name) for cause in withheld)


def evidence_of(name: str, seen: ProbeEvidence) -> Evidence:
    return evidence(bath=seen) if name == "bath" else evidence(bowl=seen)
