"""The demo's main scene: a planned afternoon, told as it goes, and the page of its batch.

Responsible for the plan's words, the story that is printed and the page; not for what the cook does
(trials/afternoon).
"""

import math
import sys
import textwrap
import webbrowser
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec

from controller.book.besides import deed_text
from controller.book.finishing import Room
from controller.book.notes import Notes, change_notes
from controller.book.story import sentences, tell
from controller.clock import wall_time
from controller.commands.booking import note_room, write_page
from controller.commands.planning import hours_of
from controller.core.alarms import notice_of
from controller.core.profile import Profile
from controller.core.scales import retold
from controller.core.state import Event, EventName, Mode, State
from controller.core.tempering import Temper
from controller.core.words import keeps_text, notice_sentence, ready_text, shown_temperature
from controller.errors import AccessError, Exit
from controller.files.plan_file import load_plan_file
from controller.files.profile_file import load_profile
from controller.journal.reader import read_run
from controller.planning.plan import Plan, carrying, machine_for, plan_of
from controller.planning.sheet import Hours, sheet
from controller.planning.wish import wish_of
from controller.ports import Moment
from controller.report.words import duration_text
from controller.trials.afternoon import Afternoon, spent
from controller.trials.trap import example
from controller.wiring import machine_meant

if TYPE_CHECKING:
    from collections.abc import Callable

PLAN, PROFILE = "afternoon-plan", "egg-and-sticks"
BY = "15:00"
MADE = "a hollow egg and 48 candied-peel sticks"
MACHINE = "reference"
INTRODUCTION = """\
A simulated afternoon. The cook is scripted and the kitchen is the bench's, at 27 °C (81 °F), 72 %
and 850 m; plan, run and page are the real ones."""
NINE = 9  # in the morning the cook plans the afternoon
LEAST_K = 0.05  # a step of warmth is more
LATE_S = 300.0  # an answer that takes longer is worth a word
WIDTH, INDENT = 88, 7
_SHOWN = {"Chocolate": 4, "Seed": 2, "Hours": 2, "Room": 3}  # the sheet's parts, so many lines each


def play(record: Path, page: Path, *, is_open: bool, fahrenheit: bool) -> Exit:
    """The whole scene.

    Raises:
        BainwardError: record or page can't be written, or the program failed.
    """
    morning = (wall_time() - timedelta(days=1)).astimezone().replace(hour=NINE, minute=0, second=0)
    plan, hours, profile, afternoon = _planned(record, morning)
    _print_plan(plan, hours, fahrenheit=fahrenheit)
    began = datetime.fromisoformat(afternoon.began_utc).astimezone()
    result, topped_up_kg = spent(afternoon, (Narrator(profile, began, fahrenheit=fahrenheit),))
    if result.journal_failure is not None:
        raise AccessError(
            f"The record {record} breaks off ({result.journal_failure}); free the disk, or name "
            "another folder with --journal-dir."
        )
    room = Room(room_c=afternoon.room_c, humidity=afternoon.humidity)
    note_room(record, room)
    notes = change_notes(record, lambda notes: _noted(notes, plan, topped_up_kg))
    write_page(record, page, room, fahrenheit=fahrenheit)
    told = tell(read_run(record), notes, fahrenheit=fahrenheit)
    _say("", " ".join(list(sentences(told))[:3]))
    sys.stdout.write(f"\nRecord: {record}\nPage: {page}\n{shown(page, is_open=is_open)}")
    return result.outcome


def shown(page: Path, *, is_open: bool) -> str:
    """Open the page if that was asked for; what to say of it."""
    if is_open and webbrowser.open(page.absolute().as_uri()):
        return ""
    lacks = "No browser could be started here. " if is_open else ""
    more = "" if is_open else " (or add --open)"
    return f"{lacks}Open the page in a browser{more}: it tells the batch by itself.\n"


def _planned(record: Path, morning: datetime) -> tuple[Plan, Hours, Profile, Afternoon]:
    """The plan, as `bainward plan` makes it, and the afternoon that follows from it."""
    file = load_plan_file(example(PLAN))
    machine_file = machine_meant(MACHINE)
    usual = machine_file.machine
    wish = wish_of(file.told, file.makes, usual)
    profile = load_profile(file.orders["profile"], carrying(wish, usual))
    machine = machine_for(wish, usual)
    plan = plan_of(wish, profile, machine, usual.batch_kg)
    hours = hours_of({"by": BY}, plan, morning)
    done = morning.replace(hour=int(BY[:2]))
    began = done - timedelta(seconds=plan.done_p90_s)
    afternoon = Afternoon(
        profile=profile,
        machine=machine,
        machine_file=machine_file,
        room_c=wish.room_c,
        humidity=wish.humidity,
        record=record,
        began_utc=began.isoformat(timespec="seconds"),
    )
    return plan, hours, profile, afternoon


def _print_plan(plan: Plan, hours: Hours, *, fahrenheit: bool) -> None:
    """The first sentences of the sheet's parts."""
    head, *lines = sheet(plan, hours, fahrenheit=fahrenheit).splitlines()
    introduction = retold(INTRODUCTION, fahrenheit=fahrenheit)
    sys.stdout.write(f"{introduction}\n\n{head}\n\n")
    part, shown, is_enough = "", 0, False
    for line in lines:
        if line and not line.startswith(" "):
            part, shown, is_enough = line.split()[0], 0, False
        shown += 1
        if part in _SHOWN and not is_enough:
            sys.stdout.write(f"{line}\n")
        is_sentence = line.endswith((".", ")"))
        is_enough = is_enough or (shown >= _SHOWN.get(part, 0) and is_sentence)
    units = " --units F" if fahrenheit else ""
    sys.stdout.write(f"  (in short; all of it: bainward plan {example(PLAN)}{units})\n\n")


def _noted(notes: Notes, plan: Plan, top_up_kg: float) -> Notes:
    """What a cook would note that evening."""
    left_kg = plan.batch_kg + top_up_kg - sum(use.takes_kg for use in plan.wish.uses)
    return msgspec.structs.replace(notes, made=MADE, left_kg=round(left_kg, 2))


def _say(clock: str, text: str) -> None:
    sys.stdout.write(
        textwrap.fill(f"{clock:{INDENT}}{text}", WIDTH, subsequent_indent=" " * INDENT) + "\n"
    )
    sys.stdout.flush()


class Narrator:
    """Tells the run on the kitchen's clock."""

    def __init__(self, profile: Profile, began: datetime, *, fahrenheit: bool) -> None:
        """Begin with the run."""
        self._profile, self._began, self._fahrenheit = profile, began, fahrenheit
        self._asked_s = 0.0
        self._warmed_k = 0.0
        self._is_ready = False
        self._teller: dict[EventName, Callable[[Event, State], str]] = {
            EventName.PHASE_ENTERED: self._phase,
            EventName.QUESTION_ASKED: self._question,
            EventName.QUESTION_ANSWERED: self._answer,
            EventName.DEED_ANNOUNCED: self._deed,
            EventName.ALARM_RAISED: self._alarm,
            EventName.ADVICE_OFFERED: self._advice,
            EventName.MODE_CHANGED: self._end,
        }

    def tell(self, moment: Moment) -> None:
        """A line for what happened, and for what the chocolate does."""
        state = moment.state
        self._line(state, self._ready(state))
        self._line(state, self._thickening(state))
        for event in moment.events:
            known = self._teller.get(event.name)
            self._line(state, known(event, state) if known else "")

    def _line(self, state: State, text: str) -> None:
        if text:
            clock = f"{self._began + timedelta(seconds=state.run_s):%H:%M}"
            _say(clock, retold(text, fahrenheit=self._fahrenheit))

    def _shown(self, value_c: float) -> str:
        return shown_temperature(value_c, fahrenheit=self._fahrenheit)

    def _phase(self, event: Event, state: State) -> str:
        ready = ready_text(state.outlook, state.run_s)
        target = self._shown(float(event.facts["bowl_target_c"]))
        return (
            f"{str(event.facts['phase']).capitalize()}: bowl to {target}{ready and f'; {ready}'}."
        )

    def _question(self, event: Event, state: State) -> str:
        self._asked_s = state.run_s
        return "" if event.facts["id"] == "kind" else f"It asks: {event.facts['text']}"

    def _answer(self, event: Event, state: State) -> str:
        if event.facts["id"] == "kind":
            return ""
        took_s = state.run_s - self._asked_s
        word = str(event.facts["choice"]).replace("-", " ")
        said = f'You answer "{word}" after {duration_text(took_s)}'
        if took_s > LATE_S and event.facts["action"] != "set-test":
            return (
                f"{said}: somebody was at the door. Meanwhile the bowl waited, stirred, at "
                f"{self._shown(state.bowl_c)}, and nothing was guessed."
            )
        return f"{said}."

    def _deed(self, event: Event, state: State) -> str:
        del state
        deed = deed_text(str(event.facts["deed"]), fahrenheit=self._fahrenheit)
        return f"You {deed} and told it so: it reckons with that."

    def _alarm(self, event: Event, state: State) -> str:
        return f"It says: {notice_sentence(notice_of(event.facts, state.run_s))}"

    def _advice(self, event: Event, state: State) -> str:
        del state
        return f"It advises: {event.facts['advice']}"

    def _end(self, event: Event, state: State) -> str:
        del state
        return "Finished; heat is off." if event.facts["after"] == Mode.COMPLETE else ""

    def _ready(self, state: State) -> str:
        """Once."""
        if self._is_ready or not state.outlook.is_ready:
            return ""
        self._is_ready = True
        return f"Ready, at {self._shown(state.bowl_c)}."

    def _thickening(self, state: State) -> str:
        """Each time that the run holds it warmer."""
        temper, before_k = state.temper, self._warmed_k
        self._warmed_k = temper.warmed_k
        if not temper.warmed_k > before_k + LEAST_K:
            return ""
        now = f"about {100.0 * temper.form_v[1]:.1f} % of its fat is good crystals by now"
        keeps = keeps_text(temper, state.run_s) if math.isfinite(temper.keeps_s[0]) else ""
        still = "still in temper" if temper.verdict is Temper.IN_TEMPER else "nearly too much"
        return (
            f"It thickens: {now}, {still}{keeps}. The run holds it {temper.warmed_k:.1f} K warmer."
        )
