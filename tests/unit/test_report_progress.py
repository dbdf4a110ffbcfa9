"""What the terminal and a pipe see while a run goes on."""

import io
import math

import pytest

from controller.core.outlook import Obstacle, Outlook
from controller.core.reasons import fate, why
from controller.core.state import Event, EventName, Mode, Trip
from controller.ports import Moment
from controller.report.progress import ERASE, ProgressLine
from tests.helpers.batch import a_moment, a_profile, a_question, an_event, in_trouble
from tests.helpers.records import replace

LEVEL = Trip(
    cause="level-lost", at_s=3.0, what="The water is low.", action="Fill it up, then start again."
)


class HandClock:
    """A process clock moved by hand."""

    def __init__(self) -> None:
        """Begin at an odd moment."""
        self.now_s = 7.0

    def __call__(self) -> float:
        """Give the time."""
        return self.now_s


class Screen(io.StringIO):
    """A stream that is a terminal."""

    def isatty(self) -> bool:
        """Say yes."""
        return True


def piped(*, fahrenheit: bool = False) -> tuple[ProgressLine, io.StringIO]:
    """Progress into a pipe, which is what the stream itself says it is."""
    stream = io.StringIO()
    line = ProgressLine(stream, profile=a_profile(), clock_s=HandClock(), fahrenheit=fahrenheit)
    return line, stream


def on_screen(*, columns: int = 100) -> tuple[ProgressLine, Screen, HandClock]:
    """Progress on a terminal."""
    stream, clock = Screen(), HandClock()
    line = ProgressLine(stream, profile=a_profile(), clock_s=clock, columns=columns)
    return line, stream, clock


def last_line(stream: io.StringIO) -> str:
    """What stands in the live line now."""
    return stream.getvalue().rsplit(ERASE, 1)[-1]


def test_a_pipe_gets_one_line_for_each_phase_and_nothing_else() -> None:
    line, stream = piped()
    for run_s in range(100):
        line.tell(a_moment(float(run_s), phase=0 if run_s < 62 else 1))
    line.finish()
    assert stream.getvalue() == "0:00:00  melt: bowl to 46.0 °C\n0:01:02  cool: bowl to 27.0 °C\n"


def test_a_pipe_gets_each_question_once_with_its_choices() -> None:
    line, stream = piped()
    line.tell(a_moment(0.0))
    ask = a_question()
    for run_s in (1.0, 2.0):
        line.tell(a_moment(run_s, ask=ask))
    line.tell(a_moment(3.0))
    line.tell(a_moment(4.0, ask=a_question("again")))
    asked = "Swap 1.5 kg of the water for cold water. [done / no water]\n"
    assert stream.getvalue().splitlines(keepends=True)[1:] == [
        f"0:00:01  {asked}",
        f"0:00:04  {asked}",
    ]


def test_a_pipe_gets_each_trip_once_with_what_to_do() -> None:
    line, stream = piped()
    kept = fate("level-lost")
    line.tell(a_moment(0.0))
    for run_s in (3.0, 4.0):
        line.tell(in_trouble(a_moment(run_s, mode=Mode.ABORTED), trips=(LEVEL,)))
    assert stream.getvalue().splitlines()[1:] == [
        f"0:00:03  Heat is off. The water is low. {why('level-lost')} {LEVEL.action} {kept}"
    ]


def test_a_pipe_is_in_fahrenheit_if_asked() -> None:
    line, stream = piped(fahrenheit=True)
    line.tell(a_moment(0.0))
    assert stream.getvalue() == "0:00:00  melt: bowl to 114.8 °F\n"


def test_what_it_advises_and_asks_is_in_fahrenheit_if_asked() -> None:
    line, stream = piped(fahrenheit=True)
    advice = "Stir in melt of 40 °C; 0.5 K warmer is too much."
    offered = an_event(EventName.ADVICE_OFFERED, matter="top-up", advice=advice)
    ask = replace(a_question(), text="Swap 1.5 kg for water at 15.0 °C (59.0 °F).")
    line.tell(a_moment(0.0, ask=ask, events=(offered,)))
    assert stream.getvalue().splitlines() == [
        "0:00:00  advice: Stir in melt of 104 °F; 0.9 °F warmer is too much.",
        "0:00:00  melt: bowl to 114.8 °F",
        "0:00:00  Swap 1.5 kg for water at 59.0 °F. [done / no water]",
    ]


def test_a_terminal_shows_where_the_run_stands_in_one_line() -> None:
    line, stream, _ = on_screen()
    line.tell(a_moment(3723.0, phase=2, bowl_c=30.84))
    assert last_line(stream) == "1:02:03  rewarm  bowl 30.8 → 31.5 °C  bath 31.6 °C  heat 12 %"


def test_the_live_line_is_in_fahrenheit_if_asked() -> None:
    stream = Screen()
    line = ProgressLine(stream, profile=a_profile(), clock_s=HandClock(), fahrenheit=True)
    line.tell(a_moment(0.0, bowl_c=40.0))
    assert "bowl 104.0 → 114.8 °F" in last_line(stream)


def test_a_bowl_that_is_not_known_is_said_to_be_so() -> None:
    line, stream, _ = on_screen()
    line.tell(a_moment(0.0, bowl_c=math.nan))
    assert "bowl unknown → 46.0 °C  bath unknown" in last_line(stream)


def test_the_live_line_is_refreshed_ten_times_a_second_at_most() -> None:
    line, stream, clock = on_screen()
    for tick in range(1000):
        clock.now_s = 7.0 + tick / 1000.0
        line.tell(a_moment(float(tick)))
    assert stream.getvalue().count(ERASE) == 10


def test_milestones_stay_above_the_live_line() -> None:
    line, stream, clock = on_screen()
    line.tell(a_moment(0.0))
    clock.now_s += 1.0
    line.tell(a_moment(1.0, phase=1))
    first, second, live = stream.getvalue().split("\n")
    assert first == "0:00:00  melt: bowl to 46.0 °C"
    assert second.endswith(f"{ERASE}0:00:01  cool: bowl to 27.0 °C")
    assert live.startswith(f"{ERASE}0:00:01  cool")


def test_the_live_line_never_wraps() -> None:
    line, stream, _ = on_screen(columns=40)
    line.tell(a_moment(0.0, ask=a_question()))
    assert len(last_line(stream)) == 39


def test_finishing_takes_the_live_line_away_once() -> None:
    line, stream, _ = on_screen()
    line.finish()
    assert stream.getvalue() == ""
    line.tell(a_moment(0.0))
    line.finish()
    line.finish()
    assert stream.getvalue().endswith(f"heat 12 %{ERASE}")


@pytest.mark.parametrize(
    ("moment", "remark"),
    [
        (a_moment(0.0), "heat 12 %"),
        (a_moment(0.0, mode=Mode.PAUSED), "heat 12 %  paused"),
        (in_trouble(a_moment(0.0), withheld=("bath-probe-stale",)), "held back: bath probe stale"),
        (a_moment(0.0, ask=a_question()), "waiting for you: Swap 1.5 kg of the water for"),
        (in_trouble(a_moment(0.0, ask=a_question()), trips=(LEVEL,)), "heat is off: level lost"),
    ],
)
def test_the_most_pressing_matter_stands_at_the_end(moment: Moment, remark: str) -> None:
    line, stream, _ = on_screen(columns=200)
    line.tell(moment)
    assert remark in last_line(stream)


class Broken(Screen):
    """A terminal that fails, at once or when flushed."""

    def __init__(self, *, at_once: bool) -> None:
        """Fail on write, or on flush only."""
        super().__init__()
        self.at_once = at_once

    def write(self, text: str) -> int:
        """Fail if at once."""
        if self.at_once:
            raise BrokenPipeError
        return super().write(text)

    def flush(self) -> None:
        """Fail always."""
        raise BrokenPipeError


@pytest.mark.parametrize("at_once", [True, False])
def test_a_screen_that_goes_away_does_not_end_the_run(*, at_once: bool) -> None:
    stream = Broken(at_once=at_once)
    line = ProgressLine(stream, profile=a_profile(), clock_s=HandClock())
    line.tell(a_moment(0.0))
    line.finish()
    assert (stream.getvalue() == "") is at_once


def test_a_terminal_without_our_signs_shows_question_marks() -> None:
    data = io.BytesIO()
    stream = io.TextIOWrapper(data, encoding="ascii")
    line = ProgressLine(stream, profile=a_profile(), clock_s=HandClock(), live=True)
    line.tell(a_moment(0.0, bowl_c=45.5))
    assert b"bowl 45.5 ? 46.0 ?C" in data.getvalue()


@pytest.mark.parametrize(
    ("priority", "held", "said"),
    [
        ("high", True, "ALARM: Heat is held back. The lid is open."),
        ("medium", True, "attention: Heat is held back. The lid is open."),
        ("low", False, "note: The lid is open."),
    ],
)
def test_an_alarm_is_one_line_with_mark_what_why_and_what_to_do(
    priority: str, *, held: bool, said: str
) -> None:
    progress, stream = piped()
    raised = Event(
        name=EventName.ALARM_RAISED,
        facts={
            "cause": "lid-open",
            "priority": priority,
            "what": "The lid is open.",
            "why": "The bath dries.",
            "action": "Close it.",
            "heat_withheld": held,
        },
    )
    progress.tell(a_moment(1.0, events=(raised,)))
    assert stream.getvalue().splitlines()[0] == f"0:00:01  {said} The bath dries. Close it."


@pytest.mark.parametrize(
    ("event", "line"),
    [
        (
            an_event(EventName.SIGHT_DECLARED, not_fitted="level switch", unseen="lost water"),
            "0:00:01  no level switch: lost water can't be seen",
        ),
        (
            an_event(EventName.SIGHT_DECLARED, not_fitted="second switch", means="it boils"),
            "0:00:01  no second switch: it boils",
        ),
        (
            an_event(EventName.SIGHT_DECLARED, may_miss="a lid that is off"),
            "may go unseen: a lid that is off (`bainward check` says what to do)",
        ),
        (
            an_event(EventName.MODE_CHANGED, before="pausing", after="paused"),
            "paused: the bowl is kept warm",
        ),
        (an_event(EventName.MODE_CHANGED, before="stopping", after="stopped"), "heat is off"),
        (
            an_event(EventName.REQUEST_REFUSED, verb="resume", source="link", reason="it is so"),
            "not done: resume, because it is so",
        ),
        (
            an_event(EventName.PHASE_OVERRAN, phase="hold", action="stop", bowl_c=31.0),
            "hold has taken longer than its profile allows; the run is stopped",
        ),
        (
            an_event(EventName.PHASE_OVERRAN, phase="cool", action="warn", bowl_c=31.0),
            "the run goes on",
        ),
        (
            Event(
                name=EventName.QUESTION_TIMED,
                facts={"id": "set-test", "takes_s": 300.0, "choices": "clean, streaked"},
            ),
            "5 min are over: look now, and answer set-test [clean, streaked]",
        ),
        (
            Event(
                name=EventName.ADVICE_OFFERED,
                facts={"matter": "rescue", "advice": "Add seed (10 min, 30 g)."},
            ),
            "advice: Add seed (10 min, 30 g).",
        ),
        (
            Event(
                name=EventName.LEAVE_JUDGED,
                facts={"for_s": 1200.0, "by": "local", "may": "no", "answer": "No. It waits."},
            ),
            "may you leave it for 20 min? No. It waits.",
        ),
    ],
)
def test_what_nothing_else_shows_is_a_line_of_its_own(event: Event, line: str) -> None:
    progress, stream = piped()
    progress.tell(a_moment(1.0, events=(event,)))
    assert line in stream.getvalue()


def test_a_phase_that_is_late_for_want_of_an_answer_says_so() -> None:
    progress, stream = piped()
    for action in ("warn", "stop"):
        late = an_event(EventName.PHASE_OVERRAN, phase="cool", action=action, bowl_c=31.0)
        progress.tell(a_moment(1.0, events=(late,), ask=a_question()))
    assert "the run goes on and waits for an answer: Swap" in stream.getvalue()
    assert "the run is stopped\n" in stream.getvalue()


def test_events_that_are_shown_otherwise_add_no_line() -> None:
    progress, stream = piped()
    progress.tell(a_moment(1.0))
    before = stream.getvalue()
    progress.tell(a_moment(2.0, events=(an_event(EventName.HEAT_PERMITTED, causes=""),)))
    assert stream.getvalue() == before


def test_a_line_that_somebody_types_into_is_refreshed_seldom() -> None:
    stream, clock = Screen(), HandClock()
    progress = ProgressLine(stream, profile=a_profile(), clock_s=clock, refresh_s=10.0)
    progress.tell(a_moment(1.0))
    shown = stream.getvalue()
    clock.now_s += 9.9
    progress.tell(a_moment(2.0))
    assert stream.getvalue() == shown
    clock.now_s += 0.2
    progress.tell(a_moment(3.0))
    assert stream.getvalue() != shown


def with_outlook(run_s: float, outlook: Outlook) -> Moment:
    """A plain tick with this outlook."""
    given = a_moment(run_s)
    return replace(given, state=replace(given.state, outlook=outlook))


def test_the_live_line_ends_with_when_the_chocolate_will_be_ready() -> None:
    line, stream, _ = on_screen()
    line.tell(with_outlook(600.0, Outlook(early_s=3000.0, likely_s=3600.0, late_s=4800.0)))
    assert last_line(stream).endswith("ready in 50 min (40 to 70)")


def test_what_can_not_be_reached_is_said_once_as_soon_as_it_is_known() -> None:
    line, stream = piped(fahrenheit=True)
    room = Outlook(obstacle=Obstacle.ROOM, obstacle_c=27.0, room_c=30.0)
    line.tell(a_moment(0.0))
    for run_s in range(1, 5):
        line.tell(with_outlook(float(run_s), room))
    line.tell(a_moment(5.0))
    line.tell(with_outlook(6.0, room))  # at the edge of what can be, it comes and goes
    told = [row for row in stream.getvalue().splitlines() if "can't be reached" in row]
    assert len(told) == 1
    assert told[0].startswith(
        "0:00:01  80.6 °F can't be reached by waiting in a room of 86.0 °F with"
    )


def test_what_lasts_is_said_again_in_half_an_hour_and_another_target_at_once() -> None:
    line, stream = piped()
    room = Outlook(obstacle=Obstacle.ROOM, obstacle_c=27.0, room_c=30.0)
    line.tell(a_moment(0.0))
    for run_s, outlook in (
        (1.0, room),
        (1799.0, room),
        (1801.0, room),
        (1802.0, replace(room, obstacle_c=28.0)),
        (1803.0, replace(room, obstacle=Obstacle.TIME)),
    ):
        line.tell(with_outlook(run_s, outlook))
    told = [row.partition("  ") for row in stream.getvalue().splitlines() if "reached" in row]
    assert [(at, what[:7]) for at, _, what in told] == [
        ("0:00:01", "27.0 °C"),
        ("0:30:01", "27.0 °C"),
        ("0:30:02", "28.0 °C"),
        ("0:30:03", "27.0 °C"),
    ]
