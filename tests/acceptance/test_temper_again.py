"""A run whose set test fails, on the bench: asked, answered, tempered again by its own phases."""

from dataclasses import replace
from pathlib import Path

from controller.core.going_back import BACK_ID, MELT_AGAIN
from controller.core.profile import Verdict
from controller.core.state import EventName
from controller.errors import Exit
from controller.ports import Moment, Question, Request, Verb
from controller.trials import Trial
from controller.trials.staging import staged
from controller.trials.trial import set_up
from controller.wiring import execute
from tests.helpers.runs import run_on_bench

GIVE_UP_S = 2.5 * 3600.0


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


class Follower:
    """A cook who does as asked, and a teller that notes the phases and how much warmer it was."""

    def __init__(self) -> None:
        """Nothing has begun."""
        self.phases: list[str] = []
        self.warmed_k = 0.0

    def take(self, now_s: float, ask: Question | None) -> tuple[Request, ...]:  # noqa: ARG002 - the Panel's contract
        """Melt it again whenever that is asked."""
        is_back = ask is not None and ask.id == BACK_ID
        answer = Request(verb=Verb.ANSWER, ask_id=BACK_ID, choice=MELT_AGAIN)
        return (answer,) if is_back else ()

    def tell(self, moment: Moment) -> None:
        """Note them."""
        self.warmed_k = max(self.warmed_k, moment.state.temper.warmed_k)
        for event in moment.events:
            if event.name is EventName.PHASE_ENTERED:
                self.phases.append(str(event.facts["phase"]))


def test_a_batch_that_was_held_warmer_for_its_thickness_can_be_melted_again() -> None:
    # Held as much over its target, melting would never come to its end.
    trial = Trial(
        profile="dark",
        machine="drawn-777-4",
        fitted=("load", "level", "shaft"),
        faults=("seed-early@hold+900s",),
        give_up_after_s=GIVE_UP_S,
    )
    stage, follower = set_up(trial), Follower()
    order = replace(stage.order, panels=(*stage.order.panels, follower), tellers=(follower,))
    execute(staged(order, stage.bench, stage.plans))
    assert follower.warmed_k > 0.5
    assert follower.phases[:8] == ["melt", "cool", "rewarm", "hold"] * 2
