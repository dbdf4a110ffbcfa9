"""All that can be wrong with a machine or its steps, each with its sentence.

Responsible for the whole table; not for the stage (steps) or for what a defect blocks
(tests/acceptance/test_defects_of_steps).
"""

from tests.helpers.defects_cold import COLD
from tests.helpers.defects_of_proofs import KEPT
from tests.helpers.defects_with_water import WATER

DEFECTS = {**COLD, **KEPT, **WATER}
assert len(DEFECTS) == len(COLD) + len(KEPT) + len(WATER)
