"""The scripted cook: does what questions ask for and judges the set test by the truth.

Responsible for the cook's acts and answers; not for what the questions are.
"""

from collections.abc import Callable

from controller.ports import KIND_ID, Action, Choice, Kind, Question, Request, Source, Verb, Verdict
from hardware.bench.faults import Faults
from hardware.bench.plant import Plant
from hardware.bench.upsets import Part

MISTAKEN = {
    Verdict.IN_TEMPER: Verdict.NOT_IN_TEMPER,
    Verdict.NOT_IN_TEMPER: Verdict.IN_TEMPER,
    Verdict.NONE: Verdict.NONE,
}


class Cook:
    """Answers each opening of a question once, a while after it opened."""

    def __init__(
        self,
        *,
        plant: Plant,
        batch_kg: float,
        answer_after_s: float,
        judge: Callable[[], Verdict],
        faults: Faults,
        kind: Kind,
    ) -> None:
        """Stand by.

        Args:
            plant: What the cook's hands reach.
            batch_kg: The whole batch, of which seed is a share.
            answer_after_s: From the opening of a question to the deed and the answer.
            judge: What a set test would show now.
            faults: What the cook does wrong.
            kind: What is in the bowl.
        """
        self._plant = plant
        self._batch_kg = batch_kg
        self._answer_after_s = answer_after_s
        self._judge = judge
        self._faults = faults
        self._kind = kind
        self._open_id: str | None = None
        self._opened_s = 0.0
        self._done = False

    def take(self, now_s: float, ask: Question | None) -> tuple[Request, ...]:
        """The answer to the open question, once it is due."""
        self._notice(now_s, ask)
        if ask is None or self._done:
            return ()
        # Whoever has just started a run stands there, with the packet.
        after_s = 0.0 if ask.id == KIND_ID else self._answer_after_s
        if now_s - self._opened_s < self._faults.altered(Part.ANSWERING, after_s):
            return ()
        self._done = True
        self._plant.advance(now_s)
        self._act(ask)
        choice = self._choose(ask)
        if choice is None:
            return ()
        return (Request(verb=Verb.ANSWER, source=Source.LOCAL, ask_id=ask.id, choice=choice.word),)

    def _notice(self, now_s: float, ask: Question | None) -> None:
        """See whether another question has opened."""
        open_id = None if ask is None else ask.id
        if open_id != self._open_id:
            self._open_id, self._opened_s, self._done = open_id, now_s, False

    def _act(self, ask: Question) -> None:
        """Do with the hands what the question asks for."""
        if ask.share is None:
            return
        if ask.action is Action.SWAP_WATER and ask.water_c is not None:
            share = ask.share
            if ask.mass_kg is not None:  # weighed out, of what is really in the pot
                water_kg = self._plant.water_kg  # none, once it has run dry: nothing to swap
                share = min(1.0, ask.mass_kg / water_kg) if water_kg > 0.0 else 0.0
            share = self._faults.altered(Part.SWAPPING, share)
            if share > 0.0:
                self._plant.swap_water(share=share, water_c=ask.water_c)
        elif ask.action is Action.ADD_SEED:
            share = self._faults.altered(Part.SEEDING, ask.share)
            if share > 0.0:
                self._plant.add_seed(share * self._batch_kg)

    def _choose(self, ask: Question) -> Choice | None:
        """The first choice; after a set test the first that says what was seen, or none.

        Of what is in the bowl the truth.
        """
        if ask.id == KIND_ID:
            return next((choice for choice in ask.choices if choice.word == self._kind), None)
        if ask.action is not Action.SET_TEST:
            return ask.choices[0]
        seen = self._judge()
        if self._faults.altered(Part.CHOOSING, 0.0):
            seen = MISTAKEN[seen]
        return next((choice for choice in ask.choices if choice.verdict is seen), None)
