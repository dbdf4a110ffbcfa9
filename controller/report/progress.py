"""How far a run is, for whoever watches the terminal.

Responsible for one live line and the milestones above it; not for the summary at the end.
"""

import math
from collections.abc import Callable
from contextlib import suppress
from typing import TextIO

from controller.core.alarms import notice_of
from controller.core.outlook import Obstacle
from controller.core.profile import Phase, Profile, Question
from controller.core.scales import retold
from controller.core.state import Event, EventName, Mode, State
from controller.core.switches import BY_SWITCH
from controller.core.words import (
    heat_after,
    heat_held,
    notice_sentence,
    obstacle_text,
    ready_text,
    shown_temperature,
    trip_sentence,
)
from controller.ports import Moment
from controller.report.words import clock_text, duration_text

REFRESH_S = 0.1  # own engineering value: faster than this nobody reads
ERASE = "\r\x1b[K"  # ECMA-48: to the line's start, erase to its end
COLUMNS = 100  # when nobody says how wide the terminal is
PERCENT = 100.0
AGAIN_S = 1800.0  # own choice: what lasts is said again so often


class ProgressLine:
    """Tells a stream where the run stands.

    On a terminal: one line refreshed in place, with phases, questions and trips staying above
    it. Into a pipe: those alone, as plain lines.
    """

    def __init__(
        self,
        stream: TextIO,
        *,
        profile: Profile,
        clock_s: Callable[[], float],
        live: bool | None = None,
        fahrenheit: bool = False,
        columns: int = COLUMNS,
        refresh_s: float = REFRESH_S,
    ) -> None:
        """Write to `stream`; `clock_s` is the process's clock and paces the live line.

        `refresh_s` is how often at most: seldom, where somebody types into the same line.

        `live` None asks the stream whether it is a terminal; `columns` is how wide it is.
        """
        self._stream = stream
        self._profile = profile
        self._clock_s = clock_s
        self._live = stream.isatty() if live is None else live
        self._fahrenheit = fahrenheit
        self._columns = columns
        self._refresh_s = refresh_s
        self._refreshed_s = float("-inf")
        self._phase = -1
        self._ask: Question | None = None
        self._trips = 0
        self._obstacle: tuple[Obstacle, float] = (Obstacle.NONE, math.nan)
        self._obstacle_s = -math.inf
        self._shown = False

    def tell(self, moment: Moment) -> None:
        """Print milestones, and refresh the live line when it is old enough."""
        state = moment.state
        progress = state.progress
        if (
            moment.events
            or progress.phase != self._phase
            or progress.ask is not self._ask
            or len(state.trips) != self._trips
            or self._is_in_the_way(state)
        ):
            self._milestones(state, moment.events)
        if self._live:
            self._refresh(state)

    def note(self, text: str, run_s: float) -> None:
        """Print a line that is no tick's, above the live one."""
        erase = ERASE if self._shown else ""
        said = retold(text, fahrenheit=self._fahrenheit)
        self._write(f"{erase}{clock_text(run_s)}  {said}\n")
        self._shown = False

    def finish(self) -> None:
        """Take the live line away, so that what follows starts on a clean line."""
        if self._shown:
            self._write(ERASE)
            self._shown = False

    def _milestones(self, state: State, events: tuple[Event, ...]) -> None:
        lines = [line for event in events if (line := _told(event, state))]
        if state.progress.phase != self._phase:
            lines.append(self._phase_text(self._profile.phases[state.progress.phase]))
        ask = state.progress.ask
        if ask is not None and ask is not self._ask:
            lines.append(_question_text(ask))
        if self._is_in_the_way(state):
            self._obstacle = (state.outlook.obstacle, state.outlook.obstacle_c)
            self._obstacle_s = state.run_s
            lines.append(obstacle_text(state.outlook, fahrenheit=self._fahrenheit))
        lines += [trip_sentence(trip, state.trips) for trip in state.trips[self._trips :]]
        self._phase, self._ask, self._trips = state.progress.phase, ask, len(state.trips)
        for line in lines:
            self.note(line, state.run_s)

    def _is_in_the_way(self, state: State) -> bool:
        """Whether something that keeps the run from getting ready wants to be said, again perhaps.

        A forecast that is no more than just impossible comes and goes with each look.
        """
        outlook = state.outlook
        if outlook.obstacle is Obstacle.NONE:
            return False
        is_other = (outlook.obstacle, outlook.obstacle_c) != self._obstacle
        return is_other or state.run_s - self._obstacle_s >= AGAIN_S

    def _phase_text(self, phase: Phase) -> str:
        target = shown_temperature(phase.bowl_target_c, fahrenheit=self._fahrenheit)
        return f"{phase.name}: bowl to {target}"

    def _refresh(self, state: State) -> None:
        now_s = self._clock_s()
        if now_s - self._refreshed_s < self._refresh_s:
            return
        self._refreshed_s = now_s
        line = retold(self._line(state), fahrenheit=self._fahrenheit)
        self._write(ERASE + line[: self._columns - 1])
        self._shown = True

    def _write(self, text: str) -> None:
        """Write what the stream can take. A screen that goes away never ends a batch."""
        try:
            self._stream.write(text)
        except UnicodeEncodeError:
            self._stream.write(text.encode("ascii", "replace").decode("ascii"))
        except OSError:
            return
        with suppress(OSError):
            self._stream.flush()

    def _line(self, state: State) -> str:
        phase = self._profile.phases[state.progress.phase]
        target = shown_temperature(phase.bowl_target_c, fahrenheit=self._fahrenheit)
        bath = shown_temperature(state.bath_c, fahrenheit=self._fahrenheit)
        return (
            f"{clock_text(state.run_s)}  {phase.name}  bowl {self._bowl(state.bowl_c)} → {target}"
            f"  bath {bath}  heat {state.regulation.duty * PERCENT:.0f} %  {_remark(state)}"
        ).rstrip()

    def _bowl(self, bowl_c: float) -> str:
        """The bowl's temperature without its unit, which stands behind the target."""
        return shown_temperature(bowl_c, fahrenheit=self._fahrenheit).split(" ")[0]


_MODES = {
    Mode.PAUSED: "paused: the bowl is kept warm and stirred until somebody resumes at the machine",
    Mode.RESUMING: "going on",
    Mode.STOPPED: "stopped: heat is off; the stirrer may keep a warm bowl from setting",
}


STOPPED_FOR_GOOD = "stopped: heat and stirrer are off"
_MARKS = {"high": "ALARM", "medium": "attention", "low": "note"}


def _advised(event: Event) -> str:
    """The line for advice, and for the answer to whoever wants to leave it."""
    facts = event.facts
    if event.name is EventName.ADVICE_OFFERED:
        return f"advice: {facts['advice']}"
    return f"may you leave it for {duration_text(float(facts['for_s']))}? {facts['answer']}"


def _declared(event: Event) -> str:
    """The line for what this machine can't see, or can't do about it."""
    facts = event.facts
    if "may_miss" in facts:
        return f"may go unseen: {facts['may_miss']} (`bainward check` says what to do)"
    if "means" in facts:
        return f"no {facts['not_fitted']}: {facts['means']}"
    return f"no {facts['not_fitted']}: {facts['unseen']} can't be seen"


def _seen(event: Event, run_s: float) -> str:
    """The line for an alarm that is no trip, for what can't be seen, and for time that is over."""
    facts = event.facts
    if event.name is EventName.QUESTION_TIMED:
        after = duration_text(float(facts["takes_s"]))
        return f"{after} are over: look now, and answer {facts['id']} [{facts['choices']}]"
    if event.name is EventName.BUTTON_PRESSED:
        return f"{facts['what']} {facts['action']}"
    if event.name is EventName.SIGHT_DECLARED:
        return _declared(event)
    if event.name in {EventName.ADVICE_OFFERED, EventName.LEAVE_JUDGED}:
        return _advised(event)
    if event.name is EventName.ALARM_RETURNED:
        return f"alarm over: {str(facts['cause']).replace('-', ' ')}"
    return f"{_MARKS[str(facts['priority'])]}: {notice_sentence(notice_of(facts, run_s))}"


def _told(event: Event, state: State) -> str | None:
    """The line for an event that nothing else shows, or None."""
    facts = event.facts
    match event.name:
        case EventName.MODE_CHANGED:
            mode = Mode(str(facts["after"]))
            by_button = mode is Mode.STOPPED and state.switches.is_pressed
            return STOPPED_FOR_GOOD if by_button else _MODES.get(mode)
        case EventName.REQUEST_REFUSED:
            return f"not done: {facts['verb']}, because {facts['reason']}"
        case EventName.DEED_ANNOUNCED:
            seen = " (seen by its switch)" if facts.get("by") == BY_SWITCH else ""
            return f"taken into account: {facts['deed']}{seen}"
        case (
            EventName.ALARM_RAISED
            | EventName.ALARM_RETURNED
            | EventName.BUTTON_PRESSED
            | EventName.SIGHT_DECLARED
            | EventName.QUESTION_TIMED
            | EventName.ADVICE_OFFERED
            | EventName.LEAVE_JUDGED
        ):
            return _seen(event, state.run_s)
        case EventName.PHASE_OVERRAN:
            ask = state.progress.ask
            end = "the run goes on" + (f" and waits for an answer: {ask.text}" if ask else "")
            if facts["action"] == "stop":
                end = "the run is stopped"
            return f"{facts['phase']} has taken longer than its profile allows; {end}"
        case _:
            return None


def _question_text(ask: Question) -> str:
    """The question with its choices."""
    return f"{ask.text} [{' / '.join(choice.word for choice in ask.choices)}]"


def _remark(state: State) -> str:
    """What wants to be known at once, the most pressing only."""
    if state.trips:
        now = heat_after(state.trips)
        return f"heat {now}: {state.trips[0].cause.replace('-', ' ')}"
    if state.progress.ask is not None:
        return f"waiting for you: {state.progress.ask.text}"
    if state.withheld:
        return f"heat {heat_held(state.withheld)}: {state.withheld[0].replace('-', ' ')}"
    return (
        ready_text(state.outlook, state.run_s) if state.mode is Mode.RUNNING else state.mode.value
    )
