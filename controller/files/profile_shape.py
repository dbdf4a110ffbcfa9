"""The tables of a profile file and how they become the core's profile.

Responsible for keys, single values and defaults; not for what they mean together (profile_rules).
"""

from typing import Annotated

from pydantic import Field

from controller.core.machine import Machine
from controller.core.profile import (
    Action,
    Choice,
    Kind,
    LateAction,
    Phase,
    PowerBack,
    Profile,
    Question,
    StopStirrer,
    Then,
    Verdict,
    When,
)
from controller.core.words import mass_text
from controller.files.shapes import (
    BathTemperature,
    BowlTemperature,
    Dwell,
    FileTable,
    Late,
    LostProbe,
    Rate,
    Sentence,
    Settle,
    Share,
    Speed,
    Table,
    Takes,
    Tolerance,
    Unanswered,
    Word,
)
from controller.files.temperatures import celsius_text

_MOST_PHASES = 12
_MOST_QUESTIONS = 8
_MOST_CHOICES = 6


class ChoiceTable(Table):
    """One `[[phase.question.choice]]`."""

    word: Word = Field(examples=['"done"'])
    adds_energy: bool = Field(examples=["false"])
    then: Then = Field(Then.CONTINUE, strict=False)
    verdict: Verdict = Field(Verdict.NONE, strict=False)
    at_machine: bool = False

    def core(self) -> Choice:
        """The core's choice."""
        return Choice(
            word=self.word,
            adds_energy=self.adds_energy,
            then=self.then,
            verdict=self.verdict,
            at_machine=self.at_machine,
        )


class QuestionTable(Table):
    """One `[[phase.question]]`."""

    id: Word = Field(examples=['"swap-water"'])
    text: Sentence = Field(examples=['"Swap {mass} of the bath water for cold water."'])
    when: When = Field(strict=False, examples=['"start"'])
    bowl: BowlTemperature | None = None
    action: Action = Field(Action.NONE, strict=False)
    share: Share | None = None
    water: BathTemperature | None = Field(None, examples=['"15 C"'])
    unanswered_after: Unanswered | None = None
    unanswered_choice: Word | None = None
    takes: Takes | None = None
    choice: Annotated[
        tuple[ChoiceTable, ...],
        Field(
            strict=False,
            min_length=1,
            max_length=_MOST_CHOICES,
            examples=["[[phase.question.choice]]"],
        ),
    ]

    def _filled_text(self, machine: Machine) -> str:
        """The question with its amounts, so that the cook has nothing to work out.

        That of a computed swap is filled in as it is put.
        """
        text = self.text
        if self.share is not None:
            whole_kg = machine.water_kg if self.action is Action.SWAP_WATER else machine.batch_kg
            text = text.replace("{mass}", mass_text(self.share * whole_kg))
        water_c = self._water_c(machine)
        if water_c is not None:
            both = (celsius_text(water_c, fahrenheit=unit) for unit in (False, True))
            text = text.replace("{water}", "{} ({})".format(*both))
        return text

    def _water_c(self, machine: Machine) -> float | None:
        """The water that a swap takes: the machine's cold water unless said otherwise."""
        is_left_out = self.water is None and self.action is Action.SWAP_WATER
        return machine.cold_water_c if is_left_out else self.water

    def core(self, machine: Machine) -> Question:
        """The core's question, with amounts for this machine."""
        return Question(
            id=self.id,
            text=self._filled_text(machine),
            when=self.when,
            bowl_c=self.bowl,
            choices=tuple(choice.core() for choice in self.choice),
            unanswered_s=self.unanswered_after,
            unanswered=self.unanswered_choice,
            action=self.action,
            share=self.share,
            water_c=self._water_c(machine),
            takes_s=self.takes,
        )


class PhaseTable(Table):
    """One `[[phase]]`."""

    name: Word = Field(examples=['"melt"'])
    bowl: BowlTemperature
    tolerance: Tolerance
    settle: Settle
    dwell: Dwell
    rate_limit: Rate | None = None
    warm_to: BowlTemperature | None = None
    bath_ceiling: BathTemperature
    bath_cut: BathTemperature = Field(examples=['"58 C"'])
    stirrer: Speed
    stir_from: BowlTemperature = Field(examples=['"32 C"'])
    pause_at: BowlTemperature | None = None
    late_after: Late
    late_action: LateAction = Field(strict=False, examples=['"warn"'])
    question: Annotated[
        tuple[QuestionTable, ...], Field(strict=False, max_length=_MOST_QUESTIONS)
    ] = ()

    def core(self, machine: Machine) -> Phase:
        """The core's phase, with amounts for this machine."""
        return Phase(
            name=self.name,
            bowl_target_c=self.bowl,
            tolerance_k=self.tolerance,
            settle_s=self.settle,
            dwell_s=self.dwell,
            rate_limit_k_per_min=self.rate_limit,
            warm_to_c=self.warm_to,
            bath_ceiling_c=self.bath_ceiling,
            bath_cut_c=self.bath_cut,
            stirrer_rpm=self.stirrer,
            stir_from_c=self.stir_from,
            pause_at_c=self.bowl if self.pause_at is None else self.pause_at,
            late_after_s=self.late_after,
            late_action=self.late_action,
            questions=tuple(question.core(machine) for question in self.question),
        )


class NeverAboveTable(Table):
    """`[never_above]`: the chocolate's own limits."""

    bowl: BowlTemperature = Field(examples=['"50 C"'])
    bath: BathTemperature


class OutcomeTable(Table):
    """`[outcome]`: what stop, a power failure and a lost probe mean."""

    stop_stirrer: StopStirrer = Field(strict=False, examples=['"keep"'])
    power_back: PowerBack = Field(strict=False, examples=['"ask"'])
    lost_probe_wait: LostProbe


class ProfileTable(FileTable):
    """A whole profile file."""

    name: Word
    title: Sentence = Field(examples=['"Dark chocolate"'])
    kind: Kind = Field(strict=False, examples=['"dark"'])
    source: Sentence = Field(examples=['"where the numbers come from"'])
    notes: Sentence = ""
    never_above: NeverAboveTable = Field(examples=["[never_above]"])
    outcome: OutcomeTable = Field(examples=["[outcome]"])
    phase: Annotated[
        tuple[PhaseTable, ...],
        Field(strict=False, min_length=1, max_length=_MOST_PHASES, examples=["[[phase]]"]),
    ]

    def core(self, machine: Machine) -> Profile:
        """The core's profile, with amounts for this machine."""
        return Profile(
            name=self.name,
            title=self.title,
            kind=self.kind,
            source=self.source,
            notes=self.notes,
            bowl_never_above_c=self.never_above.bowl,
            bath_never_above_c=self.never_above.bath,
            phases=tuple(phase.core(machine) for phase in self.phase),
            stop_stirrer=self.outcome.stop_stirrer,
            power_back=self.outcome.power_back,
            lost_probe_wait_s=self.outcome.lost_probe_wait,
        )
