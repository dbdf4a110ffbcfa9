"""A run whose set test fails, on the bench: asked, answered, tempered again by its own phases."""

from pathlib import Path

from controller.core.going_back import BACK_ID, MELT_AGAIN
from controller.core.profile import Verdict
from controller.errors import Exit
from controller.ports import Question, Request, Verb
from tests.helpers.runs import run_on_bench


class Doubter:
    """A cook who finds the first smear streaked, and has the batch melted again."""

    def __init__(self) -> None:
        """Nothing tested yet."""
        self.tests = 0

    def take(self, now_s: float, ask: Question | None) -> tuple[Request, ...]:  # noqa: ARG002 - the Panel's contract
        """Answer at once what the scripted cook would answer otherwise."""
        if ask is not None and ask.id == "set-test" and not self.tests:
            self.tests += 1
            return (Request(verb=Verb.ANSWER, ask_id=ask.id, choice="streaked"),)
        if ask is not None and ask.id == BACK_ID:
            return (Request(verb=Verb.ANSWER, ask_id=ask.id, choice=MELT_AGAIN),)
        return ()


def test_a_batch_that_failed_its_set_test_is_melted_again_and_ends_in_temper(
    tmp_path: Path,
) -> None:
    done = run_on_bench("dark", tmp_path, machine="brisk", panels=(Doubter(),))
    phases = [one.facts["phase"] for one in done.record.events if one.name == "phase_entered"]
    assert phases == ["melt", "cool", "rewarm", "hold"] * 2
    assert done.causes == []
    assert done.result.state.progress.verdict is Verdict.IN_TEMPER
    assert done.record.closing is not None
    assert done.record.closing.outcome == Exit.DONE.word
    # What was said on the way is in the record.
    (advice,) = [one for one in done.record.events if one.name == "advice_offered"]
    assert "Melt all of it" in str(advice.facts["advice"])
