"""The pytest fixture that comes with bainward: run a profile on the bench from a test.

Responsible for finding files beside the test and for showing a failed test what its trials
measured; not for the trials (controller/trials). Imports ours only when a test asks for it, since
pytest loads this module in every run of every project.
"""

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from controller.trials import Outcome, Trial

SUFFIX = ".toml"


class TrialRunner:
    """Runs trials for one test."""

    def __init__(self, item: pytest.Item) -> None:
        """Serve the test `item`."""
        self._item = item

    def __call__(self, trial: "Trial") -> "Outcome":
        """Run it to its end. A relative path of a .toml file is looked up beside the test first.

        Raises:
            BainwardError: profile, machine or fault can't be used.
        """
        from dataclasses import replace  # noqa: PLC0415 - see the module's docstring

        from controller.core.profile import Profile  # noqa: PLC0415
        from controller.trials import run_trial  # noqa: PLC0415

        profile, machine = trial.profile, self._found(trial.machine)
        if not isinstance(profile, Profile):
            profile = self._found(profile)
        outcome = run_trial(replace(trial, profile=profile, machine=machine))
        self._item.add_report_section("call", "bainward trial", outcome.text())
        return outcome

    def _found(self, word: Path | str) -> Path | str:
        """The file beside the test if there is one, else the word as it is."""
        beside = self._item.path.parent / word
        return beside if str(word).endswith(SUFFIX) and beside.is_file() else word


@pytest.fixture
def bainward_trial(request: pytest.FixtureRequest) -> TrialRunner:
    """Run a profile on a machine of the bench: `bainward_trial(Trial(profile="mine.toml"))`."""
    return TrialRunner(request.node)
